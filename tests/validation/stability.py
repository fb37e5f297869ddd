"""Do congruency tests err, and find, as often as they claim? Two surveys of one plan.

    python tests/validation/stability.py [PAIRS [EXAMPLE ...]]

Off by default: takes minutes. Each pair is two surveys of an example job, noise drawn
as its tables state it, each adjusted by itself as a user's would be. Without movement
the shape must fail in 5 % of them (to 1 %); with one mark moved, in the direction in
which it hides best, by the least movement that the tool claims to see, in 80 %; and it
must be the moved mark that is named. Without EXAMPLE all are run and STABILITY.md is
written; the exit code is 1 if a line differs by more than chance allows.
"""

import runpy
import sys
from pathlib import Path

import numpy as np

from brasscap.adjust import estimate
from brasscap.adjust.follow.stability import stability
from brasscap.networks.simulate import simulate

HERE = Path(__file__).parent
MAKERS = runpy.run_path(str(HERE.parent / "make_examples"))


def surveyed(plan, seed, truth=None):
    return estimate(simulate(plan, seed=seed, truth=truth), "minimal")


def compared(plan, pair, truth=None):
    """Return plan and height of two surveys; marks may move before the second."""
    first, second = surveyed(plan, 2 * pair), surveyed(plan, 2 * pair + 1, truth)
    return {part.part: part for part in stability(first, second).parts}


def hiding(part, which):
    """Return the direction in which a mark hides best: weakest in the weight."""
    _, ways = np.linalg.eigh(part.together.weight[which, :, which])
    return ways[:, 0]


def moved(plan, part, which, size):
    """Return true positions with one mark moved."""
    shift = np.zeros(3)
    slots = slice(0, 2) if part.part == "plan" else slice(2, 3)
    shift[slots] = size * hiding(part, which)
    truth = plan.marks.approximate.copy()
    at = plan.marks.name.index(part.marks[which].station)
    truth[at] += plan.frame.axes(truth[at : at + 1])[0].T @ shift
    return truth


def middling(part):
    """Return the stable mark whose least movement is the middle one of all."""
    least = np.array([mark.least for mark in part.marks])
    return int(np.argsort(np.where(np.isnan(least), np.inf, least))[
        np.isfinite(least).sum() // 2
    ])  # fmt: skip


def lines(name, pairs):
    """Return (what, claimed, counted, allowed) of one example."""
    plan = MAKERS["planned"](name)
    made = []
    clean = [compared(plan, pair) for pair in range(pairs)]
    for part in clean[0].values():
        alarms = np.mean([one[part.part].together.verdict == "fails" for one in clean])
        spread = 3 * np.sqrt(0.05 * 0.95 / pairs)
        made.append((f"{part.part}: nothing moved, shape fails", 0.05, alarms, spread))
        quiet = next(o[part.part] for o in clean if not o[part.part].steps)
        which = middling(quiet)
        least, station = quiet.marks[which].least, quiet.marks[which].station
        for factor in (1.0, 2.0):
            truth = moved(plan, quiet, which, factor * least)
            after = [compared(plan, pair, truth)[part.part] for pair in range(pairs)]
            seen = np.mean([one.together.verdict == "fails" for one in after])
            what = f"{part.part}: {station} moved by {1000 * factor * least:.1f} mm"
            if factor == 1.0:
                spread = 3 * np.sqrt(0.8 * 0.2 / pairs)
                made.append((f"{what}, shape fails", 0.80, seen, spread))
            named = [
                one.steps and station in (one.steps[0].station, *one.steps[0].twins)
                for one in after
                if one.together.verdict == "fails"
            ]
            made.append((f"{what}, named first if it fails", None, np.mean(named), 0))
    return made


def table(name, pairs, made):
    head = (
        f"## {name}, {pairs} pairs\n\n| what | claimed | counted | chance allows ± | |"
    )
    rows = []
    for what, claimed, counted, allowed in made:
        if claimed is None:
            rows.append(f"| {what} | | {counted:.4f} | | no claim |")
            continue
        word = "agrees" if abs(counted - claimed) <= allowed else "DIFFERS"
        rows.append(
            f"| {what} | {claimed:.4f} | {counted:.4f} | {allowed:.4f} | {word} |"
        )
    return "\n".join([head, "|---|---|---|---|---|", *rows, ""])


HEAD = """# Do congruency tests err as often as they claim?

Made by `python tests/validation/stability.py {pairs}`. Pairs of simulated surveys of
the example jobs, each adjusted by itself. *Chance allows*: three standard deviations
for so many pairs.

"""


def main(words):
    pairs = int(words[0]) if words else 2000
    tables = []
    for name in words[1:] or list(MAKERS["EXAMPLES"]):
        tables.append(table(name, pairs, lines(name, pairs)))
        print(tables[-1], flush=True)
    text = "\n".join(tables)
    if not words[1:]:
        (HERE / "STABILITY.md").write_text(HEAD.format(pairs=pairs) + text, "utf-8")
    return int("DIFFERS" in text)


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
