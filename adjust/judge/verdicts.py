"""From shifts to tests: statistic, limit, size, smallest detectable, verdict."""

from dataclasses import dataclass

import numpy as np
from scipy import special

from ...networks import Options
from ...networks.covariances import Bools, Floats, Ints
from .limits import b_method, fisher_quantile, noncentrality
from .shifts import SEEN, Shifts

UNCHECKED = 1e-9
"""Share of its own precision below which nothing checks a cause."""


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
    seen = _seen(shifts, used)
    count = np.where(used, seen.real.sum(axis=1), 0)
    unchecked = np.asarray(used & (seen.null.any(axis=1)))
    sound = used & ~unchecked & (count > 0)
    covariance = seen.covariance(sound)
    shift = np.einsum("nij,nj->ni", covariance, shifts.pull)
    statistic = np.einsum("ni,ni->n", shift, shifts.pull)
    exists = seen.axes & shifts.components
    absent = ~exists | ~sound[:, None]
    variances = np.einsum("nii->ni", covariance)
    lambda0 = noncentrality(options.outlier_alpha, options.power)
    spaces = seen.null_spaces()
    return Tested(
        count,
        stated_basis(statistic, count, options),
        estimated_basis(statistic, count, options, vtpv, freedom),
        np.where(absent, np.nan, shift),
        np.where(absent, np.nan, np.sqrt(np.maximum(variances, 0.0))),
        _worst(shifts.matrix, seen, sound, lambda0),
        _along(shifts.matrix, absent, lambda0),
        unchecked,
        spaces,
        tuple(
            _checked_directions(space, exists[i]) if unchecked[i] else ""
            for i, space in enumerate(spaces)
        ),
    )


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


@dataclass(frozen=True, slots=True)
class _Seen:
    """The directions of n shifts that observations see, and how well the rest does."""

    ways: Floats
    """(n, 3, 3) columns: orthonormal directions."""
    real: Bools
    """(n, 3) whether an observation sees a shift that way."""
    root: Floats
    """(n, 3, 3) columns: the same directions, scaled to unit information; else 0."""
    values: Floats
    """(n, 3) shares of that information that the network checks; 1 where none is."""
    vectors: Floats
    null: Bools
    """(n, 3) which of them nothing checks."""
    axes: Bools
    """(n, 3) whether east, north, up has a part in a direction that is seen."""

    def covariance(self, sound: Bools) -> Floats:
        """Return (n, 3, 3) M⁻¹ among what is seen; NaN where not sound."""
        turned = self.root @ self.vectors
        share = np.where(sound[:, None], self.values, np.nan)[:, None, :]
        return np.asarray((turned / share) @ np.swapaxes(turned, 1, 2))

    def null_spaces(self) -> tuple[Floats, ...]:
        """Return, for each cause, the directions in which nothing checks it."""
        spaces = [np.zeros((3, 0))] * len(self.null)
        for i in np.flatnonzero(self.null.any(axis=1)).tolist():
            spaces[i] = (self.root[i] @ self.vectors[i])[:, self.null[i]]
        return tuple(spaces)


def _seen(shifts: Shifts, used: Bools) -> _Seen:
    both = shifts.components[:, :, None] & shifts.components[:, None, :]
    both &= used[:, None, None]
    information = np.where(both, shifts.information, 0.0)
    values, ways = np.linalg.eigh(information)
    real = values > SEEN * np.maximum(values[:, -1:], 0.0)
    real &= values > 0
    with np.errstate(divide="ignore", invalid="ignore"):
        root = ways * np.where(real, 1 / np.sqrt(values), 0.0)[:, None, :]
    matrix = np.where(both, shifts.matrix, 0.0)
    inside = np.swapaxes(root, 1, 2) @ matrix @ root
    inside += np.where(real, 0.0, 1.0)[:, :, None] * np.eye(3)
    shares, vectors = np.linalg.eigh(inside)
    axes = np.einsum("nij,nj->ni", ways**2, real * 1.0) > SEEN
    return _Seen(ways, real, root, shares, vectors, shares < UNCHECKED, axes)


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
    limit = np.full(len(count), np.nan)
    for p in set(count[count > 0].tolist()):
        limit[count == p] = b_method(options.outlier_alpha, options.power, p)[1]
    probability = special.chdtrc(np.maximum(count, 1), statistic)
    return Basis(statistic, limit, np.sqrt(statistic / limit), probability)


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
    for p in set(count[count > 0].tolist()):
        left = freedom - p
        rows = (count == p) & np.isfinite(statistic)
        if left < 1 or not rows.any():
            continue
        alpha = b_method(options.outlier_alpha, options.power, p)[0]
        limit[rows] = fisher_quantile(1 - alpha, p, left)
        # What is left over is known to the rounding of vᵀPv, no better.
        rest = np.maximum(vtpv - statistic[rows], max(1e-12 * vtpv, 1e-300))
        made[rows] = (statistic[rows] / p) / (rest / left)
        probability[rows] = special.fdtrc(p, left, made[rows])
    return Basis(made, limit, np.sqrt(made / limit), probability)


def _worst(matrix: Floats, seen: _Seen, sound: Bools, lambda0: float) -> Floats:
    worst = np.full(len(sound), np.nan)
    ways = seen.ways[sound] * seen.real[sound][:, None, :]
    inside = np.swapaxes(ways, 1, 2) @ matrix[sound] @ ways
    # What is not seen must not be the weakest.
    most = np.einsum("nii->n", inside)[:, None, None] * np.eye(3)
    inside += np.where(seen.real[sound], 0.0, 1.0)[:, :, None] * most
    worst[sound] = np.sqrt(lambda0 / np.linalg.eigvalsh(inside)[:, 0])
    return worst


def _along(matrix: Floats, absent: Bools, lambda0: float) -> Floats:
    diagonal = np.where(absent, np.nan, np.einsum("nii->ni", matrix))
    return np.sqrt(lambda0 / diagonal)
