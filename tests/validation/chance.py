"""Does chance agree? Simulated surveys of the example, judged as a user's would be.

    python tests/validation/chance.py [SURVEYS]

Off by default: takes a minute. Each line prints what was claimed, what was counted,
and how far chance alone lets the two differ (three standard deviations of a count of
independent surveys); the exit code is 1 if a line is beyond that.
"""

import runpy
import sys
from pathlib import Path

import numpy as np
from scipy.special import chdtri

from brasscap.adjust import estimate
from brasscap.adjust.judge import blunder_tests
from brasscap.networks.simulate import Blunder, simulate

MAKER = runpy.run_path(str(Path(__file__).parents[1] / "make_example.py"))
RANDOM = np.random.default_rng(MAKER["SEED"])
PLAN = MAKER["plan"](MAKER["occupations"](RANDOM))
TRUE = PLAN.marks.approximate
SET_UP = "S3-ICE"
NEW = np.array([k for k in range(len(PLAN.marks)) if k not in PLAN.known.mark])


def clean(seed):
    """Return what one survey without a blunder gives."""
    adjustment = estimate(simulate(PLAN, seed=seed))
    off = adjustment.nodes.xyz[NEW] - TRUE[NEW]
    off = np.einsum("nij,nj->ni", adjustment.nodes.axes[NEW], off)
    covariance = adjustment.covariance(NEW, NEW)
    plan = np.linalg.inv(covariance[:, :2, :2])
    square = np.einsum("ni,nij,nj->n", off[:, :2], plan, off[:, :2])
    tests = blunder_tests(adjustment)
    return (
        adjustment.vtpv,
        np.mean(square < chdtri(2, 0.05)),
        np.mean(np.abs(off[:, 2]) < np.sqrt(chdtri(1, 0.05) * covariance[:, 2, 2])),
        "fails" in tests.verdict,
        np.mean(heights(tests) > 1),
    )


def heights(tests):
    """Return the tests of all set-up heights that can be judged."""
    test = tests.basis.test[[kind == "set-up height" for kind in tests.kind]]
    return test[np.isfinite(test)]


def height_row(tests):
    pairs = list(zip(tests.kind, tests.name, strict=True))
    return pairs.index(("set-up height", SET_UP))


def planted(seed, size):
    """Return whether a blunder of that size in the height of SET_UP is found."""
    blunder = Blunder("set-up height", SET_UP, (0.0, 0.0, size))
    tests = blunder_tests(estimate(simulate(PLAN, seed=seed, blunders=[blunder])))
    row = height_row(tests)
    return tests.basis.test[row] > 1, tests.tests.shift[row, 2]


def say(what, claimed, counted, allowed, *, at_most=False):
    """Print one line; return whether chance allows it."""
    off = counted - claimed
    good = off <= allowed if at_most else abs(off) <= allowed
    word = "at most " if at_most else ""
    print(
        f"{what:52s} claimed {word}{claimed:8.4f}   counted {counted:8.4f}   "
        f"± {allowed:.4f}   {'agrees' if good else 'DIFFERS'}"
    )
    return good


def main(surveys):
    adjustment = estimate(simulate(PLAN, seed=0))
    freedom = adjustment.degrees_of_freedom
    tests = blunder_tests(adjustment)
    size = float(tests.tests.smallest_detectable[height_row(tests)])
    results = np.array([clean(seed) for seed in range(surveys)], dtype=float)
    vtpv, ellipse, height, fails, alarm = results.mean(axis=0)
    spread = results.std(axis=0) / np.sqrt(surveys) * 3
    found = np.array([planted(seed, size) for seed in range(surveys)], dtype=float)

    def of_count(p):
        return 3 * np.sqrt(p * (1 - p) / surveys)

    agree = [
        say("vᵀPv, mean (degrees of freedom)", freedom, vtpv,
            3 * np.sqrt(2 * freedom / surveys)),
        say("truth inside the 95 % ellipse", 0.95, ellipse, spread[1]),
        say("truth inside the 95 % height limit", 0.95, height, spread[2]),
        say("a clean survey that fails", 0.05, fails, of_count(0.05), at_most=True),
        say("a clean set-up height over its limit", 0.001, alarm, spread[4]),
        say(f"a height off by {size * 1000:.1f} mm that is found", 0.80,
            found[:, 0].mean(), of_count(0.80)),
        say("  its size as told, m", size, found[:, 1].mean(),
            3 * found[:, 1].std() / np.sqrt(surveys)),
    ]  # fmt: skip
    return 0 if all(agree) else 1


if __name__ == "__main__":
    sys.exit(main(int(sys.argv[1]) if len(sys.argv) > 1 else 400))
