"""What a worker does with a domain; every function makes the same from the same.

So that what is lost with a worker can be made again elsewhere. Large things
(``Opened``, ``Stage``) stay where they are made; ``Border``, ``Sides``, ``Block`` and
``Facts`` travel.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Protocol

import numpy as np

from ...networks import Network
from ...networks.covariances import Floats, Ints
from ..adjustment import Adjustment
from ..dense import Singular
from ..elimination import Elimination, elimination
from ..equations import Equations, equations
from ..judge.shifts import of_edges, some_of
from ..judge.verdicts import tested
from ..moves import moved_by, on_held
from ..nodes import Nodes, nodes_at
from ..normal import Whitened, contributions, right_side, weighted_square_sum, whiten
from ..sparse import Plan, SparseFactor
from .domains import Domain
from .separators import Block, Border, Sides, block_of, find


class Store(Protocol):
    """Where domains wait for workers, and where these leave their results."""

    def put(self, domain: Domain) -> None:
        """Keep a domain."""

    def get(self, number: int) -> Domain:
        """Return a domain."""

    def keep(self, number: int, arrays: dict[str, Floats | Ints]) -> int:
        """Keep the result of a domain and return how many bytes it has."""

    def kept(self, number: int, names: Sequence[str]) -> dict[str, Floats | Ints]:
        """Return some columns of the result of a domain."""


SOLUTION = ("node", "xyz", "values", "row", "column", "covariance")
"""Columns of a domain's result without its tests."""


@dataclass(frozen=True, slots=True)
class Opened:
    """A domain on its worker, with the plan of its elimination."""

    domain: Domain
    solver: Elimination
    observed: int
    """Rows of its observations, priors and set-ups among them."""


@dataclass(frozen=True, slots=True)
class Place:
    """Where the nodes of a domain are."""

    xyz: Floats
    values: Floats


@dataclass(frozen=True, slots=True)
class Stage:
    """A domain eliminated, and its observations where its nodes now are."""

    opened: Opened
    nodes: Nodes
    rows: tuple[Whitened, ...]
    factor: SparseFactor | None
    """None where the inside is not determined."""
    null: Floats
    """(u, d) what of the inside floats; mostly nothing."""
    largest: float = 0.0
    """m or rad; the last move, before any halving."""


@dataclass(frozen=True, slots=True)
class Facts:
    """What a domain says about itself at every step."""

    square_sum: float
    """vᵀPv of its observations."""
    largest: float
    """m or rad; the last move."""
    middle: Floats
    """(3,) sum of the positions of the marks it answers for."""
    finite: bool
    observed: int
    """Rows of its observations."""


def opened(store: Store, number: int) -> Opened:
    """Read a domain and plan its elimination."""
    domain = store.get(number)
    place = Place(domain.xyz, domain.values)
    nodes = _nodes(domain, place)
    rows, system = _rows(domain.network, domain, nodes)
    solver = elimination(
        domain.network,
        domain.hold,
        nodes,
        domain.columns,
        system,
        rows,
        kept=domain.kept,
        arithmetic="sparse",
    )
    observed = sum(int(kind.active[kind.used].sum()) for kind in system)
    return Opened(domain, solver, observed)


def _nodes(domain: Domain, place: Place) -> Nodes:
    marks = len(domain.network.marks)
    return nodes_at(domain.network, place.xyz[:marks], place.xyz[marks:], place.values)


def _rows(
    network: Network, domain: Domain, nodes: Nodes
) -> tuple[tuple[Whitened, ...], tuple[Equations, ...]]:
    system = equations(network, domain.hold, nodes)
    rows = [batch for some in system for batch in whiten(some, domain.columns)]
    return tuple(rows), system


def _about(domain: Domain, middle: Floats | None) -> Network:
    """Return the network of a domain, told where the middle of the whole is."""
    part = domain.network.part
    assert part is not None
    return replace(domain.network, part=replace(part, middle=middle))


def placed(stage: Stage) -> Place:
    """Return where the nodes are: all of a stage that the next iteration needs."""
    return Place(stage.nodes.xyz, stage.nodes.values)


def eliminated(some: Opened, place: Place | None, middle: Floats | None) -> Stage:
    """Form the equations of a domain and eliminate its inside.

    Parameters
    ----------
    some : Opened
    place : Place or None
        None: where the iteration starts.
    middle : ndarray, shape (3,), optional
        Of all marks of the whole network.
    """
    domain = some.domain
    nodes = _nodes(domain, place or Place(domain.xyz, domain.values))
    rows, _ = _rows(_about(domain, middle), domain, nodes)
    plan = some.solver.plan
    assert plan is not None
    none = np.zeros((len(domain.unknowns), 0))
    try:
        matrix = plan.assemble([contributions(batch) for batch in rows])
        factor = plan.factor(matrix, keep=True)
    except Singular as singular:
        return Stage(some, nodes, rows, None, singular.null)
    return Stage(some, nodes, rows, factor, none)


def border_of(stage: Stage) -> Border:
    """Return what a domain says about its border."""
    columns, factor = _kept(stage), stage.factor
    matrix = np.zeros((len(columns),) * 2) if factor is None else factor.border
    diagonal = np.zeros(len(columns))
    if factor is not None:
        diagonal = factor.normal.diagonal[_plan(stage).kept_columns]
    unknowns = stage.opened.domain.unknowns
    return Border(unknowns[columns], matrix, diagonal, stage.null.shape[1])


def null_of(stage: Stage) -> Floats:
    """Return (u, d) what of the inside of a domain floats."""
    return stage.null


def _plan(stage: Stage) -> Plan:
    plan = stage.opened.solver.plan
    assert plan is not None
    return plan


def _kept(stage: Stage) -> Ints:
    return _plan(stage).kept_columns


def pull(stage: Stage) -> Sides:
    """Return the right sides of the observations, the inside eliminated."""
    return _reduced(stage, _right(stage))


def _right(stage: Stage) -> Floats:
    return right_side(stage.rows, len(stage.opened.domain.unknowns))[:, None]


def reduced(stage: Stage, right: Floats) -> Sides:
    """Return other right sides, (u, k), the inside eliminated; 0 for what is kept."""
    return _reduced(stage, right)


def _reduced(stage: Stage, right: Floats) -> Sides:
    unknowns = stage.opened.domain.unknowns[_kept(stage)]
    if stage.factor is None:
        return Sides(unknowns, np.zeros((len(unknowns), right.shape[1])))
    return Sides(unknowns, stage.factor.reduced(right)[1])


def completed(stage: Stage, right: Floats, above: Sides) -> Floats:
    """Return the solution, (u, k), from that of a separator that has the border."""
    assert stage.factor is not None
    state, left = stage.factor.reduced(right)
    columns = stage.opened.domain.unknowns[_kept(stage)]
    border = above.values[find(above.columns, columns)]
    return stage.factor.completed(state, border.reshape(left.shape))


def moved(stage: Stage, above: Sides, fraction: float, middle: Floats | None) -> Stage:
    """Move the nodes of a domain and form its observations there.

    Parameters
    ----------
    stage : Stage
    above : Sides
        The solution of the separator above.
    fraction : float
        Of the shift.
    middle : ndarray, shape (3,), optional
    """
    domain = stage.opened.domain
    network = _about(domain, middle)
    shift = completed(stage, _right(stage), above)[:, 0]
    nodes = moved_by(network, stage.nodes, domain.columns, fraction * shift)
    nodes = on_held(network, domain.hold, nodes)
    rows, _ = _rows(network, domain, nodes)
    largest = float(np.abs(shift).max(initial=0.0))
    return replace(stage, nodes=nodes, rows=rows, largest=largest)


def facts(stage: Stage) -> Facts:
    """Return what a domain says about itself."""
    domain = stage.opened.domain
    marks = len(domain.network.marks)
    own = domain.own[:marks]
    return Facts(
        weighted_square_sum(stage.rows),
        stage.largest,
        stage.nodes.xyz[:marks][own].sum(axis=0),
        bool(np.isfinite(_right(stage)).all()),
        stage.opened.observed,
    )


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
    domain, plan = stage.opened.domain, _plan(stage)
    factor = stage.factor.given(block_of(above, domain.unknowns[_kept(stage)]))
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
    network = _about(domain, whole.middle)
    rows, system = _rows(network, domain, nodes)
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


def diagonal(stage: Stage) -> Sides:
    """Return the diagonal of a domain's normal matrix."""
    assert stage.factor is not None
    own = stage.factor.normal.diagonal[:, None]
    return Sides(stage.opened.domain.unknowns, own)


def sums(stage: Stage, scale: Floats) -> Sides:
    """Return the sums of absolute values of each column, the matrix scaled."""
    assert stage.factor is not None
    made = stage.factor.normal.sums(scale)[:, None]
    return Sides(stage.opened.domain.unknowns, made)
