"""The factor of a solution that is known: made again, of what defines the solution."""

from dataclasses import replace
from functools import cached_property

from ..networks import Network
from ..networks.covariances import Floats, Ints
from .adjustment import Adjustment
from .constraint import azimuth_constraint
from .datum import Datum
from .elimination import Elimination, Factor, elimination
from .equations import equations
from .estimate import begin_at
from .light import is_large, without_rows
from .nodes import Nodes
from .normal import whiten


def factor_again(
    network: Network,
    nodes: Nodes,
    hold: Datum,
    columns: Ints,
    solver: Elimination | None = None,
) -> Factor:
    """Return the factor of the normal equations at a solution.

    Parameters
    ----------
    network : Network
    nodes : Nodes
        At the solution.
    hold : Datum
    columns : ndarray of int, shape (N + q, 3)
    solver : Elimination, optional
        As it was eliminated before; else planned where an iteration begins, as then.

    Raises
    ------
    brasscap.adjust.dense.Singular
    """
    system = equations(network, hold, nodes)
    rows = [batch for some in system for batch in whiten(some, columns)]
    bound = azimuth_constraint(network, hold, nodes, columns)
    if solver is None:
        at = (network, hold, begin_at(network, hold), columns, system, rows, bound)
        solver = elimination(*at, arithmetic="sparse")
    matrix = solver.matrix(rows)
    if bound is None:
        # Of a large network there is no room for the rows beside the factor.
        del system
        rows.clear()
    return solver.factor(rows, matrix, bound)


class FactorLater:
    """A factor of which the condition is known, the rest made when it is asked for."""

    def __init__(self, adjustment: Adjustment) -> None:
        self._at = (
            adjustment.network,
            adjustment.nodes,
            adjustment.datum,
            adjustment.columns,
        )
        self._condition = adjustment.reciprocal_condition

    @cached_property
    def whole(self) -> Factor:
        """The factor, made."""
        return factor_again(*self._at)

    @property
    def reciprocal_condition(self) -> float:
        """Of the normal matrix scaled to unit diagonal."""
        return self._condition

    def solve(self, right_side: Floats) -> Floats:
        """Return N⁻¹b, (u,) or (u, k)."""
        return self.whole.solve(right_side)

    def blocks(self, first: Ints, second: Ints) -> Floats:
        """Return covariance blocks between columns (…, p) and (…, q); −1 gives 0."""
        return self.whole.blocks(first, second)

    def cliques(self, columns: Ints, place: tuple[int, int]) -> Floats:
        """Return covariances (c, w, w) of what each cluster of a batch has."""
        return self.whole.blocks(columns, columns)


def without_factor(adjustment: Adjustment) -> Adjustment:
    """Return a solution of which a large network's factor and rows are let go.

    Parameters
    ----------
    adjustment : Adjustment
        Of which all that is wanted is known; what else is asked is worked out again.
    """
    if not is_large(adjustment.columns):
        return adjustment
    return replace(without_rows(adjustment), factor=FactorLater(adjustment))
