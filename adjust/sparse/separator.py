"""The fewest nodes that part a graph near a cut, for all parts at once.

Nodes far on either side of the cut stay where they are; among those near it a
maximum flow through nodes, each of which lets one unit pass, finds the smallest
separator (K. Menger's theorem; S. Even, "Graph Algorithms", chapter 6, from memory).
"""

from itertools import pairwise

import numpy as np
from scipy.sparse import csr_array
from scipy.sparse.csgraph import breadth_first_order, maximum_flow

from ...networks.covariances import Bools, Ints
from .narrow import Places

_UNLIMITED = 1 << 24
_GROUP = 2000
"""Nodes near cuts whose flows are found together: a search goes through all of them
for as long as one part still finds a way."""


def separate(
    side: Bools, near: Bools, part: Places, first: Places, second: Places
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
    nodes = nodes[np.argsort(part[nodes], kind="stable")]
    cuts = _groups(part[nodes])
    networks = _networks(side, nodes, cuts, forced, first, second)
    sides = [_sides(network) for network in networks]
    early, late = (np.concatenate(each, axis=1) for each in zip(*sides, strict=True))
    return _more_even(side, part, nodes, early, late)


def _widened(
    side: Bools, near: Bools, part: Places, first: Places, second: Places
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


def _groups(part: Places) -> Ints:
    """Return where groups of parts start, and the end, of sorted numbers of parts."""
    new = np.flatnonzero(np.diff(part, prepend=-1))
    kept = np.diff(new // _GROUP, prepend=-1) != 0
    return np.concatenate([[0], new[kept][1:], [len(part)]])


def _networks(
    side: Bools,
    nodes: Ints,
    cuts: Ints,
    forced: Bools,
    first: Places,
    second: Places,
) -> list[csr_array]:
    """Return the capacities of each group of nodes.

    Of k nodes: the ways into each, out of each, the source, the sink.

    Parameters
    ----------
    nodes : ndarray of int
        Group after group.
    cuts : ndarray of int
        Where groups start, and the end.
    """
    start = 2 * (cuts + np.arange(len(cuts)))
    count = np.repeat(np.diff(cuts), np.diff(cuts))
    own = np.arange(len(nodes)) + np.repeat(start[:-1] - cuts[:-1], np.diff(cuts))
    into, out, source = np.full((3, len(side)), -1)
    into[nodes], out[nodes] = own, own + count
    source[nodes] = np.repeat(start[1:] - 2, np.diff(cuts))
    a, b = np.concatenate([[first, second], [second, first]], axis=1)
    near = into[a] >= 0
    a, b = a[near], b[near]
    inner = into[b] >= 0
    from_source, to_sink = forced.copy(), forced.copy()
    from_source[a[~inner & ~side[b]]] = True
    to_sink[a[~inner & side[b]]] = True
    head, tail = np.flatnonzero(from_source), np.flatnonzero(to_sink)
    rows = np.concatenate([own, out[a[inner]], source[head], out[tail]])
    columns = np.concatenate(
        [own + count, into[b[inner]], into[head], source[tail] + 1]
    )
    size = np.full(len(rows), _UNLIMITED, np.int32)
    size[: len(own)] = 1
    whole = csr_array((size, (rows, columns)), shape=(int(start[-1]),) * 2)
    if len(start) == 2:
        return [whole]
    return [_block(whole, *ends) for ends in pairwise(start.tolist())]


def _block(whole: csr_array, first: int, last: int) -> csr_array:
    """Return the block of a matrix that has blocks only on its diagonal."""
    start = whole.indptr[first : last + 1]
    some = slice(start[0], start[-1])
    made = whole.data[some], whole.indices[some] - np.int32(first), start - start[0]
    return csr_array(made, shape=(last - first, last - first))


def _sides(network: csr_array) -> tuple[Bools, Bools]:
    """Return (2, k) from the source, and not from the sink: into and out of nodes."""
    ends = network.shape[0] - 2
    left = network - maximum_flow(network, ends, ends + 1).flow
    early = _reached(left, ends)[:ends]
    late = ~_reached(left.T.tocsr(), ends + 1)[:ends]
    return early.reshape(2, -1), late.reshape(2, -1)


def _reached(left: csr_array, start: int) -> Bools:
    left.eliminate_zeros()
    made = np.zeros(left.shape[0], bool)
    made[breadth_first_order(left, start, return_predecessors=False)] = True
    return made


def _more_even(
    side: Bools,
    part: Places,
    nodes: Ints,
    early: Bools,
    late: Bools,
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
