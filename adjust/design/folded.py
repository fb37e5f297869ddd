"""A network on its marks alone: set-ups folded into what was observed from them.

Rows that share a set-up share its error. Folding the set-up in, Q + G S Gᵀ, gives the
same estimate as a node for it, with far fewer unknowns: what a page can carry.
"""

from dataclasses import dataclass, replace

import networkx
import numpy as np

from ...networks import Network
from ...networks.covariances import Floats, Ints
from ..adjustment import Adjustment
from ..equations import Equations
from ..equations.known_marks import conditional
from ..judge.names import names
from ..judge.names import rows as table_rows
from ..judge.shifts import turn_of

HELD_SD = 3e-6
"""m; a held known mark stands so firmly in a folded network, where it may be let go."""


@dataclass(frozen=True, slots=True)
class Folded:
    """One observation in a block."""

    kind: str
    name: str
    row: int
    """Of its table; 0 for none."""
    first: int
    """Where its rows start in the block."""
    count: int
    turn: Floats
    """(count, p) what a shift in its own amounts (east, north, up of a vector; the
    value of a reading) does to its rows."""
    nodes: tuple[int, ...]
    """Marks it touches."""
    session: int
    group: int
    edge: int = -1
    """Its number among those of its kind."""
    axes: tuple[int, ...] = ()
    """Which of the kind's components its rows are."""
    set_ups: tuple[int, ...] = ()
    """Set-ups it was observed from or to, exact ones too."""


@dataclass(frozen=True, slots=True)
class Stand:
    """A set-up in a block: its effect on the rows, and how well it stands."""

    set_up: int
    effect: Floats
    """(r, 3) of a shift east, north, up of the set-up on the computed rows."""
    sd: Floats
    """(3,) m."""


@dataclass(frozen=True, slots=True)
class Block:
    """Rows that are correlated: a session, all from one instrument set-up."""

    observations: tuple[Folded, ...]
    columns: Ints
    """(k,) unknowns."""
    design: Floats
    """(r, k)."""
    covariance: Floats
    """(r, r) as booked, without set-ups."""
    stands: tuple[Stand, ...]
    misclosure: Floats
    """(r,) minus the residuals at the solution."""

    @property
    def whole(self) -> Floats:
        """(r, r) covariance with the set-ups folded in."""
        made = self.covariance.copy()
        for stand in self.stands:
            half = stand.effect * stand.sd
            made += half @ half.T
        return made


def loosely_held(network: Network) -> Network:
    """Return the network with held known marks weighted by a very small sd.

    So that a held mark can be let go, or weighed, by an update alone.
    """
    known = network.known
    plan = tuple("weighted" if use == "held" else use for use in known.use_plan)
    height = tuple("weighted" if use == "held" else use for use in known.use_height)
    held = known.in_use("held")
    if not held.any():
        return network
    # What is weighted keeps what it has in common with what is held.
    conditioned = conditional(known.covariances, held, known.in_use("weighted"))
    covariances = []
    for batch in conditioned:
        fixed = held[batch.members].reshape(len(batch.members), -1)
        apart = fixed[:, :, None] | fixed[:, None, :]
        firm = HELD_SD**2 * np.eye(fixed.shape[1])
        covariances.append(replace(batch, matrix=np.where(apart, firm, batch.matrix)))
    changed = replace(
        known, use_plan=plan, use_height=height, covariances=tuple(covariances)
    )
    return replace(network, known=changed)


def blocks_of(adjustment: Adjustment) -> list[Block]:
    """Return the observations of a solution in blocks on marks and parameters.

    Parameters
    ----------
    adjustment : Adjustment
        Constrained or minimal.

    Returns
    -------
    list of Block
        Set-ups have no columns of their own.
    """
    network = adjustment.network
    kinds = [some for some in adjustment.equations if some.kind != "set-up"]
    graph = networkx.Graph()
    for number, some in enumerate(kinds):
        for batch in some.covariances:
            for members in batch.members.tolist():
                graph.add_nodes_from(("row", number, edge) for edge in members)
                first = ("row", number, members[0])
                for edge in members:
                    graph.add_edge(first, ("row", number, edge))
                    for node in _set_ups(network, some.node[edge]):
                        graph.add_edge(first, ("set-up", node, 0))
    made = []
    for piece in networkx.connected_components(graph):
        rows = sorted((n, e) for what, n, e in piece if what == "row")
        if rows:
            made.append(block_of_rows(adjustment, kinds, rows))
    return sorted(made, key=lambda b: (b.observations[0].kind, b.observations[0].row))


def _set_ups(network: Network, nodes: Ints) -> list[int]:
    marks = len(network.marks)
    last = marks + len(network.set_ups)
    return [int(node) for node in nodes if marks <= node < last]


def block_of_rows(
    adjustment: Adjustment, kinds: list[Equations], rows: list[tuple[int, int]]
) -> Block:
    """Return some rows as one block: (number of the kind, edge) each."""
    network = adjustment.network
    observations, first = [], 0
    turns = {n: turn_of(adjustment, kinds[n]) for n in {n for n, _ in rows}}
    active = []
    for number, edge in rows:
        some = kinds[number]
        on = np.flatnonzero(some.active[edge])
        active.append((number, edge, on))
        observations.append(
            _folded(network, some, edge, first, on, turns[number][edge])
        )
        first += len(on)
    columns, design, stands, misclosure = _rows(adjustment, kinds, active, first)
    return Block(
        tuple(observations),
        columns,
        design,
        _covariance(kinds, active, first),
        stands,
        misclosure,
    )


def _folded(
    network: Network, some: Equations, edge: int, first: int, on: Ints, turn: Floats
) -> Folded:
    kind = some.kind
    own = turn[np.ix_(on, on)] if turn.shape[0] > 1 else turn
    vector = kind == "baseline"
    marks = network.mark_of(
        np.array([n for n in some.node[edge] if 0 <= n < len(network.marks)
                  + len(network.set_ups)], dtype=np.int64)
    )  # fmt: skip
    return Folded(
        kind,
        names(network, kind, np.array([edge]))[0],
        int(table_rows(network, kind)[edge]),
        first,
        len(on),
        own,
        tuple(dict.fromkeys(marks.tolist())),
        int(network.vectors.session[edge]) if vector else -1,
        _group(network, kind, edge),
        edge,
        tuple(on.tolist()),
        tuple(dict.fromkeys(n - len(network.marks) for n in _set_ups(
            network, some.node[edge]))),
    )  # fmt: skip


def _group(network: Network, kind: str, edge: int) -> int:
    """Return the number of an observation's group; −1 for none."""
    sights = next((some for some in network.sights if some.kind == kind), None)
    groups = {
        "baseline": network.vectors.group,
        "position": network.positions.group,
        "level difference": network.levels.group if network.levels else None,
    }.get(kind, sights.group if sights is not None else None)
    return -1 if groups is None else int(groups[edge])


def _rows(
    adjustment: Adjustment,
    kinds: list[Equations],
    active: list[tuple[int, int, Ints]],
    total: int,
) -> tuple[Ints, Floats, tuple[Stand, ...], Floats]:
    """Return columns, partials, set-ups and misclosures of a block's rows."""
    network = adjustment.network
    marks = len(network.marks)
    last = marks + len(network.set_ups)
    unknown: dict[int, Floats] = {}
    stood: dict[int, Floats] = {}
    misclosure = np.zeros(total)
    at = 0
    for number, edge, on in active:
        some, rows = kinds[number], slice(at, at + len(on))
        misclosure[rows] = some.misclosure[edge, on]
        for k, node in enumerate(some.node[edge].tolist()):
            if node < 0:
                continue
            partial = some.design[edge, on, k]
            mark = (
                int(network.set_ups.mark[node - marks])
                if marks <= node < last
                else node
            )
            if mark != node:
                stood.setdefault(node, np.zeros((total, 3)))[rows] += partial
            for c, column in enumerate(adjustment.columns[mark].tolist()):
                if column >= 0:
                    unknown.setdefault(column, np.zeros(total))[rows] += partial[:, c]
        at += len(on)
    columns = np.array(sorted(unknown), dtype=np.int64)
    design = np.array([unknown[c] for c in columns.tolist()]).T.reshape(total, -1)
    stands = tuple(
        Stand(node - marks, effect, _sds(network, node - marks))
        for node, effect in sorted(stood.items())
    )
    off = _off(adjustment)
    for stand in stands:
        # Computed from the mark itself, not from where the set-up was found to be.
        misclosure += stand.effect @ off[stand.set_up]
    return columns, design, stands, misclosure


def _off(adjustment: Adjustment) -> Floats:
    """Return (s, 3) how far each set-up was found off its place, east, north, up."""
    for some in adjustment.equations:
        if some.kind == "set-up":
            return np.where(some.active, -some.misclosure, 0.0)
    return np.zeros((len(adjustment.network.set_ups), 3))


def _sds(network: Network, set_up: int) -> Floats:
    centring = network.set_ups.sd_centring[set_up]
    return np.array([centring, centring, network.set_ups.sd_height[set_up]])


def _covariance(
    kinds: list[Equations], active: list[tuple[int, int, Ints]], total: int
) -> Floats:
    """Return the booked covariance of a block's rows."""
    made = np.zeros((total, total))
    places = {}
    at = 0
    for number, edge, on in active:
        places[number, edge] = (at, on)
        at += len(on)
    for number in {n for n, _, _ in active}:
        for batch in kinds[number].covariances:
            rows = batch.matrix.shape[1] // batch.members.shape[1]
            for members, matrix in zip(batch.members, batch.matrix, strict=True):
                if (number, int(members[0])) in places:
                    _put(made, matrix, members, rows, number, places)
    return made


def _put(
    made: Floats,
    matrix: Floats,
    members: Ints,
    rows: int,
    number: int,
    places: dict[tuple[int, int], tuple[int, Ints]],
) -> None:
    to, taken = [], []
    for k, edge in enumerate(members.tolist()):
        first, on = places[number, edge]
        to.append(first + np.arange(len(on)))
        taken.append(k * rows + on)
    rows_to, rows_taken = np.concatenate(to), np.concatenate(taken)
    made[np.ix_(rows_to, rows_to)] = matrix[np.ix_(rows_taken, rows_taken)]


def unfolded(blocks: list[Block], unknowns: int) -> tuple[Floats, Floats]:
    """Return normal matrix and right side of blocks: what the page starts from.

    Parameters
    ----------
    blocks : list of Block
    unknowns : int

    Returns
    -------
    matrix : ndarray, shape (u, u)
    right_side : ndarray, shape (u,)
    """
    matrix, right = np.zeros((unknowns, unknowns)), np.zeros(unknowns)
    for block in blocks:
        weighted = np.linalg.solve(block.whole, block.design)
        at = np.ix_(block.columns, block.columns)
        matrix[at] += block.design.T @ weighted
        right[block.columns] += weighted.T @ block.misclosure
    return matrix, right
