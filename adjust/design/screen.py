"""A first look at very many candidates: what each gains in precision, exactly.

One observation more, N = Q + A C Aᵀ, lowers any weighted sum of variances tr(W C) by
tr(N⁻¹ A G Aᵀ) with G = C W C: one matrix for all candidates, so that a vector costs two
gathers and one 3 × 3 inverse in closed form.
"""

from collections.abc import Sequence

import numpy as np

from ...networks.covariances import Floats, Ints
from .observable import Observable
from .state import State, columns_of

_SIX = ((0, 0), (0, 1), (0, 2), (1, 1), (1, 2), (2, 2))


def wanted(state: State) -> Floats:
    """Return how much each pair's variances east, north, up count, (3, P).

    By the square of what they are of their limit; what has no limit does not count.

    Parameters
    ----------
    state : State
    """
    weight = np.nan_to_num((state.multipliers / state.limit) ** 2)
    return np.asarray(weight[:, [0, 0, 1]].T)


def inner_of(state: State) -> Floats:
    """Return G = C W C between the kept marks, (3 m, 3 m): what all candidates need.

    Parameters
    ----------
    state : State
    """
    across = state.across.reshape(len(state.covariance), -1)
    made: Floats = (across * wanted(state).ravel()) @ across.T
    return made


def screened(state: State, candidates: Sequence[Observable]) -> Floats:
    """Return what each candidate gains in the weighted sum of target variances, (k,).

    Parameters
    ----------
    state : State
    candidates : sequence of Observable
    """
    made = np.zeros(len(candidates))
    inner = inner_of(state)
    shapes: dict[tuple[int, int], list[int]] = {}
    for k, one in enumerate(candidates):
        shapes.setdefault((len(one.marks), len(one.design)), []).append(k)
    for rows in shapes.values():
        some = [candidates[k] for k in rows]
        at = columns_of(state.places(np.array([one.marks for one in some])))
        design = np.array([one.design for one in some])
        turned = np.swapaxes(design, 1, 2)
        block = at[:, :, None], at[:, None, :]
        whole = np.array([one.covariance for one in some])
        whole = whole + design @ state.covariance[block] @ turned
        gain = np.linalg.solve(whole, design @ inner[block] @ turned)
        made[rows] = np.trace(gain, axis1=1, axis2=2)
    return made


def vector_gains(
    covariance: Floats, inner: Floats, start: Ints, end: Ints, noise: Floats
) -> Floats:
    """Return the gains of k vectors between marks, everything in the same axes.

    Parameters
    ----------
    covariance, inner : ndarray, shape (3 m, 3 m)
        C and G = C W C, in axes common to all marks.
    start, end : ndarray of int, shape (k,)
        Marks.
    noise : ndarray, shape (k, 3, 3)

    Returns
    -------
    ndarray, shape (k,)
    """
    marks = len(covariance) // 3
    both = start * marks + end
    whole = [
        between[both] + noise[:, i, j]
        for (i, j), between in zip(_SIX, _between(covariance), strict=True)
    ]
    gained = [between[both] for between in _between(inner)]
    return trace_of_product(whole, gained)


def _between(matrix: Floats) -> list[Floats]:
    """Return A M Aᵀ of every two marks, six columns of (m²,)."""
    marks = len(matrix) // 3
    split = matrix.reshape(marks, 3, marks, 3)
    own = np.arange(marks)
    made = []
    for i, j in _SIX:
        cross, alone = split[:, i, :, j], split[own, i, own, j]
        back = cross if i == j else split[:, j, :, i]
        made.append(np.ravel((alone[:, None] + alone) - cross - back))
    return made


def trace_of_product(whole: Sequence[Floats], gained: Sequence[Floats]) -> Floats:
    """Return tr(N⁻¹ M) of symmetric 3 × 3 matrices, given as their six columns.

    Parameters
    ----------
    whole, gained : sequence of six ndarray, shape (k,)
        xx, xy, xz, yy, yz, zz of N and of M.

    Examples
    --------
    >>> one, two = np.array([2.0]), np.array([0.0])
    >>> unit = [one, two, two, one, two, one]
    >>> trace_of_product(unit, unit)
    array([3.])
    """
    a, b, c, d, e, f = whole
    xx, xy, xz = d * f - e * e, c * e - b * f, b * e - c * d
    yy, yz, zz = a * f - c * c, b * c - a * e, a * d - b * b
    u, v, w, x, y, z = gained
    made = xx * u + yy * x + zz * z + 2 * (xy * v + xz * w + yz * y)
    return np.asarray(made / (a * xx + b * xy + c * xz))
