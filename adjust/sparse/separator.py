"""The fewest nodes that part a graph near a cut, for all parts at once.

Nodes far on either side of the cut stay where they are; among those near it a
maximum flow through nodes, each of which lets one unit pass, finds the smallest
separator (K. Menger's theorem; S. Even, "Graph Algorithms", chapter 6, from memory).
"""

import numpy as np
from scipy.sparse import csr_array
from scipy.sparse.csgraph import breadth_first_order, maximum_flow

from ...networks.covariances import Bools, Ints

_UNLIMITED = 1 << 24


def separate(
    side: Bools, near: Bools, part: Ints, first: Ints, second: Ints
) -> tuple[Ints, Bools]:
    """Return the nodes that part the two sides, and the sides then.

    Parameters
    ----------
    side : ndarray of bool, shape (n,)
        On which side of the cut of its part each node lies.
    near : ndarray of bool, shape (n,)
        May be a separator, or change sides.
    part : ndarray of int, shape (n,)
        Part of each node.
    first, second : ndarray of int, shape (m,)
        Joined pairs, each within a part.

    Returns
    -------
    separator : ndarray of int
    side : ndarray of bool, shape (n,)
        Of no meaning for the separator.

    Examples
    --------
    Two triangles that share node 2; nodes 0 and 4 stay where they are.

    >>> first, second = np.array([0, 0, 1, 2, 2, 3]), np.array([1, 2, 2, 3, 4, 4])
    >>> side, near = np.arange(5) > 1, np.arange(5) % 4 > 0
    >>> separate(side, near, np.zeros(5, int), first, second)[0].tolist()
    [2]
    """
    near, forced = _widened(side, near, part, first, second)
    nodes = np.flatnonzero(near)
    graph = _network(side, near, forced, first, second)
    count = len(nodes)
    flow = maximum_flow(graph, 2 * count, 2 * count + 1).flow
    left = graph - flow
    from_source = _reached(left, 2 * count)
    to_sink = _reached(left.T.tocsr(), 2 * count + 1)
    early = from_source[:count], from_source[count : 2 * count]
    late = ~to_sink[:count], ~to_sink[count : 2 * count]
    return _more_even(side, part, nodes, early, late)


def _widened(
    side: Bools, near: Bools, part: Ints, first: Ints, second: Ints
) -> tuple[Bools, Bools]:
    """Deal with pairs right across what is near the cut.

    Both ends are counted as near too. In a part of which nothing would stay where it
    is, the end with more such pairs must separate.

    Returns
    -------
    near, forced : ndarray of bool, shape (n,)
    """
    across = ~near[first] & ~near[second] & (side[first] != side[second])
    a, b = first[across], second[across]
    wide = near.copy()
    wide[a] = wide[b] = True
    stays = np.flatnonzero(~wide & (part >= 0))
    parts = int(part.max()) + 1
    held = np.bincount(2 * part[stays] + side[stays], minlength=2 * parts)
    dense = (held.reshape(-1, 2) == 0).any(axis=1)
    often = np.bincount(np.concatenate([a, b]), minlength=len(side))
    forced = np.zeros(len(side), bool)
    forced[np.where(often[a] >= often[b], a, b)] = True
    forced &= dense[part]
    return np.where(dense[part], near | forced, wide), forced


def _network(
    side: Bools, near: Bools, forced: Bools, first: Ints, second: Ints
) -> csr_array:
    """Return capacities: into each node, out of each node, the source, the sink."""
    count = int(near.sum())
    number = np.where(near, np.cumsum(near) - 1, -1)
    a, b = np.concatenate([[first, second], [second, first]], axis=1)
    a, b = a[near[a]], b[near[a]]
    inner = near[b]
    from_source, to_sink = forced.copy(), forced.copy()
    from_source[a[~inner & ~side[b]]] = True
    to_sink[a[~inner & side[b]]] = True
    into, out = number[from_source], number[to_sink]
    rows = [number[a[inner]] + count, np.full(len(into), 2 * count), out + count]
    columns = [number[b[inner]], into, np.full(len(out), 2 * count + 1)]
    own = np.arange(count)
    every = np.concatenate([own, *rows]), np.concatenate([own + count, *columns])
    size = np.full(len(every[0]), _UNLIMITED, np.int32)
    size[:count] = 1
    return csr_array((size, every), shape=(2 * count + 2, 2 * count + 2))


def _reached(left: csr_array, start: int) -> Bools:
    left.eliminate_zeros()
    made = np.zeros(left.shape[0], bool)
    made[breadth_first_order(left, start, return_predecessors=False)] = True
    return made


def _more_even(
    side: Bools,
    part: Ints,
    nodes: Ints,
    early: tuple[Bools, Bools],
    late: tuple[Bools, Bools],
) -> tuple[Ints, Bools]:
    """Return of two smallest separators, part by part, the one nearer the middle."""
    parts = int(part.max()) + 1
    far = np.ones(len(side), bool)
    far[nodes] = False
    live = part >= 0
    uneven = []
    for into, out in (early, late):
        outside = np.bincount(part[far & live], 1 - 2 * side[far & live], parts)
        inside = np.bincount(part[nodes], 1.0 * out - ~into, parts)
        uneven.append(np.abs(outside + inside))
    later = (uneven[1] < uneven[0])[part[nodes]]
    into = np.where(later, late[0], early[0])
    out = np.where(later, late[1], early[1])
    side = side.copy()
    side[nodes] = ~out
    return nodes[into & ~out], side
