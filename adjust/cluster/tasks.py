"""What a worker does with a domain; every function makes the same from the same.

So that what is lost with a worker can be made again elsewhere. Large things
(``Opened``, ``Stage``) stay where they are made; ``Border``, ``Sides``, ``Block`` and
``Facts`` travel.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from ...networks import Network
from ...networks.covariances import Floats, Ints
from ..dense import Singular
from ..elimination import Elimination, elimination
from ..equations import Equations, equations
from ..moves import moved_by, on_held
from ..nodes import Nodes, nodes_at
from ..normal import Whitened, contributions, right_side, weighted_square_sum, whiten
from ..sparse import Plan, SparseFactor
from .domains import Domain
from .separators import Border, Sides, find
from .store import Aside, Store


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
    """A domain eliminated, and what its observations say where its nodes now are."""

    opened: Opened
    nodes: Nodes
    right: Floats
    """(u,) right side. The observations themselves, ten times as large, are formed
    again when they are needed."""
    square_sum: float
    """vᵀPv."""
    light: SparseFactor | None
    """Without its fronts; None where the inside is not determined."""
    fronts: Aside | None
    """The largest part of a factor, which is needed but now and then."""
    pull: "Pull | None"
    """Of the right side; None where nobody asks for it."""
    null: Floats
    """(u, d) what of the inside floats; mostly nothing."""
    largest: float = 0.0
    """m or rad; the last move, before any halving."""

    @property
    def unknowns(self) -> Ints:
        """Return (b,) the unknowns on the border, by their numbers in the whole."""
        return self.opened.domain.unknowns[kept_of(self)]


@dataclass(frozen=True, slots=True)
class Pull:
    """A right side, the inside eliminated."""

    state: Floats
    """(u + 1, k) for what is solved later."""
    border: Floats
    """(b, k) what is left for the border."""


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


def begun(store: Store, number: int, middle: Floats | None) -> Stage:
    """Read a domain, plan its elimination, and eliminate it where it starts.

    Parameters
    ----------
    store : Store
    number : int
        Of the domain.
    middle : ndarray, shape (3,), optional
        Of all marks of the whole network.
    """
    domain = store.get(number)
    nodes = _nodes(domain, Place(domain.xyz, domain.values))
    rows, system = rows_at(told(domain, middle), domain, nodes)
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
    del system
    return _eliminated(store, Opened(domain, solver, observed), nodes, rows)


def opened(stage: Stage) -> Opened:
    """Return the domain with its plan: all that other steps need of a first one."""
    return stage.opened


def _nodes(domain: Domain, place: Place) -> Nodes:
    marks = len(domain.network.marks)
    return nodes_at(domain.network, place.xyz[:marks], place.xyz[marks:], place.values)


def rows_at(
    network: Network, domain: Domain, nodes: Nodes
) -> tuple[tuple[Whitened, ...], tuple[Equations, ...]]:
    """Return whitened rows and equations of a domain where its nodes are."""
    system = equations(network, domain.hold, nodes)
    rows = [batch for some in system for batch in whiten(some, domain.columns)]
    return tuple(rows), system


def told(domain: Domain, middle: Floats | None) -> Network:
    """Return the network of a domain, told where the middle of the whole is."""
    part = domain.network.part
    assert part is not None
    return replace(domain.network, part=replace(part, middle=middle))


def placed(stage: Stage) -> Place:
    """Return where the nodes are: all of a stage that the next iteration needs."""
    return Place(stage.nodes.xyz, stage.nodes.values)


def eliminated(
    store: Store, some: Opened, place: Place, middle: Floats | None
) -> Stage:
    """Form the equations of a domain and eliminate its inside.

    Parameters
    ----------
    store : Store
        Sets aside what is needed later.
    some : Opened
    place : Place
    middle : ndarray, shape (3,), optional
        Of all marks of the whole network.
    """
    nodes = _nodes(some.domain, place)
    rows, _ = rows_at(told(some.domain, middle), some.domain, nodes)
    return _eliminated(store, some, nodes, rows)


def _eliminated(
    store: Store, some: Opened, nodes: Nodes, rows: Sequence[Whitened]
) -> Stage:
    domain, plan = some.domain, some.solver.plan
    assert plan is not None
    none = np.zeros((len(domain.unknowns), 0))
    try:
        matrix = plan.assemble([contributions(batch) for batch in rows])
        factor = plan.factor(matrix, keep=True)
    except Singular as singular:
        said = _said(domain, rows)
        return Stage(some, nodes, *said, None, None, None, singular.null)
    right, square_sum = _said(domain, rows)
    pull = Pull(*factor.reduced(right[:, None]))
    fronts, light = store.aside(factor.eliminated), replace(factor, eliminated=())
    return Stage(some, nodes, right, square_sum, light, fronts, pull, none)


def _said(domain: Domain, rows: Sequence[Whitened]) -> tuple[Floats, float]:
    """Return right side and vᵀPv of observations."""
    right = right_side(rows, len(domain.unknowns))
    return right, weighted_square_sum(rows)


def border_of(stage: Stage) -> Border:
    """Return what a domain says about its border."""
    columns, factor = kept_of(stage), stage.light
    matrix = np.zeros((len(columns),) * 2) if factor is None else factor.border
    diagonal = np.zeros(len(columns))
    if factor is not None:
        diagonal = factor.normal.diagonal[plan_of(stage).kept_columns]
    return Border(stage.unknowns, matrix, diagonal, stage.null.shape[1])


def null_of(stage: Stage) -> Floats:
    """Return (u, d) what of the inside of a domain floats."""
    return stage.null


def plan_of(stage: Stage) -> Plan:
    """Return the plan of a domain's elimination."""
    plan = stage.opened.solver.plan
    assert plan is not None
    return plan


def kept_of(stage: Stage) -> Ints:
    """Return the columns of a domain that are on its border."""
    return plan_of(stage).kept_columns


def factor_of(stage: Stage) -> SparseFactor:
    """Return the whole factor of a domain whose inside is determined."""
    assert stage.light is not None
    assert stage.fronts is not None
    return replace(stage.light, eliminated=stage.fronts.back())


def pulled(stage: Stage) -> Sides:
    """Return the right sides of the observations, the inside eliminated."""
    if stage.pull is None:
        return Sides(stage.unknowns, np.zeros((len(stage.unknowns), 1)))
    return Sides(stage.unknowns, stage.pull.border)


def reduced(stage: Stage, right: Floats) -> Sides:
    """Return other right sides, (u, k), the inside eliminated; 0 for what is kept."""
    return Sides(stage.unknowns, factor_of(stage).reduced(right)[1])


def completed(stage: Stage, right: Floats, above: Sides) -> Floats:
    """Return the solution, (u, k), from that of a separator that has the border."""
    factor = factor_of(stage)
    return _completed(stage, factor, Pull(*factor.reduced(right)), above)


def _completed(stage: Stage, factor: SparseFactor, pull: Pull, above: Sides) -> Floats:
    border = above.values[find(above.columns, stage.unknowns)]
    return factor.completed(pull.state, border.reshape(pull.border.shape))


def moved(
    stage: Stage, above: Sides, fraction: float, middle: Floats | None, on: bool
) -> Stage:
    """Move the nodes of a domain and form its observations there.

    Parameters
    ----------
    stage : Stage
    above : Sides
        The solution of the separator above.
    fraction : float
        Of the shift.
    middle : ndarray, shape (3,), optional
    on : bool
        Whether there is another move from there.
    """
    domain = stage.opened.domain
    network, factor = told(domain, middle), factor_of(stage)
    assert stage.pull is not None
    shift = _completed(stage, factor, stage.pull, above)[:, 0]
    nodes = moved_by(network, stage.nodes, domain.columns, fraction * shift)
    nodes = on_held(network, domain.hold, nodes)
    rows, _ = rows_at(network, domain, nodes)
    largest = float(np.abs(shift).max(initial=0.0))
    right, square_sum = _said(domain, rows)
    return replace(
        stage,
        nodes=nodes,
        right=right,
        square_sum=square_sum,
        pull=Pull(*factor.reduced(right[:, None])) if on else None,
        largest=largest,
    )


def facts(stage: Stage) -> Facts:
    """Return what a domain says about itself."""
    domain = stage.opened.domain
    marks = len(domain.network.marks)
    own = domain.own[:marks]
    return Facts(
        stage.square_sum,
        stage.largest,
        stage.nodes.xyz[:marks][own].sum(axis=0),
        bool(np.isfinite(stage.right).all()),
        stage.opened.observed,
    )


def diagonal(stage: Stage) -> Sides:
    """Return the diagonal of a domain's normal matrix."""
    assert stage.light is not None
    own = stage.light.normal.diagonal[:, None]
    return Sides(stage.opened.domain.unknowns, own)


def sums(stage: Stage, scale: Floats) -> Sides:
    """Return the sums of absolute values of each column, the matrix scaled."""
    assert stage.light is not None
    made = stage.light.normal.sums(scale)[:, None]
    return Sides(stage.opened.domain.unknowns, made)
