"""Orders of the nodes along which a graph may be cut: by place and by the graph."""

import numpy as np
from scipy.sparse import csr_array
from scipy.sparse.csgraph import breadth_first_order

from ...networks.covariances import Bools, Floats, Ints

_ROUNDS = 20
"""Rounds of smoothing: neighbours draw nearer, so that cuts go round tight groups."""
_PLACED = 0.5
"""Share of nodes with a place of their own from which places count at all."""
_SOURCES = 6
"""Nodes from which distances in the graph are counted."""


def cutting_axes(place: Floats, graph: csr_array, piece: Ints) -> list[Floats]:
    """Return coordinates of the nodes along several axes.

    Four are directions in the plane of the places; four more are directions in the
    plane in which distances in the graph spread most. These know no place, and serve
    where there is none, or where places say little of who is joined to whom.

    Parameters
    ----------
    place : ndarray, shape (n, 2 or 3)
        NaN for a node without a place.
    graph : sparse array, shape (n, n)
    piece : ndarray of int, shape (n,)
        The connected piece of each node.

    Returns
    -------
    list of ndarray, shape (n,)
    """
    mean = _averaging(graph)
    every = np.ones(len(piece), dtype=bool)
    plans = [*_by_place(place, mean), _plan(_distances(graph, piece), every)]
    return _along(plans, mean)


def placed_axes(place: Floats, graph: csr_array) -> list[Floats]:
    """Return those along directions in the plane of the places.

    Parameters
    ----------
    place : ndarray, shape (n, 2 or 3)
        NaN for a node without a place.
    graph : sparse array, shape (n, n)

    Returns
    -------
    list of ndarray, shape (n,)
        Empty where too few places are known.
    """
    mean = _averaging(graph)
    return _along(_by_place(place, mean), mean)


def _by_place(place: Floats, mean: csr_array) -> list[Floats]:
    """Return coordinates (n, 2) in the plane of the places, or nothing."""
    known = np.asarray(np.isfinite(place).all(axis=1))
    if known.mean() < _PLACED:
        return []
    return [_filled(_plan(place, known), known, mean)]


def _along(plans: list[Floats], mean: csr_array) -> list[Floats]:
    """Return coordinates along directions in some planes, smoothed all at once."""
    if not plans:
        return []
    smooth = _smooth(np.concatenate(plans, axis=1), mean)
    return [
        axis for plan in np.split(smooth, len(plans), 1) for axis in _directions(plan)
    ]


def _directions(plan: Floats) -> list[Floats]:
    half = np.sqrt(0.5)
    return list((plan @ np.array([[1, 0, half, half], [0, 1, half, -half]])).T)


def _averaging(graph: csr_array) -> csr_array:
    """Return the matrix that takes the mean of each node's neighbours."""
    degree = np.diff(graph.indptr)
    weight = np.repeat(1.0 / np.maximum(degree, 1), degree)
    return csr_array((weight, graph.indices, graph.indptr), shape=graph.shape)


def _smooth(values: Floats, mean: csr_array) -> Floats:
    alone = np.flatnonzero(np.diff(mean.indptr) == 0)
    for _ in range(_ROUNDS):
        drawn = mean @ values
        drawn[alone] = values[alone]
        drawn += values
        drawn *= 0.5
        values = drawn
    return values


def _plan(place: Floats, known: Bools) -> Floats:
    """Return (n, 2) coordinates in the plane in which the places spread most."""
    centred = np.where(known[:, None], place, 0.0)
    centred = np.where(known[:, None], centred - centred[known].mean(axis=0), 0.0)
    _, turn = np.linalg.eigh(centred.T @ centred)
    return np.asarray(centred @ turn[:, -2:], dtype=np.float64)


def _filled(plan: Floats, known: Bools, mean: csr_array) -> Floats:
    """Give nodes without a place the mean of their neighbours that have one."""
    for _ in range(_ROUNDS):
        share = mean @ known.astype(np.float64)
        near = ~known & (share > 0)
        if not near.any():
            break
        total = mean @ np.where(known[:, None], plan, 0.0)
        plan[near] = total[near] / share[near, None]
        known = known | near
    return plan


def _distances(graph: csr_array, piece: Ints) -> Floats:
    """Return (n, 6) steps from nodes of each piece that are far from each other."""
    made = [_steps(graph, piece, np.zeros(len(piece)))]
    # The first search only finds a node at the edge of its piece.
    nearest = made.pop()
    for _ in range(_SOURCES):
        made.append(_steps(graph, piece, nearest))
        nearest = made[0] if len(made) == 1 else np.minimum(nearest, made[-1])
    return np.stack(made, axis=1)


def _steps(graph: csr_array, piece: Ints, distance: Floats) -> Floats:
    """Return the steps from the most distant node of each piece."""
    count = len(piece)
    far = np.lexsort((-distance, piece))
    starts = far[np.flatnonzero(np.diff(piece[far], prepend=-1))]
    # One more node, from which the search enters every piece.
    indices = np.concatenate([graph.indices, starts])
    indptr = np.append(graph.indptr, len(indices))
    ones = np.ones(len(indices), np.int8)
    entered = csr_array((ones, indices, indptr), shape=(count + 1, count + 1))
    order, before = breadth_first_order(entered, count)
    rank = np.empty(count + 1, np.int64)
    rank[order] = np.arange(count + 1)
    # In the order of the search: what is read then lies in the order of reading.
    before[count] = count
    before = rank[before[order]]
    steps = np.ones(count + 1)
    steps[0] = 0.0
    while before[-1]:
        steps += steps[before]
        before = before[before]
    return steps[rank[:-1]]
