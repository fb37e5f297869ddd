"""Do congruency tests err, and find, as often as they claim? Two surveys of one plan.

    python tests/validation/stability.py [--update] [PAIRS [EXAMPLE ...]]

Off by default: 2000 pairs of all examples take half an hour. Each pair is two surveys
of an example job, noise drawn as its tables state it, each adjusted by itself as a
user's would be. Without movement the shape must fail in 5 % of them (to 1 %); with one
mark moved, in the direction in which it hides best, by the least movement that the
tool claims to see, in 80 %; and it must be the moved mark that is named. Intervals are
exact (Clopper and Pearson 1934). --update writes STABILITY.md, of all examples; the
exit code is 1 if a share differs from its claim by more than chance allows, or if the
false alarms are not within 5 ± 1 %.
"""

import runpy
import sys
from pathlib import Path

import numpy as np
from scipy.special import betaincinv

from brasscap.adjust import estimates
from brasscap.adjust.follow.stability import stability
from brasscap.networks.simulate import simulate

HERE = Path(__file__).parent
CHANCE = 0.999
"""A claim outside this interval differs: of some twenty lines, one in fifty runs."""
ALARM, ENOUGH = 0.01, 2000
"""False alarms may differ by so much from what is claimed; two sds of so many pairs."""
MAKERS = runpy.run_path(str(HERE.parent / "make_examples"))


def surveyed(plan, seeds, truth=None):
    """Yield the adjustments of some surveys, from the places of the plan."""
    some = (simulate(plan, seed=seed, truth=truth) for seed in seeds)
    for made in estimates(some, "minimal", begin=plan.marks.approximate):
        if isinstance(made, Exception):
            raise made
        yield made


def compared(plan, pairs, truth=None):
    """Return plan and height of two surveys each; marks may move before the second."""
    first = surveyed(plan, range(0, 2 * pairs, 2))
    second = surveyed(plan, range(1, 2 * pairs, 2), truth)
    both = map(stability, first, second)
    return [{part.part: part for part in one.parts} for one in both]


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


def interval(hits, of, confidence=0.95):
    """Return the exact interval of a share (Clopper and Pearson 1934).

    Of 0 in 10 the upper 95 % end is 1 − 0.025^(1/10) = 0.3085.
    """
    tail = (1 - confidence) / 2
    low = betaincinv(hits, of - hits + 1, tail) if hits else 0.0
    high = betaincinv(hits + 1, of - hits, 1 - tail) if hits < of else 1.0
    return float(low), float(high)


def lines(name, pairs):
    """Return (what, claimed, hits, of) of one example."""
    plan = MAKERS["planned"](name)
    made = []
    clean = compared(plan, pairs)
    for part in clean[0].values():
        alarms = sum(one[part.part].together.verdict == "fails" for one in clean)
        made.append((f"{part.part}: nothing moved, shape fails", 0.05, alarms, pairs))
        quiet = next(o[part.part] for o in clean if not o[part.part].steps)
        which = middling(quiet)
        least, station = quiet.marks[which].least, quiet.marks[which].station
        for factor in (1.0, 2.0):
            truth = moved(plan, quiet, which, factor * least)
            after = [one[part.part] for one in compared(plan, pairs, truth)]
            seen = [one for one in after if one.together.verdict == "fails"]
            what = f"{part.part}: {station} moved by {1000 * factor * least:.1f} mm"
            claimed = 0.80 if factor == 1.0 else None
            made.append((f"{what}, shape fails", claimed, len(seen), pairs))
            named = sum(
                bool(one.steps)
                and station in (one.steps[0].station, *one.steps[0].twins)
                for one in seen
            )
            if seen:
                made.append(
                    (f"{what}, named first if it fails", None, named, len(seen))
                )
    return made


def word(claimed, hits, of):
    """Return whether a share agrees with its claim."""
    if claimed is None:
        return "no claim"
    low, high = interval(hits, of, CHANCE)
    if not low <= claimed <= high:
        return "DIFFERS"
    if claimed < 0.5 and of < ENOUGH:
        return "agrees, too few pairs to say ± 1 %"
    if claimed < 0.5 and abs(hits / of - claimed) > ALARM:
        return "DIFFERS"
    return "agrees"


def table(name, pairs, made):
    """Return the lines of an example as Markdown."""
    head = f"## {name}, {pairs} pairs\n\n| what | claimed % | counted % | of | |"
    rows = []
    for what, claimed, hits, of in made:
        low, high = interval(hits, of)
        share = f"{100 * hits / of:.1f} ({100 * low:.1f}–{100 * high:.1f})"
        said = "" if claimed is None else f"{100 * claimed:.0f}"
        rows.append(f"| {what} | {said} | {share} | {of} | {word(claimed, hits, of)} |")
    return "\n".join([head, "|---|---|---|---|---|", *rows, ""])


HEAD = """# Do congruency tests err as often as they claim?

Made by `python tests/validation/stability.py --update {pairs}`. Pairs of simulated
surveys of the example jobs, each adjusted by itself; a movement is that which the tool
claims to see four times in five, and twice that. In brackets exact 95 % intervals
(Clopper and Pearson 1934). *Agrees*: the claim lies in the exact 99.9 % interval, and
false alarms of 2000 pairs or more are within 5 ± 1 %.

"""


def main(words):
    """Count, print, and write the page if asked."""
    update = "--update" in words
    words = [one for one in words if one != "--update"]
    pairs = int(words[0]) if words else 2000
    if update and words[1:]:
        raise SystemExit("--update writes the page of all examples: name none")
    tables = []
    for name in words[1:] or list(MAKERS["EXAMPLES"]):
        tables.append(table(name, pairs, lines(name, pairs)))
        print(tables[-1], flush=True)
    text = "\n".join(tables)
    if update:
        (HERE / "STABILITY.md").write_text(HEAD.format(pairs=pairs) + text, "utf-8")
    return int("DIFFERS" in text)


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
