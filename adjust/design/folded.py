"""A network on its marks alone: set-ups folded into what was observed from them.

Rows that share a set-up share its error. Folding the set-up in, Q + G S Gᵀ, gives the
same estimate as a node for it, with far fewer unknowns: what a page can carry.
"""

import networkx
import numpy as np

from ...networks import Network
from ...networks.covariances import Floats, Ints
from ..adjustment import Adjustment
from ..equations import Equations
from ..judge.names import names
from ..judge.names import rows as table_rows
from ..judge.turned import turn_of
from .block import Block, Folded, Stand


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
