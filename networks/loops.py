"""Repeats and loops: what must close before anything is adjusted.

Loops are sought across sessions. Each session is one hub that joins its receivers,
so that a loop enters and leaves it by two receivers and a loop inside it cannot
arise; the cycles of this graph are exactly the checks that the vectors have.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import numpy as np

from .covariances import Floats
from .cycles import independent_cycles
from .network import Network
from .sessions import Clusters, Session, clusters_of

_Step = tuple[int, int]
"""A vector, and +1 as booked or −1 against it."""


@dataclass(frozen=True, slots=True)
class Loop:
    """A closed walk over marks, and by how much it does not close."""

    kind: str
    """``repeat``, ``loop``, ``same session``, ``double run`` or ``levelling loop``."""
    members: tuple[int, ...]
    """Rows of the vectors (or levelled runs), as walked."""
    signs: tuple[int, ...]
    """+1 as booked, −1 against it."""
    marks: tuple[int, ...]
    """Where each member starts."""
    set_ups: tuple[int, ...]
    """Set-ups whose error the misclosure has in it, by their number."""
    length: float
    """m; NaN where it is not known."""
    misclosure: Floats
    """(3,) east, north, up at the first mark, m; (1,) up of levelled runs."""
    covariance: Floats
    """(3, 3) or (1, 1) m², with the noise of the set-ups that differ."""


def find_loops(
    network: Network, sessions: Sequence[Session], xyz: Floats
) -> tuple[Loop, ...]:
    """Return the repeats and the shortest independent loops across sessions.

    Their number is that of the independent checks: Σ(R − 1) vectors less the marks
    they place. A vector booked between reference points is reduced to its marks.

    Parameters
    ----------
    network : Network
    sessions : sequence of Session
        From ``find_sessions``.
    xyz : ndarray, shape (m, 3)
        Where the marks are, m; near enough for the local axes.

    Returns
    -------
    tuple of Loop
        Repeats first, then loops, each in the order of their first vectors.
    """
    reduced = mark_to_mark(network, xyz)
    graph = _hubs(network, sessions, reduced)
    walks = []
    # Every cycle enters some session.
    roots = [node for node in graph if isinstance(node, tuple)]
    for cycle in independent_cycles(graph, roots):
        walks.append(_turned(_walked(network, sessions, reduced, cycle)))
    clusters = clusters_of(network)
    loops = [_loop(network, reduced, xyz, clusters, steps) for steps in walks]
    rank = {"repeat": 0, "loop": 1}
    return tuple(sorted(loops, key=lambda loop: (rank[loop.kind], loop.members)))


def same_session_loops(
    network: Network, sessions: Sequence[Session], xyz: Floats
) -> tuple[Loop, ...]:
    """Return the loops inside single sessions: they close by construction.

    A misclosure above rounding there is a booking error, or vectors that were not
    processed together; a small one says nothing about the survey.

    Parameters
    ----------
    network : Network
    sessions : sequence of Session
    xyz : ndarray, shape (m, 3)

    Returns
    -------
    tuple of Loop
        One for each vector over R − 1: it, and the way round by the others.
    """
    reduced = mark_to_mark(network, xyz)
    clusters = clusters_of(network)
    loops = []
    for session in sessions:
        for v in session.trivial:
            start, end = _ends(network, v)
            back = _path(network, session.independent, reduced, end, start)
            steps = _turned([(v, 1), *back])
            loops.append(_loop(network, reduced, xyz, clusters, steps, "same session"))
    return tuple(loops)


def mark_to_mark(network: Network, xyz: Floats) -> Floats:
    """Return the vectors from mark to mark, (n, 3) m.

    Heights of reference points and eccentricities are taken off as booked.

    Parameters
    ----------
    network : Network
    xyz : ndarray, shape (m, 3)
        Where the marks are, m.
    """
    vectors, set_ups = network.vectors, network.set_ups
    axes = network.frame.axes(xyz)
    stands = np.zeros((len(network.marks) + len(set_ups), 3))
    stands[len(network.marks) :, :2] = set_ups.eccentricity
    reduced = vectors.delta.copy()
    for nodes, offset, sign in (
        (vectors.start, vectors.start_offset, 1.0),
        (vectors.end, vectors.end_offset, -1.0),
    ):
        above = stands[nodes].copy()
        above[:, 2] += offset
        there = axes[network.mark_of(nodes)]
        reduced += sign * np.einsum("nij,ni->nj", there, above)
    return reduced


def _ends(network: Network, v: int) -> _Step:
    return int(network.vectors.start[v]), int(network.vectors.end[v])


def _hubs(network: Network, sessions: Sequence[Session], reduced: Floats) -> Any:
    """Return the graph of nodes and sessions, whose weights add up to lengths."""
    import networkx as nx

    graph = nx.Graph()
    marks = len(network.marks)
    for k, session in enumerate(sessions):
        for node, reach in _reach(network, session, reduced).items():
            graph.add_edge(("session", k), node, weight=reach)
    for node in [n for n in graph if not isinstance(n, tuple) and n >= marks]:
        mark = int(network.set_ups.mark[node - marks])
        graph.add_edge(node, mark, weight=0.0)
    return graph


def _reach(network: Network, session: Session, reduced: Floats) -> dict[int, float]:
    """Return how far each receiver is from a session's middle one by vectors, m."""
    import networkx as nx

    graph = _graph(network, session.vectors, reduced)
    far = dict(nx.all_pairs_dijkstra_path_length(graph))
    nodes = session.nodes
    if session.complete and len(nodes) > 2:
        return {n: sum(far[n].values()) / (len(nodes) - 1) / 2 for n in nodes}
    middle = min(nodes, key=lambda n: (round(sum(far[n].values()), 3), n))
    return {n: float(far[middle][n]) for n in nodes}


def _graph(network: Network, vectors: Sequence[int], reduced: Floats) -> Any:
    """Return a graph of nodes; of parallel vectors the first in the table."""
    import networkx as nx

    graph = nx.Graph()
    for v in sorted(vectors):
        start, end = _ends(network, v)
        if not graph.has_edge(start, end):
            # A floor keeps a side of no length from costing nothing.
            length = max(float(np.linalg.norm(reduced[v])), 1e-3)
            graph.add_edge(start, end, weight=length, vector=v)
    return graph


def _path(
    network: Network, vectors: Sequence[int], reduced: Floats, start: int, end: int
) -> list[_Step]:
    """Return the shortest way from one node to another by some vectors."""
    import networkx as nx

    graph = _graph(network, vectors, reduced)
    nodes = nx.dijkstra_path(graph, start, end)
    steps = []
    for a, b in pairwise(nodes):
        v = graph.edges[a, b]["vector"]
        steps.append((v, 1 if int(network.vectors.start[v]) == a else -1))
    return steps


def _walked(
    network: Network, sessions: Sequence[Session], reduced: Floats, cycle: list[Any]
) -> list[_Step]:
    """Return the vectors of a cycle of nodes and sessions."""
    steps = []
    for k, hub in enumerate(cycle):
        if isinstance(hub, tuple):
            before, after = cycle[k - 1], cycle[(k + 1) % len(cycle)]
            vectors = sessions[hub[1]].vectors
            steps += _path(network, vectors, reduced, before, after)
    return steps


def _turned(steps: list[_Step]) -> list[_Step]:
    """Return the same loop from its first vector in the table, walked as booked."""
    at = min(range(len(steps)), key=lambda k: steps[k][0])
    if steps[at][1] < 0:
        steps = [(v, -sign) for v, sign in reversed(steps)]
        at = len(steps) - 1 - at
    return steps[at:] + steps[:at]


def _loop(
    network: Network,
    reduced: Floats,
    xyz: Floats,
    clusters: Clusters,
    steps: list[_Step],
    kind: str = "",
) -> Loop:
    members = [v for v, _ in steps]
    signs = np.array([sign for _, sign in steps], dtype=float)
    marks = [
        int(network.mark_of(np.array([_ends(network, v)[sign < 0]]))[0])
        for v, sign in steps
    ]
    turn = network.frame.axes(xyz[marks[:1]])[0]
    covariance = _processing(network, steps, clusters)
    set_ups = _set_ups(network, steps)
    for s, count in set_ups.items():
        own = network.frame.axes(xyz[network.set_ups.mark[[s]]])[0]
        sds = [network.set_ups.sd_centring[s]] * 2 + [network.set_ups.sd_height[s]]
        covariance += count**2 * (own.T * np.square(sds)) @ own
    if not kind:
        kind = "repeat" if len(set(marks)) == len(marks) == 2 else "loop"
    return Loop(
        kind,
        tuple(members),
        tuple(sign for _, sign in steps),
        tuple(marks),
        tuple(sorted(set_ups)),
        float(np.linalg.norm(reduced[members], axis=1).sum()),
        turn @ (signs @ reduced[members]),
        turn @ covariance @ turn.T,
    )


def _set_ups(network: Network, steps: list[_Step]) -> dict[int, int]:
    """Return the set-ups that do not cancel, and how often they enter."""
    marks, found = len(network.marks), dict[int, int]()
    for v, sign in steps:
        for node, way in zip(_ends(network, v), (-sign, sign), strict=True):
            if node >= marks:
                found[node - marks] = found.get(node - marks, 0) + way
    return {s: count for s, count in found.items() if count}


def _processing(network: Network, steps: list[_Step], clusters: Clusters) -> Floats:
    """Return the covariance of a sum of vectors, with what a session has in common."""
    signs: dict[tuple[int, int], dict[int, int]] = {}
    for v, way in steps:
        own = signs.setdefault(clusters[v], {})
        own[v] = own.get(v, 0) + way
    total = np.zeros((3, 3))
    for (b, c), own in signs.items():
        batch = network.vectors.covariances[b]
        members = batch.members[c].tolist()
        sign = np.array([own.get(v, 0) for v in members], dtype=float)
        tiles = batch.matrix[c].reshape(len(members), 3, len(members), 3)
        total += np.einsum("s,sitj,t->ij", sign, tiles, sign)
    return total
