"""How a network hangs together: pieces, and marks that hang on one vector."""

from dataclasses import dataclass
from typing import Any

import numpy as np

from .covariances import Ints
from .network import Network

_DATUM = -1


@dataclass(frozen=True, slots=True)
class Hanging:
    """Marks that one single vector ties to the rest."""

    vector: int
    """Index of the vector in ``network.vectors``."""
    marks: tuple[int, ...]
    """The marks beyond it, away from what is known; the smaller side if nothing is."""


def tied_marks(network: Network) -> set[int]:
    """Return the marks that something besides vectors places.

    Parameters
    ----------
    network : Network

    Returns
    -------
    set of int
        Held and weighted known marks, and marks with a position in use.
    """
    known, positions = network.known, network.positions
    use = known.in_use("held") | known.in_use("weighted")
    marks = set(known.mark[use.any(axis=1)].tolist())
    return marks | set(network.mark_of(positions.node[positions.used]).tolist())


def pieces(network: Network) -> list[list[int]]:
    """Return the marks of each connected piece, the largest first.

    Marks are connected by the vectors, sights and levels in use; a mark without any
    is a piece alone.

    Parameters
    ----------
    network : Network

    Returns
    -------
    list of list of int
    """
    import networkx as nx

    found = [sorted(piece) for piece in nx.connected_components(_graph(network))]
    return sorted(found, key=lambda piece: (-len(piece), piece))


def hanging(network: Network) -> list[Hanging]:
    """Return the vectors that alone tie marks to the rest, in table order.

    What is known is one node of its own, so that a vector between two known marks,
    or from a mark with a position, hangs nothing.

    Parameters
    ----------
    network : Network

    Returns
    -------
    list of Hanging
    """
    import networkx as nx

    graph = _graph(network)
    for mark in tied_marks(network):
        graph.add_edge(_DATUM, mark)
    found = []
    for a, b in nx.bridges(nx.Graph(graph)):
        vectors = [
            data["vector"]
            for data in (graph.get_edge_data(a, b) or {}).values()
            if "vector" in data
        ]
        if _DATUM in (a, b) or len(vectors) != 1:
            continue
        found.append(Hanging(vectors[0], _beyond(graph, a, b)))
    return sorted(found, key=lambda hangs: hangs.vector)


def _graph(network: Network) -> Any:
    """Return a multigraph of marks; the edge of a vector carries its number."""
    import networkx as nx

    graph = nx.MultiGraph()
    graph.add_nodes_from(range(len(network.marks)))
    vectors = network.vectors
    start, end = network.mark_of(vectors.start), network.mark_of(vectors.end)
    for i in np.flatnonzero(vectors.used).tolist():
        graph.add_edge(int(start[i]), int(end[i]), vector=i)
    for some in network.sights:
        for ends in (some.to[some.used], some.back[some.used]):
            seen = ends >= 0
            at = network.mark_of(some.at[some.used][seen])
            graph.add_edges_from(_pairs(at, network.mark_of(ends[seen])))
    levels = network.levels
    if levels is not None:
        graph.add_edges_from(_pairs(levels.start[levels.used], levels.end[levels.used]))
    return graph


def _pairs(start: Ints, end: Ints) -> list[tuple[int, int]]:
    return sorted(set(zip(start.tolist(), end.tolist(), strict=True)))


def _beyond(graph: Any, a: int, b: int) -> tuple[int, ...]:
    """Return the marks on the side of a bridge that is away from what is known."""
    import networkx as nx

    cut = nx.Graph(graph)
    cut.remove_edge(a, b)
    sides: list[set[int]] = [
        set(nx.node_connected_component(cut, end)) for end in (a, b)
    ]
    free = [side for side in sides if _DATUM not in side]
    smallest = min(free, key=lambda side: (len(side), min(side)))
    return tuple(sorted(smallest))
