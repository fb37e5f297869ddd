"""Orders of the nodes along which a graph may be cut: by place and by the graph."""

import numpy as np
from scipy.sparse import csr_array
from scipy.sparse.csgraph import breadth_first_order, connected_components

from ...networks.covariances import Bools, Floats, Ints

_ROUNDS = 20
"""Rounds of smoothing: neighbours draw nearer, so that cuts go round tight groups."""
_PLACED = 0.5
"""Share of nodes with a place of their own from which places count at all."""


def cutting_axes(place: Floats, graph: csr_array, from_graph: int) -> list[Floats]:
    """Return coordinates of the nodes along several axes.

    Parameters
    ----------
    place : ndarray, shape (n, 2 or 3)
        NaN for a node without a place.
    graph : sparse array, shape (n, n)
    from_graph : int
        How many axes to take from the graph alone; those know no place, and serve
        where places say nothing of who is joined to whom.

    Returns
    -------
    list of ndarray, shape (n,)
    """
    count = graph.shape[0]
    mean = _averaging(graph)
    axes = [_smooth(rank, mean)[:, 0] for rank in _graph_ranks(graph, from_graph)]
    known = np.asarray(np.isfinite(place).all(axis=1))
    if count and known.mean() >= _PLACED:
        plan = _smooth(_filled(_plan(place, known), known, mean), mean)
        half = np.sqrt(0.5)
        turns = np.array([[1, 0, half, half], [0, 1, half, -half]])
        axes = [*(plan @ turns).T, *axes]
    return axes


def _averaging(graph: csr_array) -> csr_array:
    """Return the matrix that takes the mean of each node's neighbours."""
    degree = np.maximum(np.diff(graph.indptr), 1)
    weight = np.repeat(1.0 / degree, np.diff(graph.indptr))
    return csr_array((weight, graph.indices, graph.indptr), shape=graph.shape)


def _smooth(values: Floats, mean: csr_array) -> Floats:
    values = np.asarray(values, dtype=np.float64).reshape(len(values), -1)
    alone = np.diff(mean.indptr)[:, None] == 0
    for _ in range(_ROUNDS):
        values = 0.5 * values + 0.5 * np.where(alone, values, mean @ values)
    return values


def _plan(place: Floats, known: Bools) -> Floats:
    """Return (n, 2) coordinates in the plane in which the places spread most."""
    centred = np.where(known[:, None], place, 0.0)
    centred = np.where(known[:, None], centred - centred[known].mean(axis=0), 0.0)
    _, turn = np.linalg.eigh(centred.T @ centred)
    return np.asarray(centred @ turn[:, -2:], dtype=np.float64)


def _filled(plan: Floats, known: Bools, mean: csr_array) -> Floats:
    """Give nodes without a place the mean of their neighbours that have one."""
    missing = ~known
    for _ in range(_ROUNDS):
        if not missing.any():
            break
        has = mean @ known.astype(np.float64)
        near = missing & (has > 0)
        if not near.any():
            break
        total = mean @ np.where(known[:, None], plan, 0.0)
        plan[near] = total[near] / has[near, None]
        known = known | near
        missing = ~known
    return plan


def _graph_ranks(graph: csr_array, wanted: int) -> list[Floats]:
    """Return ranks by breadth-first search from nodes far from each other.

    The pieces of a graph that does not hang together follow one another.
    """
    if not wanted or not graph.shape[0]:
        return []
    _, piece = connected_components(graph, directed=False)
    nearest = _ranks(graph, piece, np.zeros(len(piece)))
    ranks: list[Floats] = []
    for _ in range(wanted):
        ranks.append(_ranks(graph, piece, nearest))
        nearest = ranks[0] if len(ranks) == 1 else np.minimum(nearest, ranks[-1])
    return ranks


def _ranks(graph: csr_array, piece: Ints, distance: Floats) -> Floats:
    """Return ranks by a search that starts at the most distant node of each piece."""
    count = len(piece)
    far = np.lexsort((-distance, piece))
    starts = far[np.flatnonzero(np.diff(piece[far], prepend=-1))]
    # One more node, from which the search enters every piece.
    indices = np.concatenate([graph.indices, starts])
    indptr = np.append(graph.indptr, len(indices))
    ones = np.ones(len(indices), np.int8)
    entered = csr_array((ones, indices, indptr), shape=(count + 1, count + 1))
    order = breadth_first_order(entered, count, return_predecessors=False)[1:]
    order = order[np.argsort(piece[order], kind="stable")]
    rank = np.empty(count)
    rank[order] = np.arange(count)
    return rank
