"""From shifts to tests: statistic, limit, size, smallest detectable, verdict."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ...networks import Options
from ...networks.covariances import Bools, Floats, Ints
from .limits import b_method, fisher_quantile, noncentrality
from .seen import UNCHECKED, Seen, seen_of_shifts
from .shifts import Shifts
from .tails import chi_square_tails, fisher_tail

__all__ = [
    "UNCHECKED",
    "Basis",
    "Tested",
    "estimated_basis",
    "filled",
    "part",
    "stacked",
    "stated_basis",
    "tested",
]


@dataclass(frozen=True, slots=True)
class Basis:
    """The tests on one variance factor, stated (chi-square) or estimated (F)."""

    statistic: Floats
    """(n,) T, chi-square with p components; or T/p over its estimate, F(p, r − p)."""
    limit: Floats
    test: Floats
    """(n,) √(statistic / limit): 1 is the limit; NaN where it cannot be judged."""
    probability: Floats
    """(n,) of a larger statistic by chance alone, one test."""

    def of(self, some: Ints) -> "Basis":
        """Return some of the tests, by their numbers."""
        return Basis(
            self.statistic[some],
            self.limit[some],
            self.test[some],
            self.probability[some],
        )


@dataclass(frozen=True, slots=True)
class Tested:
    """Tests of n causes."""

    components: Ints
    """(n,) p, how many components the cause has."""
    stated: Basis
    estimated: Basis
    shift: Floats
    """(n, 3) east, north, up, m: booked minus what the rest says; NaN elsewhere."""
    sd_shift: Floats
    """(n, 3) stated, m."""
    smallest_detectable: Floats
    """(n,) m, in the worst direction, at the stated significance and power."""
    smallest_detectable_enu: Floats
    """(n, 3) m, along east, north, up."""
    unchecked: Bools
    null: tuple[Floats, ...]
    """(3, d) for each cause: the directions in which nothing checks it."""
    directions: tuple[str, ...]
    """Where unchecked: which directions are checked all the same, in words."""

    def of(self, some: Ints) -> "Tested":
        """Return some of the tests, by their numbers."""
        numbers = some.tolist()
        return Tested(
            self.components[some],
            self.stated.of(some),
            self.estimated.of(some),
            self.shift[some],
            self.sd_shift[some],
            self.smallest_detectable[some],
            self.smallest_detectable_enu[some],
            self.unchecked[some],
            tuple(self.null[i] for i in numbers),
            tuple(self.directions[i] for i in numbers),
        )


def tested(shifts: Shifts, options: Options, vtpv: float, freedom: int) -> Tested:
    """Return the tests of all causes.

    Parameters
    ----------
    shifts : Shifts
    options : Options
    vtpv : float
        vᵀPv of the adjustment.
    freedom : int
        Its degrees of freedom.
    """
    used = np.asarray(np.isfinite(shifts.pull).all(axis=1))
    seen = seen_of_shifts(shifts, used)
    count = seen.count
    sound = used & ~seen.unchecked & (count > 0)
    covariance = np.where(sound[:, None, None], seen.covariance, np.nan)
    shift = np.einsum("nij,nj->ni", covariance, shifts.pull)
    statistic = np.einsum("ni,ni->n", shift, shifts.pull)
    exists = seen.axes & shifts.components
    absent = ~exists | ~sound[:, None]
    variances = np.einsum("nii->ni", covariance)
    lambda0 = noncentrality(options.outlier_alpha, options.power)
    nulls, words = _unchecked(seen, exists)
    return Tested(
        count,
        stated_basis(statistic, count, options),
        estimated_basis(statistic, count, options, vtpv, freedom),
        np.where(absent, np.nan, shift),
        np.where(absent, np.nan, np.sqrt(np.maximum(variances, 0.0))),
        np.sqrt(lambda0 / np.where(sound, seen.least, np.nan)),
        _along(shifts.matrix, absent, lambda0),
        seen.unchecked,
        nulls,
        words,
    )


def stacked(parts: Sequence[Tested]) -> Tested:
    """Return one set of columns from several."""
    if len(parts) == 1:
        return parts[0]
    return filled(parts, sum(len(one.components) for one in parts))


def filled(parts: Iterable[Tested], count: int) -> Tested:
    """Return one set of columns from several, of which each may go when it is in.

    Parameters
    ----------
    parts : iterable of Tested
    count : int
        Tests of all of them.
    """
    made: list[NDArray[Any]] = [
        np.empty((count, *shape), kind) for shape, kind in _COLUMNS
    ]
    null: list[Floats] = []
    words: list[str] = []
    low = 0
    for one in parts:
        here = slice(low, low + len(one.components))
        for column, values in zip(made, _columns(one), strict=True):
            column[here] = values
        null += one.null
        words += one.directions
        low = here.stop
        del one
    components, shift, sd, least, along, unchecked, *both = made
    return Tested(
        components,
        Basis(*both[:4]),
        Basis(*both[4:]),
        shift,
        sd,
        least,
        along,
        unchecked,
        tuple(null),
        tuple(words),
    )


_COLUMNS: tuple[tuple[tuple[int, ...], type], ...] = (
    ((), np.int64),
    ((3,), np.float64),
    ((3,), np.float64),
    ((), np.float64),
    ((3,), np.float64),
    ((), np.bool_),
    *(((), np.float64) for _ in range(8)),
)
"""Shape beyond the first axis and kind of the columns below."""


def _columns(tests: Tested) -> list[NDArray[Any]]:
    """Return the columns of tests, those of the two variance factors last."""
    return [
        tests.components,
        tests.shift,
        tests.sd_shift,
        tests.smallest_detectable,
        tests.smallest_detectable_enu,
        tests.unchecked,
        *(
            column
            for basis in (tests.stated, tests.estimated)
            for column in (
                basis.statistic,
                basis.limit,
                basis.test,
                basis.probability,
            )
        ),
    ]


def part(shifts: Shifts, components: list[int]) -> Shifts:
    """Return the same causes with some of their components only."""
    kept = np.zeros(3, dtype=bool)
    kept[components] = True
    both = kept[:, None] & kept
    unit = np.where(kept, 0.0, 1.0) * np.eye(3)
    return Shifts(
        np.where(both, shifts.matrix, unit),
        np.where(kept, shifts.pull, 0.0),
        np.where(both, shifts.information, unit),
        shifts.components & kept,
    )


def _unchecked(seen: Seen, exists: Bools) -> tuple[tuple[Floats, ...], tuple[str, ...]]:
    """Return null spaces of all causes, and words; nothing for what is checked."""
    spaces, words = [np.zeros((3, 0))] * len(exists), [""] * len(exists)
    for i, space in seen.null.items():
        spaces[i], words[i] = space, _checked_directions(space, exists[i])
    return tuple(spaces), tuple(words)


def _checked_directions(null: Floats, exists: Bools) -> str:
    share = np.abs(null).max(axis=1) / np.abs(null).max()
    words = ("east", "north", "height")
    checked = [words[k] for k in range(3) if exists[k] and share[k] < 1e-3]
    return "checked in " + " and ".join(checked) if checked else "nothing checks it"


def stated_basis(statistic: Floats, count: Ints, options: Options) -> Basis:
    """Return chi-square tests of n statistics with their components; NaN for none.

    Parameters
    ----------
    statistic : ndarray, shape (n,)
    count : ndarray of int, shape (n,)
        Components of each.
    options : Options
    """
    each = np.full(int(count.max(initial=0)) + 1, np.nan)
    for p in _components(count):
        each[p] = b_method(options.outlier_alpha, options.power, p)[1]
    limit = each[count]
    probability = chi_square_tails(count, statistic)
    return Basis(statistic, limit, np.sqrt(statistic / limit), probability)


def _components(count: Ints) -> list[int]:
    """Return the numbers of components that there are, none left out."""
    made: list[int] = (np.flatnonzero(np.bincount(count)[1:]) + 1).tolist()
    return made


def estimated_basis(
    statistic: Floats, count: Ints, options: Options, vtpv: float, freedom: int
) -> Basis:
    """Return F tests; NaN where fewer than one degree of freedom is left over.

    Parameters
    ----------
    statistic : ndarray, shape (n,)
        Chi-square statistics.
    count : ndarray of int, shape (n,)
        Components of each.
    options : Options
    vtpv : float
        vᵀPv of the adjustment.
    freedom : int
        Its degrees of freedom.
    """
    made, limit = np.full((2, len(count)), np.nan)
    probability = limit.copy()
    for p in _components(count):
        left = freedom - p
        rows = (count == p) & np.isfinite(statistic)
        if left < 1 or not rows.any():
            continue
        alpha = b_method(options.outlier_alpha, options.power, p)[0]
        limit[rows] = fisher_quantile(1 - alpha, p, left)
        # What is left over is known to the rounding of vᵀPv, no better.
        rest = np.maximum(vtpv - statistic[rows], max(1e-12 * vtpv, 1e-300))
        made[rows] = (statistic[rows] / p) / (rest / left)
        probability[rows] = fisher_tail(p, left, made[rows])
    return Basis(made, limit, np.sqrt(made / limit), probability)


def _along(matrix: Floats, absent: Bools, lambda0: float) -> Floats:
    diagonal = np.where(absent, np.nan, np.einsum("nii->ni", matrix))
    return np.sqrt(lambda0 / diagonal)
