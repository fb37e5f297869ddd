"""Walks over large graphs in arrays: breadth first, pieces, bridges.

Nodes and edges are numbers. A walk goes a whole ring of neighbours at a time, in the
order in which a queue would have taken them, so that nothing loops over marks.
"""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from .covariances import Bools, Ints


@dataclass(frozen=True, slots=True)
class Neighbours:
    """Of each node its edges, in the order of the edges."""

    first: Ints
    """(n + 1,) where the edges of a node begin in the other columns."""
    node: Ints
    """(2 e,) the node at the other end."""
    edge: Ints
    """(2 e,) number of the edge."""
    forward: Bools
    """(2 e,) whether the edge starts here."""


@dataclass(frozen=True, slots=True)
class Ring:
    """What one step outward reaches: each node once, by the first edge to it."""

    here: Ints
    there: Ints
    edge: Ints
    forward: Bools


@dataclass(frozen=True, slots=True)
class Tree:
    """Every node under the root of its piece, numbered so that a branch is a range."""

    order: Ints
    """(n,) nodes, each before all that hang on it."""
    place: Ints
    """(n,) where a node stands in ``order``."""
    size: Ints
    """(n,) nodes of the branch that begins at a node, itself included."""
    edge: Ints
    """(n,) edge to the parent; −1 at a root."""
    root: Ints
    """(n,) root of the piece."""


def neighbours_of(count: int, start: Ints, end: Ints) -> Neighbours:
    """Return the neighbours in a graph.

    Parameters
    ----------
    count : int
        Number of nodes n.
    start, end : ndarray of int, shape (e,)

    Examples
    --------
    >>> path = neighbours_of(3, np.array([0, 1]), np.array([1, 2]))
    >>> path.node[path.first[1]:path.first[2]].tolist()
    [0, 2]
    """
    ends = np.stack([start, end], axis=-1).ravel()
    others = np.stack([end, start], axis=-1).ravel()
    order = np.argsort(ends, kind="stable")
    first = np.zeros(count + 1, dtype=np.int64)
    np.cumsum(np.bincount(ends, minlength=count), out=first[1:])
    return Neighbours(first, others[order], order // 2, order % 2 == 0)


def rings(neighbours: Neighbours, origins: Ints, reached: Bools) -> Iterator[Ring]:
    """Yield what is reached from some nodes, ring by ring.

    Parameters
    ----------
    neighbours : Neighbours
    origins : ndarray of int
        In the order in which they are gone out from; marked as reached here.
    reached : ndarray of bool, shape (n,)
        Nodes not to be reached again; extended in place.
    """
    reached[origins] = True
    frontier = origins
    while len(frontier):
        count = neighbours.first[frontier + 1] - neighbours.first[frontier]
        shift = neighbours.first[frontier] - np.cumsum(count) + count
        slots = np.repeat(shift, count) + np.arange(int(count.sum()))
        here = np.repeat(frontier, count)
        fresh = ~reached[neighbours.node[slots]]
        slots, here = slots[fresh], here[fresh]
        there, at = np.unique(neighbours.node[slots], return_index=True)
        at = np.sort(at)
        slots, frontier = slots[at], neighbours.node[slots[at]]
        reached[there] = True
        if len(frontier):
            edge, forward = neighbours.edge[slots], neighbours.forward[slots]
            yield Ring(here[at], frontier, edge, forward)


def piece_of(count: int, start: Ints, end: Ints) -> Ints:
    """Return of each node the smallest node that it is connected with.

    Parameters
    ----------
    count : int
        Number of nodes n.
    start, end : ndarray of int, shape (e,)

    Examples
    --------
    >>> piece_of(5, np.array([3, 1]), np.array([4, 3])).tolist()
    [0, 1, 2, 1, 1]
    """
    piece = np.arange(count)
    while True:
        a, b = piece[start], piece[end]
        apart = a != b
        if not apart.any():
            return piece
        start, end = start[apart], end[apart]
        low, high = np.minimum(a, b)[apart], np.maximum(a, b)[apart]
        np.minimum.at(piece, high, low)
        while True:
            further = piece[piece]
            if (further == piece).all():
                break
            piece = further


def tree_of(neighbours: Neighbours, roots: Ints) -> Tree:
    """Return a spanning tree of every piece, breadth first.

    Parameters
    ----------
    neighbours : Neighbours
    roots : ndarray of int
        One node of every piece.
    """
    count = len(neighbours.first) - 1
    parent, edge = np.full(count, -1), np.full(count, -1)
    root = np.full(count, -1)
    root[roots] = roots
    size = np.ones(count, dtype=np.int64)
    walked = list(rings(neighbours, roots, np.zeros(count, dtype=bool)))
    for ring in walked:
        parent[ring.there], edge[ring.there] = ring.here, ring.edge
        root[ring.there] = root[ring.here]
    for ring in reversed(walked):
        np.add.at(size, ring.here, size[ring.there])
    place = np.zeros(count, dtype=np.int64)
    place[roots] = np.cumsum(size[roots]) - size[roots]
    for ring in walked:
        # Within a ring the children of a parent stand together.
        before = np.cumsum(size[ring.there]) - size[ring.there]
        new = np.r_[True, ring.here[1:] != ring.here[:-1]]
        before -= before[np.flatnonzero(new)[np.cumsum(new) - 1]]
        place[ring.there] = place[ring.here] + 1 + before
    order = np.empty(count, dtype=np.int64)
    order[place] = np.arange(count)
    return Tree(order, place, size, edge, root)


def bridges(start: Ints, end: Ints, tree: Tree) -> Ints:
    """Return the nodes whose edge to their parent alone ties them to the rest.

    An edge of the tree is a bridge if no other edge leaves the branch beyond it: the
    places of all neighbours of the branch lie in the branch (Tarjan 1974, Information
    Processing Letters 2). Parallel edges are two edges.

    Parameters
    ----------
    start, end : ndarray of int, shape (e,)
    tree : Tree

    Examples
    --------
    >>> start, end = np.array([0, 1, 2, 2]), np.array([1, 2, 0, 3])
    >>> tree = tree_of(neighbours_of(4, start, end), np.array([0]))
    >>> bridges(start, end, tree).tolist()
    [3]
    """
    place, size = tree.place, tree.size
    other = np.ones(len(start), dtype=bool)
    other[tree.edge[tree.edge >= 0]] = False
    a, b = place[start[other]], place[end[other]]
    low = np.arange(len(place))
    high = low.copy()
    np.minimum.at(low, np.r_[a, b], np.r_[b, a])
    np.maximum.at(high, np.r_[a, b], np.r_[b, a])
    last = low + 0
    last[place] = place + size - 1
    first = np.arange(len(place))
    stays = (_least(low, last) >= first) & (-_least(-high, last) <= last)
    nodes = tree.order[stays]
    return np.sort(nodes[tree.edge[nodes] >= 0])


def _least(values: Ints, last: Ints) -> Ints:
    """Return the least of each range from its own place to ``last``."""
    length = last - np.arange(len(values)) + 1
    level = np.log2(length).astype(np.int64)
    least, row, step = values.copy(), values, 1
    for power in range(int(level.max(initial=0)) + 1):
        some = np.flatnonzero(level == power)
        least[some] = np.minimum(row[some], row[last[some] - step + 1])
        if len(row) > step:
            row = np.minimum(row, np.r_[row[step:], row[-1:].repeat(step)])
        step *= 2
    return least
