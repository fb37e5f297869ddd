"""From shifts to tests: statistic, limit, size, smallest detectable, verdict."""

from dataclasses import dataclass

import numpy as np
from scipy import special

from ...networks import Options
from ...networks.covariances import Bools, Floats, Ints
from .limits import b_method, fisher_quantile, noncentrality
from .shifts import Shifts

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
    exists = shifts.components
    used = np.asarray(np.isfinite(shifts.pull).all(axis=1))
    count = np.where(used, exists.sum(axis=1), 0)
    null = _null_spaces(shifts, used)
    unchecked = used & np.array([space.shape[1] > 0 for space in null], dtype=bool)
    sound = used & ~unchecked & (count > 0)
    covariance = np.full_like(shifts.matrix, np.nan)
    covariance[sound] = np.linalg.inv(shifts.matrix[sound])
    shift = np.einsum("nij,nj->ni", covariance, shifts.pull)
    statistic = np.einsum("ni,ni->n", shift, shifts.pull)
    absent = ~exists | ~sound[:, None]
    variances = np.einsum("nii->ni", covariance)
    lambda0 = noncentrality(options.outlier_alpha, options.power)
    return Tested(
        count,
        _stated(statistic, count, options),
        _estimated(statistic, count, options, vtpv, freedom),
        np.where(absent, np.nan, shift),
        np.where(absent, np.nan, np.sqrt(variances)),
        _worst(shifts.matrix, exists, sound, lambda0),
        _along(shifts.matrix, absent, lambda0),
        unchecked,
        tuple(null),
        tuple(
            _checked_directions(space, exists[i]) if unchecked[i] else ""
            for i, space in enumerate(null)
        ),
    )


def part(shifts: Shifts, components: list[int]) -> Shifts:
    """Return the same causes with some of their components only."""
    kept = np.zeros(3, dtype=bool)
    kept[components] = True
    both = kept[:, None] & kept
    unit = np.where(kept, 0.0, 1.0) * np.eye(3)
    scale = np.linalg.inv(shifts.scale) if len(shifts.scale) else shifts.scale
    own = np.where(both, scale, unit)
    return Shifts(
        np.where(both, shifts.matrix, unit),
        np.where(kept, shifts.pull, 0.0),
        np.linalg.inv(own) if len(own) else own,
        shifts.components & kept,
    )


def _null_spaces(shifts: Shifts, used: Bools) -> list[Floats]:
    """Return, for each cause, the directions in which nothing checks it."""
    spaces = []
    for i in range(len(used)):
        if not used[i]:
            spaces.append(np.zeros((3, 0)))
            continue
        at = np.flatnonzero(shifts.components[i])
        root = np.linalg.cholesky(shifts.scale[i][np.ix_(at, at)])
        values, vectors = np.linalg.eigh(
            root.T @ shifts.matrix[i][np.ix_(at, at)] @ root
        )
        space = np.zeros((3, int((values < UNCHECKED).sum())))
        space[at] = root @ vectors[:, values < UNCHECKED]
        spaces.append(space)
    return spaces


def _checked_directions(null: Floats, exists: Bools) -> str:
    share = np.abs(null).max(axis=1) / np.abs(null).max()
    words = ("east", "north", "height")
    checked = [words[k] for k in range(3) if exists[k] and share[k] < 1e-3]
    return "checked in " + " and ".join(checked) if checked else "nothing checks it"


def _stated(statistic: Floats, count: Ints, options: Options) -> Basis:
    limit = np.full(len(count), np.nan)
    for p in set(count[count > 0].tolist()):
        limit[count == p] = b_method(options.outlier_alpha, options.power, p)[1]
    probability = special.chdtrc(np.maximum(count, 1), statistic)
    return Basis(statistic, limit, np.sqrt(statistic / limit), probability)


def _estimated(
    statistic: Floats, count: Ints, options: Options, vtpv: float, freedom: int
) -> Basis:
    """Return F tests; NaN where fewer than one degree of freedom is left over."""
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


def _worst(matrix: Floats, exists: Bools, sound: Bools, lambda0: float) -> Floats:
    worst = np.full(len(sound), np.nan)
    for i in np.flatnonzero(sound):
        at = np.flatnonzero(exists[i])
        weakest = np.linalg.eigvalsh(matrix[i][np.ix_(at, at)])[0]
        worst[i] = np.sqrt(lambda0 / weakest)
    return worst


def _along(matrix: Floats, absent: Bools, lambda0: float) -> Floats:
    diagonal = np.where(absent, np.nan, np.einsum("nii->ni", matrix))
    return np.sqrt(lambda0 / diagonal)
