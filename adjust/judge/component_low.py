"""A sparse solution with given multipliers, and what of low rank changes it.

An exact condition cᵀx = 0 takes A h hᵀAᵀ / cᵀh off A Q Aᵀ, with h = Q c. Causes that
are taken as true, with whitened columns S, are unknowns of their own: they add
R (SᵀR)⁻¹ Rᵀ with R = S − A Q AᵀS, what of S the other unknowns do not take up
(elimination of the unknowns in blocks; derived here).
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from scipy.linalg import block_diag

from ...networks.covariances import Floats
from ..constraint import Constraint
from ..normal import Whitened
from ..on_condition import BoundFactor, bound_factor, with_condition
from ..sparse import Plan, SparseFactor


@dataclass(frozen=True, slots=True)
class Solved:
    """The unknowns taken out of whitened rows: A Q Aᵀ = A Z Aᵀ + R M Rᵀ."""

    factor: SparseFactor
    """Of Z⁻¹."""
    left: Sequence[Floats]
    """(c, q) of each batch: minus the residuals."""
    low: Sequence[Floats]
    """(c, q, r) of each batch: R."""
    weight: Floats
    """(r, r) M."""
    log_determinant: float
    """Of the normal matrix of all unknowns, on the condition, but for a constant."""


def solved(
    plan: Plan,
    rows: Sequence[Whitened],
    shifts: Sequence[Floats],
    bound: Constraint | None,
) -> Solved:
    """Return the least squares solution of rows, with causes taken as true.

    Parameters
    ----------
    plan : Plan
    rows : sequence of Whitened
    shifts : sequence of ndarray, shape (c, q, p)
        Whitened columns of the causes in each batch.
    bound : Constraint, optional

    Raises
    ------
    brasscap.adjust.dense.Singular
        With the null vectors.
    """
    count = len(plan.piece)
    matrix = plan.assemble(with_condition(rows, bound, count))
    made: SparseFactor | BoundFactor
    if bound is None:
        made = factor = plan.factor(matrix)
        taken, size = np.zeros((count, 0)), np.zeros(0)
    else:
        made = bound_factor(plan, matrix, bound)
        factor = made.whole
        taken, size = made.moved[:, None], np.array([made.size])
    given = [
        np.concatenate([batch.misclosure[:, :, None], more], axis=2)
        for batch, more in zip(rows, shifts, strict=True)
    ]
    rest = _less(rows, given, made.solve(_pull(rows, given, count)))
    own = _summed(shifts, rest)
    alone, inverse = own[:, 0], np.linalg.inv(own[:, 1:])
    left = [one[:, :, 0] - one[:, :, 1:] @ (inverse @ alone) for one in rest]
    bent = _less(rows, None, -taken)
    low = [
        np.concatenate([one, other[:, :, 1:]], axis=2)
        for one, other in zip(bent, rest, strict=True)
    ]
    # A list is not let go as the inverse is formed: the derivative needs the fronts.
    fronts = list(factor.eliminated)
    pivots = sum(float(np.log(part.pivots).sum()) for part in fronts)
    size_of_causes = float(np.linalg.slogdet(own[:, 1:])[1])
    return Solved(
        replace(factor, eliminated=fronts),
        left,
        low,
        block_diag(np.diag(-1 / size), inverse),
        pivots + float(np.log(size).sum()) + size_of_causes,
    )


def _pull(rows: Sequence[Whitened], given: Sequence[Floats], count: int) -> Floats:
    """Return Aᵀ of what is given of each batch, (u, k)."""
    total = np.zeros((count + 1, given[0].shape[2] if given else 1))
    for batch, one in zip(rows, given, strict=True):
        np.add.at(total, batch.columns, np.swapaxes(batch.design, 1, 2) @ one)
    return total[:-1]


def _less(
    rows: Sequence[Whitened], given: Sequence[Floats] | None, unknowns: Floats
) -> list[Floats]:
    """Return what is given of each batch, 0 where nothing is, less A times unknowns."""
    padded = np.append(unknowns, np.zeros((1, unknowns.shape[1])), axis=0)
    made = [-batch.design @ padded[batch.columns] for batch in rows]
    if given is None:
        return made
    return [one + more for one, more in zip(given, made, strict=True)]


def _summed(shifts: Sequence[Floats], rest: Sequence[Floats]) -> Floats:
    """Return Sᵀ of what is left, (p, 1 + p)."""
    products = [
        np.einsum("cqp,cqk->pk", one, other)
        for one, other in zip(shifts, rest, strict=True)
    ]
    return np.asarray(sum(products[1:], start=products[0]))
