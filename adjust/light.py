"""A large adjustment in little memory: what can be made again is, if asked for.

Rows are a third as large as the factor, the factor ten times as large as the network;
covariances on the pattern of the matrix are kept, and the condition.
"""

from collections.abc import Sequence
from dataclasses import replace

from ..networks import Network
from ..networks.covariances import Ints
from .adjustment import Adjustment
from .datum import Datum
from .elimination import Factor
from .equations import Equations, equations
from .nodes import Nodes
from .normal import Whitened, whiten
from .remade import Remade
from .sparse.factor import SparseFactor
from .sparse.released import released

LARGE = 20_000
"""Unknowns from which memory is worth the time to make something again."""


def is_large(columns: Ints) -> bool:
    """Return whether a network has so many unknowns that memory counts."""
    return int(columns.max(initial=-1)) >= LARGE


def rows_at(
    network: Network, hold: Datum, nodes: Nodes, columns: Ints
) -> tuple[Sequence[Equations], Sequence[Whitened]]:
    """Return the equations and whitened rows at a place; of many, made when needed.

    Parameters
    ----------
    network : Network
    hold : Datum
    nodes : Nodes
    columns : ndarray of int, shape (N + q, 3)
    """
    system = Remade(lambda: equations(network, hold, nodes))
    rows = Remade(
        lambda: tuple(batch for some in system for batch in whiten(some, columns))
    )
    if is_large(columns):
        return system, rows
    return tuple(system), tuple(rows)


def light_factor(factor: Factor, columns: Ints) -> Factor:
    """Return a factor; of a large network without the tables that only solving needs.

    Parameters
    ----------
    factor : Factor
    columns : ndarray of int, shape (N + q, 3)
    """
    if not is_large(columns) or not isinstance(factor, SparseFactor):
        return factor
    return factor if factor.border.size else released(factor)


def without_rows(adjustment: Adjustment) -> Adjustment:
    """Return the same; rows of a large one are let go, and made again if asked for.

    Parameters
    ----------
    adjustment : Adjustment
    """
    if not is_large(adjustment.columns):
        return adjustment
    at = (adjustment.network, adjustment.datum, adjustment.nodes, adjustment.columns)
    system, rows = rows_at(*at)
    return replace(adjustment, equations=system, whitened=rows)
