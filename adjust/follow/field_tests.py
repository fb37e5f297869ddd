"""Field tests of rovers: whether a rover measures as well as is stated for it.

ISO 17123-8 (2015; the procedure from memory): a *set* is a fix on each of two points 2
to 20 m apart, whose distance and height difference are known to 3 mm; a *series* is
five sets; a full test is three series, whose starts lie 90 minutes apart.
"""

from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from ...networks.covariances import Bools, Floats
from ...networks.field_tests import FieldSets
from ..judge.limits import chi_square_quantile, fisher_quantile

SCREEN = 2.5
"""A set is off the known distance beyond 2.5 · √2 · s."""
SERIES, SETS = 3, 5
"""Series of a full test, and sets of a series."""
BETWEEN = np.timedelta64(90, "m")
"""Between the starts of series."""
APART = (2.0, 20.0)
"""m between the two points."""
CONFIDENCE = 0.95


@dataclass(frozen=True, slots=True)
class PartTest:
    """One part of a field test, plan or height, against what is stated."""

    part: str
    sd: float
    """m; of the plan √(s_x² + s_y²); NaN with fewer than two sets."""
    degrees_of_freedom: int
    stated: float
    """m, likewise; NaN = not stated."""
    limit: float
    """Largest sd, at 95 %, one-sided; NaN where it cannot be judged."""
    verdict: str

    @property
    def test(self) -> float:
        """Sd over its limit."""
        return self.sd / self.limit


@dataclass(frozen=True, slots=True)
class FieldTest:
    """A field test of a rover."""

    name: str
    series: int
    sets: int
    """That count; those replaced do not."""
    parts: tuple[PartTest, ...]
    lacks: tuple[str, ...]
    """What it lacks of a full test, in words."""


@dataclass(frozen=True, slots=True)
class SetMisfits:
    """Every set against the known distance and height difference, a row each."""

    distance: Floats
    """(n,) measured less known, on the ground, m; NaN where it is not known."""
    rise: Floats
    limit_distance: Floats
    """(n,) m; NaN where no sd is stated."""
    limit_rise: Floats
    off: Bools
    """(n,) whether it is beyond a limit and counts: it is to be taken again."""


@dataclass(frozen=True, slots=True)
class Campaigns:
    """Two tests of a rover in turn, whether they are equally good."""

    earlier: str
    later: str
    part: str
    ratio: float
    """Of the variances, later over earlier."""
    lower: float
    upper: float
    """At 95 %, two-sided."""
    verdict: str


@dataclass(frozen=True, slots=True)
class FieldTests:
    """All field tests of a day."""

    tests: tuple[FieldTest, ...]
    misfits: SetMisfits
    campaigns: tuple[Campaigns, ...]


def field_tests(sets: FieldSets, scale: float) -> FieldTests:
    """Return what field tests say of their rovers.

    Parameters
    ----------
    sets : FieldSets
    scale : float
        Grid metres a metre on the ground.

    Returns
    -------
    FieldTests
        Residuals are taken about the mean of each point over all series, so that n
        sets have 2 (n − 1) degrees of freedom in each axis: 28 in a full test.
    """
    misfits = _misfits(sets, scale)
    tests = tuple(_test(sets, k, misfits.off) for k in range(len(sets.test.names)))
    return FieldTests(tests, misfits, _campaigns(tests))


def largest_sd(stated: float, degrees_of_freedom: int) -> float:
    """Return the largest sd that is still within a stated one, 95 %, one-sided.

    Examples
    --------
    ISO 17123-8 (factors from memory): 1.15 in plan with 56 degrees of freedom, 1.22
    in height with 28.

    >>> round(largest_sd(1.0, 56), 2), round(largest_sd(1.0, 28), 2)
    (1.15, 1.22)
    """
    if degrees_of_freedom < 1:
        return float("nan")
    quantile = chi_square_quantile(CONFIDENCE, degrees_of_freedom)
    return stated * float(np.sqrt(quantile / degrees_of_freedom))


def _misfits(sets: FieldSets, scale: float) -> SetMisfits:
    way, test = sets.second - sets.first, sets.test.number
    distance = np.hypot(way[:, 0], way[:, 1]) / scale - sets.distance[test]
    rise = way[:, 2] - sets.rise[test]
    # The standard's s of the plan is √(s_x² + s_y²): √2 times that of an axis.
    limit_distance = SCREEN * np.sqrt(2) * np.sqrt(2) * sets.sd_plan[test]
    limit_rise = SCREEN * np.sqrt(2) * sets.sd_height[test]
    off = (np.abs(distance) > limit_distance) | (np.abs(rise) > limit_rise)
    return SetMisfits(distance, rise, limit_distance, limit_rise, off & ~sets.replaced)


def _test(sets: FieldSets, k: int, off: Bools) -> FieldTest:
    rows = np.flatnonzero((sets.test.number == k) & ~sets.replaced)
    free = 2 * (len(rows) - 1)
    about = [p[rows] - p[rows].mean(axis=0) for p in (sets.first, sets.second)]
    squares = sum((some**2).sum(axis=0) for some in about)
    with np.errstate(divide="ignore", invalid="ignore"):
        variance = squares / (free if free > 0 else np.nan)
    lacks = _lacks(sets, k, rows, int(off[rows].sum()))
    plan = float(np.sqrt(2) * sets.sd_plan[k])
    parts = (
        _part("plan", float(np.sqrt(variance[0] + variance[1])), 2 * free, plan, lacks),
        _part(
            "height", float(np.sqrt(variance[2])), free, float(sets.sd_height[k]), lacks
        ),
    )
    series = len(np.unique(sets.series.number[rows]))
    return FieldTest(sets.test.names[k], series, len(rows), parts, lacks)


def _part(
    part: str, sd: float, free: int, stated: float, lacks: tuple[str, ...]
) -> PartTest:
    limit = largest_sd(stated, free)
    verdict = "query" if lacks else "meets"
    if not np.isfinite(sd) or not np.isfinite(limit):
        verdict = "unchecked"
    elif sd > limit:
        verdict = "fails"
    return PartTest(part, sd, free, stated, limit, verdict)


def _lacks(sets: FieldSets, k: int, rows: np.ndarray, off: int) -> tuple[str, ...]:
    """Return what a test lacks of a full one, in words."""
    said = []
    number = sets.series.number[rows]
    each = [int((number == one).sum()) for one in np.unique(number)]
    if len(each) < SERIES or min(each, default=0) < SETS:
        counts = ", ".join(map(str, each)) or "0"
        said.append(
            f"{len(each)} series of {counts} sets; a full test has {SERIES} of {SETS}"
        )
    starts = [sets.start[rows[number == one]] for one in np.unique(number)]
    if any(np.isnat(some).any() for some in starts):
        said.append("not every set has its time: that series lie 90 min apart")
    else:
        first = sorted(some.min() for some in starts)
        if any(later - sooner < BETWEEN for sooner, later in pairwise(first)):
            said.append("series start less than 90 min apart")
    if not np.isfinite(sets.distance[k]) or not np.isfinite(sets.rise[k]):
        said.append("distance and rise of the two points, known by other means")
    elif not APART[0] <= sets.distance[k] <= APART[1]:
        said.append("points 2 to 20 m apart")
    if off:
        word = "set" if off == 1 else "sets"
        said.append(f"{off} {word} off the known distance or rise, to be taken again")
    return tuple(said)


def _campaigns(tests: tuple[FieldTest, ...]) -> tuple[Campaigns, ...]:
    """Return each test against the one before it, in the order of the table."""
    made = []
    for earlier, later in pairwise(tests):
        for one, two in zip(earlier.parts, later.parts, strict=True):
            if min(one.degrees_of_freedom, two.degrees_of_freedom) < 1 or not one.sd:
                continue
            tail = (1 + CONFIDENCE) / 2
            free = two.degrees_of_freedom, one.degrees_of_freedom
            lower = 1 / fisher_quantile(tail, free[1], free[0])
            upper = fisher_quantile(tail, *free)
            ratio = two.sd**2 / one.sd**2
            verdict = "meets" if lower <= ratio <= upper else "query"
            made.append(
                Campaigns(
                    earlier.name, later.name, one.part, ratio, lower, upper, verdict
                )
            )
    return tuple(made)
