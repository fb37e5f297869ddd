"""What a worker leaves of a domain: positions, covariances, tests."""

from dataclasses import dataclass

import numpy as np

from ...networks.covariances import Floats, Ints
from ..adjustment import Adjustment
from ..judge.edges import of_edges
from ..judge.shifts import some_of
from ..judge.verdicts import tested
from ..nodes import Nodes
from ..sparse import SparseFactor
from .domains import Domain
from .separators import Block, block_of
from .tasks import Stage, Store, kept_of, plan_of, rows_at, told

SOLUTION = ("node", "xyz", "values", "row", "column", "covariance")
"""Columns of a domain's result without its tests."""


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
    assert stage.factor is not None
    domain, plan = stage.opened.domain, plan_of(stage)
    factor = stage.factor.given(block_of(above, domain.unknowns[kept_of(stage)]))
    places = len(stage.nodes.xyz)
    arrays: dict[str, Floats | Ints] = {
        "node": domain.nodes[domain.own],
        "xyz": stage.nodes.xyz[domain.own[:places]],
        "values": stage.nodes.values[domain.own[places:]],
        "row": domain.unknowns[plan.rows],
        "column": domain.unknowns[plan.columns],
        "covariance": factor.inverse,
    }
    arrays |= tests_of(domain, stage.nodes, factor, whole)
    return store.keep(domain.number, arrays)


def tests_of(
    domain: Domain, nodes: Nodes, factor: SparseFactor, whole: Whole
) -> dict[str, Floats | Ints]:
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
    made: dict[str, Floats | Ints] = {}
    for some in system:
        found, redundancy = of_edges(part, some)
        used = np.flatnonzero(some.used)
        name = some.kind
        made[f"{name}: number"] = domain.numbers[name][used]
        made[f"{name}: redundancy"] = redundancy[used]
        if name == "set-up":
            continue
        judged = tested(some_of(found, used), network.options, part.vtpv, part.freedom)
        made[f"{name}: shift"] = judged.shift
        made[f"{name}: sd of shift"] = judged.sd_shift
        made[f"{name}: smallest detectable"] = judged.smallest_detectable
        made[f"{name}: test, stated"] = judged.stated.test
        made[f"{name}: test, estimated"] = judged.estimated.test
    return made


@dataclass(frozen=True, slots=True)
class PartAdjustment(Adjustment):
    """The adjustment of a domain, its variance factor that of the whole."""

    square_sum: float = float("nan")
    freedom: int = 0

    @property
    def vtpv(self) -> float:
        """The weighted square sum of the residuals of the whole network."""
        return self.square_sum

    @property
    def degrees_of_freedom(self) -> int:
        """Those of the whole network."""
        return self.freedom
