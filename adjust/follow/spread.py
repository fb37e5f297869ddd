"""The spread of real-time shots by class of sky, learnt from the job's own repeats.

A receiver's own sds know nothing of the leaves overhead. The repeats do: the squares
of their differences say how much larger the variances of a class are than stated.
"""

from dataclasses import dataclass

import numpy as np
from scipy import special

from ...networks.covariances import Bools, Floats, Ints
from .check_shots import NOT_SAID
from .hung import Hung, between_bases, with_vectors

ENOUGH = 8.0
"""Degrees of freedom below which a spread cannot be judged: with fewer its 95 % limits
are more than a factor of four apart (√(χ²₀.₉₇₅/χ²₀.₀₂₅) = 2.8 for 8, 3.2 for 6)."""

_EXPECTED = 0.4549364
"""Median of chi-square with one degree of freedom."""
_FAR = 3.290527
"""Differences farther out than this many sds (0.1 %) tell of a blunder."""
_ROUNDS = 30
_LEAST = 1e-6
"""Of a component: a thousandth of the stated sd."""


@dataclass(frozen=True, slots=True)
class Spread:
    """What the repeats say of one class of sky, plan or height."""

    sky: str
    part: str
    """``plan`` or ``height``."""
    multiplier: float
    """Of the stated sd; NaN where it cannot be judged."""
    lower: float
    """Its 95 % limits."""
    upper: float
    freedom: float
    """Degrees of freedom of its own: what the repeats of the class carry."""
    pairs: int
    """Differences that it rests on, wholly or in part."""
    left_out: int
    """Differences too far out to belong to any spread; they are queries apart."""
    verdict: str
    """``meets`` where 1 lies within the limits, ``query`` where not, ``unchecked``
    where it cannot be judged."""


@dataclass(frozen=True, slots=True)
class _Rows:
    """Differences of one component, each with the variances that make it."""

    square: Floats
    """(r,) m²"""
    share: Floats
    """(r, c) stated variance of the vectors by class, m²."""
    rest: Floats
    """(r,) variance that is not of the vectors: poles, bases."""


def spreads(hung: Hung, first: Ints, second: Ints) -> tuple[Spread, ...]:
    """Return the spread of every class of sky, in plan and in height.

    Parameters
    ----------
    hung : Hung
        With the vectors' covariances as stated.
    first, second : ndarray of int, shape (k,)
        Repeats that are two observations.

    Returns
    -------
    tuple of Spread
        Plan and height of each class, in the order in which the classes are met.
    """
    names = (*hung.shots.sky.names, NOT_SAID)
    number = np.where(hung.shots.sky.number >= 0, hung.shots.sky.number, len(names) - 1)
    detail = np.unique(number)
    made = []
    for part, axes in (("plan", (0, 1)), ("height", (2,))):
        rows = _rows(hung, first, second, number, axes, len(names))
        variance, freedom, far = components(rows.square, rows.share, rows.rest)
        for k in detail.tolist():
            mine = rows.share[:, k] > 0
            made.append(
                _judged(
                    names[k],
                    part,
                    float(variance[k]),
                    float(freedom[k]),
                    int((mine & ~far).sum()) // len(axes),
                    int((mine & far).sum()),
                )
            )
    return tuple(made)


def _rows(
    hung: Hung, first: Ints, second: Ints, sky: Ints, axes: tuple[int, ...], count: int
) -> _Rows:
    """Return the differences of some axes as rows."""
    coordinates, budget = hung.shots.coordinates, hung.budget
    value = (coordinates[first] - coordinates[second])[:, axes]
    variances = np.diagonal(budget.vector, axis1=1, axis2=2)[:, axes]
    rest = np.diagonal(
        budget.pole[first] + budget.pole[second] + between_bases(hung, first, second),
        axis1=1,
        axis2=2,
    )[:, axes]
    share = np.zeros((len(first), len(axes), count))
    rows = np.arange(len(first))
    for ends in (first, second):
        share[rows, :, sky[ends]] += variances[ends]
    sound = np.isfinite(value + share.sum(axis=2) + rest)
    return _Rows(value[sound] ** 2, share[sound], rest[sound])


def components(
    square: Floats, share: Floats, rest: Floats
) -> tuple[Floats, Floats, Bools]:
    """Return variance components of differences, by maximum likelihood.

    A difference has the variance Σ θ_c share_c + rest. Fisher's scoring
    (Σ ½ share shareᵀ / V²) θ = Σ ½ share (d² − rest) / V², begun from medians so that
    a blunder cannot lift it, and repeated without the differences beyond 0.1 %.

    Parameters
    ----------
    square : ndarray, shape (r,)
        Squares of differences, m².
    share : ndarray, shape (r, c)
        Stated variance of each class in each difference, m².
    rest : ndarray, shape (r,)
        Variance that is not to be scaled, m².

    Returns
    -------
    variance : ndarray, shape (c,)
        θ; NaN for a class in no difference.
    freedom : ndarray, shape (c,)
        2 θ² / var θ: exactly the number of differences where a class stands alone
        and nothing else takes part.
    far : ndarray of bool, shape (r,)
        Differences that took no part.

    Examples
    --------
    Three differences of one class, each of stated variance 2 m²: θ = (9 + 1 + 2)/3/2.

    >>> made = components(np.array([9.0, 1, 2]), np.full((3, 1), 2.0), np.zeros(3))
    >>> [value.round(6).tolist() for value in made[:2]]
    [[2.0], [3.0]]
    """
    there = (share > 0).any(axis=0)
    theta = np.where(there, _start(square, share, rest), 0.0)
    far = np.zeros(len(square), dtype=bool)
    inverse: Floats = np.zeros((int(there.sum()),) * 2)
    for _ in range(_ROUNDS):
        before = theta.copy()
        total = share @ theta + rest
        far = square > _FAR**2 * total
        weight = np.where(far, 0.0, 0.5) / total**2
        some = share[:, there]
        fisher = some.T @ (weight[:, None] * some)
        inverse = np.asarray(np.linalg.pinv(fisher, hermitian=True))
        theta[there] = inverse @ (some.T @ (weight * (square - rest)))
        # A component below nothing says only that the rest is stated too large.
        theta = np.where(there, np.maximum(theta, _LEAST), 0.0)
        if np.allclose(theta, before, rtol=1e-10, atol=0):
            break
    freedom = np.zeros(len(theta))
    of_each = np.diagonal(inverse)
    sound = of_each > 0
    freedom[np.flatnonzero(there)[sound]] = (
        2 * theta[there][sound] ** 2 / of_each[sound]
    )
    return np.where(there, theta, np.nan), freedom, far


def _start(square: Floats, share: Floats, rest: Floats) -> Floats:
    """Return a first θ of each class from the median of its differences."""
    made = np.ones(share.shape[1])
    for k in range(share.shape[1]):
        mine = share[:, k] > 0
        if mine.any():
            ratio = (square[mine] - rest[mine]) / share[mine].sum(axis=1)
            middle = float(np.median(ratio))
            made[k] = max(middle / _EXPECTED, 0.01)
    return made


def _judged(
    sky: str, part: str, variance: float, freedom: float, pairs: int, left_out: int
) -> Spread:
    nothing = float("nan")
    if not freedom >= ENOUGH:
        return Spread(
            sky, part, nothing, nothing, nothing, freedom, pairs, left_out, "unchecked"
        )
    low, high = (float(special.chdtri(freedom, tail)) for tail in (0.025, 0.975))
    multiplier = float(np.sqrt(variance))
    lower = multiplier * float(np.sqrt(freedom / low))
    upper = multiplier * float(np.sqrt(freedom / high))
    verdict = "meets" if lower <= 1 <= upper else "query"
    return Spread(
        sky, part, multiplier, lower, upper, freedom, pairs, left_out, verdict
    )


def with_spreads(hung: Hung, found: tuple[Spread, ...]) -> Hung:
    """Return the shots with what was learnt of their sky put on their vectors.

    A class that cannot be judged keeps what is stated.

    Parameters
    ----------
    hung : Hung
        With the vectors' covariances as stated.
    found : tuple of Spread
    """
    names = (*hung.shots.sky.names, NOT_SAID)
    sky = hung.shots.sky.number
    factor = np.ones((len(names), 3))
    for one in found:
        if np.isfinite(one.multiplier):
            axes = [0, 1] if one.part == "plan" else [2]
            factor[names.index(one.sky), axes] = one.multiplier
    # −1 is the last: the shots whose sky is not booked.
    by_shot = factor[sky]
    return with_vectors(
        hung, hung.budget.vector * by_shot[:, :, None] * by_shot[:, None, :]
    )
