"""Sessions: which vectors were observed together, and how many of them say anything.

R receivers that observe at the same time give R(R − 1)/2 vectors, of which R − 1 are
independent; the others are their sums and check nothing (Craymer and Beck 1992, as
reported by Rizos 1999).
"""

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from .covariances import Floats
from .network import Network

OVERLAP = 0.5
"""Share of the shorter interval from which two vectors were observed together
(common practice, 50 to 80 %, no source)."""

Clusters = dict[int, tuple[int, int]]
"""Vector to its batch of covariances and its cluster in that."""


@dataclass(frozen=True, slots=True)
class Session:
    """Vectors in use that were observed together and hang together."""

    name: str
    """As booked; the names of its first and last vector where none is."""
    found_from: str
    """``session column``, ``overlapping times``, ``shared set-ups`` or ``alone``."""
    vectors: tuple[int, ...]
    """In table order."""
    nodes: tuple[int, ...]
    """Where its receivers stood: set-ups, or marks where no set-up is booked."""
    independent: tuple[int, ...]
    """R − 1 vectors that lead to every receiver, those of least variance."""
    correlated: bool
    """Whether the covariance between all its vectors is booked."""

    @property
    def receivers(self) -> int:
        """R, how many receivers."""
        return len(self.nodes)

    @property
    def trivial(self) -> tuple[int, ...]:
        """The vectors over R − 1."""
        kept = set(self.independent)
        return tuple(v for v in self.vectors if v not in kept)

    @property
    def surplus(self) -> int:
        """How many vectors are sums of others: 3 degrees of freedom too many each."""
        return len(self.vectors) - len(self.independent)

    @property
    def complete(self) -> bool:
        """Whether each of the R(R − 1)/2 pairs has one vector."""
        return len(self.vectors) == self.receivers * (self.receivers - 1) // 2


def find_sessions(network: Network, times: Floats | None = None) -> list[Session]:
    """Return the sessions of a network, in the order of their first vectors.

    A booked session is believed. Vectors without one belong together if their times
    overlap by half of the shorter; without times, if they share a set-up. What does
    not hang together by receivers is two sessions. A vector that nothing joins is
    a session of its own.

    Parameters
    ----------
    network : Network
    times : ndarray, shape (n, 2), optional
        Start and stop of each vector, s from any origin; NaN where not booked.

    Returns
    -------
    list of Session
        Every vector in use is in exactly one.
    """
    used = np.flatnonzero(network.vectors.used).tolist()
    if times is None:
        times = np.full((len(network.vectors), 2), np.nan)
    variance, clusters = _variances(network), clusters_of(network)
    found = [
        _session(network, origin, piece, variance, clusters)
        for origin, group in _groups(network, used, times)
        for piece in _pieces(network, group)
    ]
    return sorted(found, key=lambda session: session.vectors[0])


def _groups(
    network: Network, used: list[int], times: Floats
) -> Iterable[tuple[str, list[int]]]:
    """Yield the vectors observed at one time, and what says so."""
    booked: dict[int, list[int]] = {}
    timed: list[int] = []
    rest: list[int] = []
    known = np.isfinite(times).all(axis=1) & (times[:, 1] > times[:, 0])
    for v in used:
        session = int(network.vectors.session[v])
        if session >= 0:
            booked.setdefault(session, []).append(v)
        else:
            (timed if known[v] else rest).append(v)
    yield from (("session column", group) for group in booked.values())
    for group in _overlapping(timed, times):
        yield ("overlapping times" if len(group) > 1 else "alone"), group
    for group in _sharing(network, rest):
        yield ("shared set-ups" if len(group) > 1 else "alone"), group


def _overlapping(vectors: list[int], times: Floats) -> list[list[int]]:
    """Return groups of vectors whose times overlap, one with the next."""
    import networkx as nx

    graph = nx.Graph()
    graph.add_nodes_from(vectors)
    order = sorted(vectors, key=lambda v: (times[v, 0], v))
    open_: list[int] = []
    for v in order:
        start, stop = times[v]
        open_ = [o for o in open_ if times[o, 1] > start]
        for other in open_:
            shared = min(stop, times[other, 1]) - start
            shorter = min(stop - start, times[other, 1] - times[other, 0])
            if shared >= OVERLAP * shorter:
                graph.add_edge(v, other)
        open_.append(v)
    return sorted(sorted(group) for group in nx.connected_components(graph))


def _sharing(network: Network, vectors: list[int]) -> list[list[int]]:
    """Return groups of vectors that set-ups, not marks, join."""
    import networkx as nx

    graph = nx.Graph()
    marks = len(network.marks)
    for v in vectors:
        graph.add_node(("vector", v))
        for node in _ends(network, v):
            if node >= marks:
                graph.add_edge(("vector", v), ("set-up", node))
    groups = [
        sorted(v for kind, v in group if kind == "vector")
        for group in nx.connected_components(graph)
    ]
    return sorted(groups)


def _ends(network: Network, v: int) -> tuple[int, int]:
    return int(network.vectors.start[v]), int(network.vectors.end[v])


def _pieces(network: Network, vectors: list[int]) -> list[list[int]]:
    """Return the vectors of each part that hangs together by its receivers."""
    import networkx as nx

    graph = nx.Graph(_ends(network, v) for v in vectors)
    part = {}
    for k, nodes in enumerate(nx.connected_components(graph)):
        part.update(dict.fromkeys(nodes, k))
    pieces: dict[int, list[int]] = {}
    for v in vectors:
        pieces.setdefault(part[_ends(network, v)[0]], []).append(v)
    return list(pieces.values())


def _session(
    network: Network,
    origin: str,
    vectors: list[int],
    variance: Floats,
    clusters: Clusters,
) -> Session:
    names, number = network.vectors.name, int(network.vectors.session[vectors[0]])
    name = network.sessions[number] if 0 <= number < len(network.sessions) else ""
    if not name:
        ends = (names[vectors[0]], names[vectors[-1]])
        name = ends[0] if len(vectors) == 1 else f"{ends[0]} … {ends[1]}"
    nodes = sorted({node for v in vectors for node in _ends(network, v)})
    return Session(
        name,
        origin,
        tuple(vectors),
        tuple(nodes),
        _independent(network, vectors, variance),
        len(vectors) > 1 and len({clusters.get(v, (-1, v)) for v in vectors}) == 1,
    )


def _independent(
    network: Network, vectors: list[int], variance: Floats
) -> tuple[int, ...]:
    """Return the spanning tree of least variance; the first in the table if equal."""
    import networkx as nx

    graph = nx.Graph()
    for v in sorted(vectors, key=lambda v: (variance[v], v)):
        start, end = _ends(network, v)
        if not graph.has_edge(start, end):
            graph.add_edge(start, end, weight=variance[v], vector=v)
    tree = nx.minimum_spanning_edges(graph, data=True)
    return tuple(sorted(data["vector"] for _, _, data in tree))


def _variances(network: Network) -> Floats:
    """Return (n,) the vectors' variances, to 12 digits so that equals tie; inf = none.

    The sum over the three axes, m².
    """
    found = np.full(len(network.vectors), np.inf)
    for batch in network.vectors.covariances:
        traces = np.einsum("cqq->cq", batch.matrix).reshape(*batch.members.shape, 3)
        sums = traces.sum(axis=2)
        scale = 10.0 ** (11 - np.floor(np.log10(np.maximum(sums, 1e-300))))
        found[batch.members] = np.round(sums * scale) / scale
    return found


def clusters_of(network: Network) -> Clusters:
    """Return, for each vector, the batch and the cluster that hold its covariance.

    Parameters
    ----------
    network : Network
    """
    return {
        v: (b, c)
        for b, batch in enumerate(network.vectors.covariances)
        for c, members in enumerate(batch.members.tolist())
        for v in members
    }
