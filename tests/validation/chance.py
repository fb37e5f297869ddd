"""Does chance agree? Simulated surveys of the examples, judged as a user's would be.

    python tests/validation/chance.py [SURVEYS [EXAMPLE ...]]

Off by default: takes minutes. Each line says what was claimed, what was counted, and
how far chance alone lets the two differ (three standard deviations for so many
independent surveys, of the counts themselves where no formula has it); the exit code
is 1 if a line is beyond that. Without EXAMPLE all are run and RESULTS.md is written.
"""

import runpy
import sys
from pathlib import Path
from typing import NamedTuple

import numpy as np
from scipy.special import chdtrc, chdtri

from brasscap.adjust import estimate, estimates
from brasscap.adjust.judge import blunder_tests
from brasscap.networks.simulate import Blunder, simulate

HERE = Path(__file__).parent
MAKERS = runpy.run_path(str(HERE.parent / "make_examples"))


class Line(NamedTuple):
    """One claim and what became of it."""

    what: str
    claimed: float
    counted: float
    allowed: float
    at_most: bool = False

    @property
    def agrees(self):
        off = self.counted - self.claimed
        return (off if self.at_most else abs(off)) <= self.allowed

    def cells(self):
        return (
            self.what,
            f"{'at most ' if self.at_most else ''}{self.claimed:.4f}",
            f"{self.counted:.4f}",
            f"{self.allowed:.4f}",
            "agrees" if self.agrees else "DIFFERS",
        )


def adjusted(plan, surveys, blunders=()):
    """Yield the adjustments of so many surveys."""
    seeds = range(surveys)
    for made in estimates(simulate(plan, seed=s, blunders=blunders) for s in seeds):
        if isinstance(made, Exception):
            raise made
        yield made


def clean(plan, adjustment):
    """Return what one survey without a blunder gives."""
    tests = blunder_tests(adjustment)
    test = tests.basis.test[np.isfinite(tests.basis.test)]
    return (
        adjustment.vtpv,
        *coverage(adjustment, plan.marks.approximate),
        "fails" in tests.verdict,
        np.mean(test > 1),
    )


def coverage(adjustment, true):
    """Return the share of marks inside their stated 95 % ellipse, and height limit.

    NaN where no mark has both (plan), or a height, estimated.
    """
    marks = np.arange(len(true))
    off = adjustment.nodes.xyz[marks] - true
    off = np.einsum("nij,nj->ni", adjustment.nodes.axes[marks], off)
    covariance = adjustment.covariance(marks, marks)
    free = adjustment.columns[marks] >= 0
    plan = np.flatnonzero(free[:, :2].all(axis=1))
    inverse = np.linalg.inv(covariance[plan, :2, :2])
    square = np.einsum("ni,nij,nj->n", off[plan, :2], inverse, off[plan, :2])
    limit = np.sqrt(chdtri(1, 0.05) * covariance[free[:, 2], 2, 2])
    inside = np.abs(off[free[:, 2], 2]) < limit
    return (
        np.mean(square < chdtri(2, 0.05)) if len(plan) else np.nan,
        np.mean(inside),
    )


def row_of(tests, planted):
    pairs = list(zip(tests.kind, tests.name, strict=True))
    return pairs.index((planted.kind, planted.about))


def found(planted, adjustment):
    """Return whether a blunder is found, and its size as told."""
    tests = blunder_tests(adjustment)
    row = row_of(tests, planted)
    place = int(np.flatnonzero(planted.shift)[0])
    return tests.basis.test[row] > 1, tests.tests.shift[row, place]


def of_size(planted, size):
    """Return the blunder, just as large as the tests claim to find."""
    shift = tuple(size if part else 0.0 for part in planted.shift)
    return Blunder(planted.kind, planted.about, shift, planted.other)


def lines(name, surveys):
    plan, planted = MAKERS["planned"](name), MAKERS["EXAMPLES"][name].PLANTED
    adjustment = estimate(simulate(plan, seed=0))
    tests = blunder_tests(adjustment)
    size = float(tests.tests.smallest_detectable[row_of(tests, planted)])
    just = of_size(planted, size)
    results = np.array([clean(plan, one) for one in adjusted(plan, surveys)])
    told = np.array([found(just, one) for one in adjusted(plan, surveys, [just])])
    vtpv, ellipse, height, fails, alarm = results.mean(axis=0)
    spread = 3 * results.std(axis=0) / np.sqrt(surveys)
    freedom = adjustment.degrees_of_freedom
    share = 3 / np.sqrt(surveys)
    judged, significance = np.isfinite(tests.basis.test), false_alarms(tests)
    made = [
        Line("vᵀPv, mean, against the degrees of freedom", freedom, vtpv,
             share * np.sqrt(2 * freedom)),
        Line("truth inside the 95 % ellipse", 0.95, ellipse, spread[1]),
        Line("truth inside the 95 % height limit", 0.95, height, spread[2]),
        Line("a clean survey of which anything fails", 0.05, fails,
             share * np.sqrt(0.05 * 0.95), at_most=True),
        Line("a clean test over its limit", significance, alarm,
             max(spread[4], share * np.sqrt(significance / judged.sum()))),
        Line(f"{planted.kind} off by {size * 1000:.1f} mm that is found", 0.80,
             told[:, 0].mean(), share * np.sqrt(0.8 * 0.2)),
        Line("its size as told, m", size, told[:, 1].mean(),
             share * told[:, 1].std()),
    ]  # fmt: skip
    return [line for line in made if np.isfinite(line.counted)]


def false_alarms(tests):
    """Return the mean significance of the tests: 0.1 % for one component, more for
    several, whose limits are those of the same blunder and power (B-method).
    """
    judged = np.isfinite(tests.basis.test)
    limit, components = tests.basis.limit[judged], tests.tests.components[judged]
    return float(np.mean(chdtrc(components, limit)))


def table(name, surveys, made):
    """Return a table for RESULTS.md."""
    rows = ["| " + " | ".join(line.cells()) + " |" for line in made]
    head = "| what | claimed | counted | chance allows ± | |"
    return "\n".join(
        [f"## {name}, {surveys} surveys", "", head, "|---|---|---|---|---|", *rows, ""]
    )


HEAD = """# Does chance agree?

Made by `python tests/validation/chance.py {surveys}`. Simulated surveys of the example
jobs, noise drawn as their tables state it, each adjusted and judged as a user's would
be. *Chance allows*: three standard deviations for so many independent surveys. The
blunder planted is just as large as the tests claim to find four times in five.

"""


def main(words):
    surveys = int(words[0]) if words else 400
    names = words[1:] or list(MAKERS["EXAMPLES"])
    tables, agree = [], True
    for name in names:
        made = lines(name, surveys)
        tables.append(table(name, surveys, made))
        print(tables[-1], flush=True)
        agree &= all(line.agrees for line in made)
    if not words[1:]:
        text = HEAD.format(surveys=surveys) + "\n".join(tables)
        (HERE / "RESULTS.md").write_text(text, "utf-8")
    return 0 if agree else 1


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
