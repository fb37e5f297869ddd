"""What a worker leaves of a domain: positions, covariances, tests."""

from dataclasses import dataclass

from ...networks.covariances import Floats
from ..judge.edge_tests import formed
from ..nodes import Nodes
from ..sparse import SparseFactor
from .covariances import sorted_pairs
from .domains import Domain
from .separators import Block, block_of
from .store import Column, Store
from .tasks import Stage, factor_of, plan_of, rows_at, told
from .tested import columns_of
from .whole import PartAdjustment

SOLUTION = ("node", "xyz", "values")
"""Columns of a domain's result that say where its nodes are."""


@dataclass(frozen=True, slots=True)
class Whole:
    """What of the whole network the tests of a domain need."""

    square_sum: float
    """vᵀPv."""
    freedom: int
    middle: Floats | None
    """(3,) of all marks; None where nothing is turned about it."""


def finished(store: Store, stage: Stage, above: Block, whole: Whole) -> int:
    """Form covariances and tests of a domain, leave the result; return its bytes."""
    domain, plan = stage.opened.domain, plan_of(stage)
    factor = factor_of(stage).given(block_of(above, stage.unknowns))
    places = len(stage.nodes.xyz)
    arrays: dict[str, Column] = {
        "node": domain.nodes[domain.own],
        "xyz": stage.nodes.xyz[domain.own[:places]],
        "values": stage.nodes.values[domain.own[places:]],
    }
    row, column = (domain.unknowns[at] for at in plan.pattern.places())
    arrays |= sorted_pairs(row, column, factor.inverse)
    arrays |= tests_of(domain, stage.nodes, factor, whole)
    return store.keep(domain.number, arrays)


def tests_of(
    domain: Domain, nodes: Nodes, factor: SparseFactor, whole: Whole
) -> dict[str, Column]:
    """Return the tests of a domain's observations, columns by kind.

    Set-ups and held marks, which need all that was observed there, are not among
    them.
    """
    network = told(domain, whole.middle)
    rows, system = rows_at(network, domain, nodes)
    part = PartAdjustment(
        network, domain.hold, nodes, domain.columns, system, rows, factor, None,
        1, whole.square_sum, whole.freedom,
    )  # fmt: skip
    made: dict[str, Column] = {}
    for some in system:
        found = formed(part, some)
        numbers = domain.numbers[some.kind][found.edges]
        made |= columns_of(some.kind, numbers, found)
    return made
