"""The normal equations of a solution again, with columns joined that nothing joins.

So that one selected inverse holds covariances that nobody observed between.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from ..networks.covariances import Floats, Ints
from . import sparse
from .adjustment import Adjustment
from .constraint import Constraint, azimuth_constraint
from .elimination import elimination
from .on_condition import bound_factor, with_condition


@dataclass(frozen=True, slots=True)
class Joined:
    """A normal matrix with more in its pattern than it has."""

    plan: sparse.Plan
    matrix: sparse.Normal
    """With an exact condition, if there is one, as an observation."""
    bound: Constraint | None

    def derivative(self, change: Floats) -> tuple[Floats, Floats]:
        """Return the inverse C on the pattern, and C W C for a change W, (entries,).

        On the condition, where there is one: C = M⁻¹ − h hᵀ / s, h = M⁻¹c, s = cᵀh.

        Parameters
        ----------
        change : ndarray, shape (entries,)
            W on the pattern.
        """
        if self.bound is None:
            factor = self.plan.factor(self.matrix)
            inverse, moved = sparse.derivative(self.plan, factor.eliminated, change)
            return inverse, -moved
        made = bound_factor(self.plan, self.matrix, self.bound)
        inverse, moved = sparse.derivative(self.plan, made.whole.eliminated, change)
        h, size = made.moved, made.size
        rows, columns = self.plan.pattern.places()
        along = made.whole.solve(replace(self.matrix, values=change) @ h)
        across = (along[rows] * h[columns] + h[rows] * along[columns]) / size
        both = h[rows] * h[columns] / size
        share = float(self.bound.coefficients @ along) / size
        return inverse - both, -moved - across + share * both

    def blocks(self, entries: Floats, columns: Ints) -> Floats:
        """Return (e, k, w, w) blocks of e things that are given on the pattern.

        Parameters
        ----------
        entries : ndarray, shape (e, entries)
        columns : ndarray of int, shape (k, w)
            Joined when the plan was made; −1 gives zeros.

        Raises
        ------
        ValueError
            Some were not joined.
        """
        at = self.plan.pattern.find(columns.T, columns.T)
        if (at == -1).any():
            raise ValueError("columns that were not joined when the plan was made")
        at = np.ascontiguousarray(np.moveaxis(at, -1, 0))
        return np.where(at < 0, 0.0, entries.take(np.maximum(at, 0), axis=1))


def joined(adjustment: Adjustment, more: Sequence[Ints]) -> Joined:
    """Return the normal matrix of a solution with some more columns joined.

    Parameters
    ----------
    adjustment : Adjustment
        Minimal or constrained.
    more : sequence of ndarray of int, shape (c, w)
        Columns, −1 for none; those of a row are all joined to each other.
    """
    network, hold, nodes = adjustment.network, adjustment.datum, adjustment.nodes
    columns, rows = adjustment.columns, adjustment.whitened
    bound = azimuth_constraint(network, hold, nodes, columns)
    at = (network, hold, nodes, columns)
    solver = elimination(*at, adjustment.equations, rows, bound, "sparse", joined=more)
    assert solver.plan is not None
    matrix = solver.plan.assemble(with_condition(rows, bound, solver.count))
    return Joined(solver.plan, matrix, bound)
