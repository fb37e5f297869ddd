"""A first look at very many candidates in a large network, exact, without its inverse.

The columns of every candidate and of every pair that matters are joined in the pattern
of the factor with weight zero, so that the selected inverse holds the covariance C of
each candidate's marks. G = C W C, of which the gain is made (``screen``), is minus the
derivative of the inverse of N + t W at t = 0; the same tree gives it (``derivative``).
"""

from collections.abc import Sequence

import numpy as np

from ...networks.covariances import Floats, Ints
from ..adjustment import Adjustment
from ..joined import joined
from .observable import Observable
from .present import differences


def screened_sparse(
    adjustment: Adjustment,
    ends: Ints,
    limit: Floats,
    multipliers: Floats,
    candidates: Sequence[Observable],
) -> Floats:
    """Return what each candidate gains in the weighted sum of target variances, (k,).

    As ``screened`` does, for networks whose covariance would be too large.

    Parameters
    ----------
    adjustment : Adjustment
        Minimal or constrained.
    ends, limit, multipliers
        As in ``state_of``.
    candidates : sequence of Observable
        Between marks that lie near each other: each joins its marks in the factor.
    """
    shapes: dict[tuple[int, int], list[int]] = {}
    for k, one in enumerate(candidates):
        shapes.setdefault((len(one.marks), len(one.design)), []).append(k)
    groups = [np.array(rows) for rows in shapes.values()]
    columns = [
        adjustment.columns[np.array([candidates[k].marks for k in rows])].reshape(
            len(rows), -1
        )
        for rows in groups
    ]
    blocks = blocks_for(adjustment, ends, limit, multipliers, columns)
    made = np.zeros(len(candidates))
    for rows, (covariance, inner) in zip(groups, blocks, strict=True):
        some = [candidates[k] for k in rows.tolist()]
        design = np.array([one.design for one in some])
        noise = np.array([one.covariance for one in some])
        made[rows] = gains(covariance, inner, design, noise)
    return made


def gains(covariance: Floats, inner: Floats, design: Floats, noise: Floats) -> Floats:
    """Return tr((Q + A C Aᵀ)⁻¹ A G Aᵀ) of candidates of one shape, (k,).

    Parameters
    ----------
    covariance, inner : ndarray, shape (k, 3 w, 3 w)
        C and G of the marks of each.
    design : ndarray, shape (k, r, 3 w)
    noise : ndarray, shape (k, r, r)

    Examples
    --------
    A position as good as what is known halves its variance, 4.

    >>> one = np.eye(1)[None]
    >>> gains(4 * one, 16 * one, one, 4 * one)
    array([2.])
    """
    turned = np.swapaxes(design, 1, 2)
    whole = noise + design @ covariance @ turned
    made = np.linalg.solve(whole, design @ inner @ turned)
    return np.asarray(np.trace(made, axis1=1, axis2=2))


def blocks_for(
    adjustment: Adjustment,
    ends: Ints,
    limit: Floats,
    multipliers: Floats,
    columns: Sequence[Ints],
) -> list[Floats]:
    """Return C and G = C W C between the columns of candidates, (2, k, w, w) arrays.

    Parameters
    ----------
    adjustment, ends, limit, multipliers
        As in ``screened_sparse``.
    columns : sequence of ndarray of int, shape (k, w)
        Of the candidates' marks, those of a shape together; −1 for none.
    """
    weight = np.nan_to_num((multipliers / limit) ** 2)[:, [0, 0, 1]]
    difference, at = differences(adjustment, ends)
    each = np.swapaxes(difference, 1, 2) @ (weight[:, :, None] * difference)
    lower = (slice(None), *np.tril_indices(6))
    wide = joined(adjustment, [at, *columns])
    change = wide.plan.assemble([(at, each[lower])]).values
    both = np.stack(wide.derivative(change))
    return [wide.blocks(both, some) for some in columns]
