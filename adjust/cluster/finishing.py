"""What a worker leaves of a domain: positions, covariances, tests."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ...networks.covariances import Floats, Ints
from ..equations import Equations
from ..judge import set_up_tests
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

    Set-ups that other domains have too, and held marks, are not among them: their
    tests need all that was observed there.
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
    inside = _inside(domain, system)
    if len(inside):
        tests = set_up_tests.formed(part, set_up_tests.narrow_ones(part, inside))
        kinds = (set_up_tests.PLACE, tests.place), (set_up_tests.HEIGHT, tests.height)
        for name, found in kinds:
            numbers = domain.numbers["set-up"][found.edges]
            made |= columns_of(name, numbers, found)
    return made


def _inside(domain: Domain, system: Sequence[Equations]) -> Ints:
    """Return the set-ups that no other domain has: all observed there is here."""
    first = len(domain.network.marks)
    columns = domain.columns[first : first + len(domain.network.set_ups)]
    shared = np.append(domain.kept, False)[columns].any(axis=1)
    own = (columns >= 0).any(axis=1) & ~shared
    used = [some.used for some in system if some.kind == "set-up"]
    return np.flatnonzero(own & used[0]) if used else np.zeros(0, np.int64)
