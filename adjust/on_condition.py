"""A factor on an exact condition: added as an observation, then taken out again."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from ..networks.covariances import Floats, Ints
from .constraint import Constraint
from .normal import Whitened, contributions

if TYPE_CHECKING:
    from .sparse import Normal, Plan, SparseFactor


@dataclass(frozen=True, slots=True)
class BoundFactor:
    """A factor on an exact condition cᵀx = w: M⁻¹ − h hᵀ / cᵀh with h = M⁻¹c."""

    whole: "SparseFactor"
    moved: Floats
    """(u,) h."""
    size: float
    """cᵀh."""

    @property
    def reciprocal_condition(self) -> float:
        """Of the matrix with the condition added as an observation."""
        return self.whole.reciprocal_condition

    def solve(self, right_side: Floats) -> Floats:
        """Return the solution that leaves cᵀx = 0."""
        along = np.tensordot(self.moved, right_side, axes=1) / self.size
        return self.whole.solve(right_side) - np.multiply.outer(self.moved, along)

    def blocks(self, first: Ints, second: Ints) -> Floats:
        """Return covariance blocks between columns; −1 gives 0."""
        h = np.append(self.moved, 0.0)
        taken = h[first][..., :, None] * h[second][..., None, :] / self.size
        return np.asarray(self.whole.blocks(first, second) - taken)

    def cliques(self, columns: Ints, place: tuple[int, int]) -> Floats:
        """Return covariances (c, w, w) of what each cluster of a batch has."""
        return self.blocks(columns, columns)


def bound_factor(plan: "Plan", matrix: "Normal", bound: Constraint) -> BoundFactor:
    """Return the factor on a condition of a matrix to which it has been added.

    Parameters
    ----------
    plan : Plan
    matrix : Normal
        N + k c cᵀ.
    bound : Constraint
    """
    factor = plan.factor(matrix)
    moved = factor.solve(bound.coefficients)
    return BoundFactor(factor, moved, float(bound.coefficients @ moved))


def with_condition(
    rows: Sequence[Whitened], bound: Constraint | None, count: int
) -> list[tuple[Ints, Floats]]:
    """Return what each batch adds, and the condition as an observation if there is one.

    N + k c cᵀ has the same solution on the condition, and can be factored.

    Parameters
    ----------
    rows : sequence of Whitened
    bound : Constraint, optional
    count : int
        Unknowns.
    """
    own = [contributions(batch) for batch in rows]
    if bound is not None:
        weight = _weight(rows, bound, count)
        at = np.flatnonzero(bound.coefficients)
        c = bound.coefficients[at]
        i, j = np.tril_indices(len(at))
        own.append((at[None], (weight * c[i] * c[j])[None]))
    return own


def _weight(rows: Sequence[Whitened], bound: Constraint, count: int) -> float:
    """Return a weight for the condition like that of what is observed there."""
    diagonal = np.zeros(count + 1)
    for batch in rows:
        np.add.at(
            diagonal, batch.columns, np.einsum("cqw,cqw->cw", *[batch.design] * 2)
        )
    at = bound.pivot
    return float(diagonal[at] / bound.coefficients[at] ** 2)
