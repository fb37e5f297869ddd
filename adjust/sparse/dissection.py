"""Nested dissection: a graph cut into halves, again and again, all parts at once.

At every level each part is cut along the axis and at the place where the fewest
pairs are severed; the nodes that then part its halves are the fewest that touch
every severed pair (a minimum vertex cover). A. George, "Nested dissection of a
regular finite element mesh", SIAM J. Numer. Anal. 10 (1973).
"""

from dataclasses import dataclass

import numpy as np

from ...networks.covariances import Bools, Floats, Ints
from .cover import smallest_cover

_LEAF = 12
"""Nodes up to which a part is not cut."""
_OFF_CENTRE = 0.2
"""How far from the middle a cut may lie, as a share of the part."""
_LEVELS = 40


@dataclass(slots=True)
class _Parts:
    """The parts of one level, and what is left of the graph."""

    label: Ints
    """(p,) number of each part: 1 the whole, 2k and 2k + 1 the halves of part k."""
    part: Ints
    """(n,) part of each node, −1 once the node is placed."""
    orders: list[Ints]
    """Nodes of all parts, one part after the other, sorted along each axis."""
    first: Ints
    second: Ints
    """Joined pairs within a part."""


def dissect(axes: list[Floats], first: Ints, second: Ints) -> Ints:
    """Return for every node the number of the separator or leaf to which it belongs.

    Parameters
    ----------
    axes : list of ndarray, shape (n,)
        Coordinates along which parts may be cut; at least one.
    first, second : ndarray of int, shape (m,)
        Joined pairs.

    Returns
    -------
    ndarray of int, shape (n,)
        1 for what is eliminated last; 2k and 2k + 1 come before k, and touch
        only each other's ancestors k, k // 2, …

    Examples
    --------
    A chain of 31 nodes is parted at single nodes.

    >>> chain = np.arange(31)
    >>> made = dissect([chain * 1.0], chain[:-1], chain[1:])
    >>> np.flatnonzero(made == 1).size
    1
    """
    count = len(axes[0])
    heap = np.ones(count, np.int64)
    orders = [np.argsort(axis, kind="stable") for axis in axes]
    parts = _Parts(
        np.ones(1, np.int64), np.zeros(count, np.int64), orders, first, second
    )
    for _ in range(_LEVELS):
        _finish(
            parts, heap, np.bincount(_live(parts), minlength=len(parts.label)) <= _LEAF
        )
        if not len(parts.orders[0]):
            return heap
        side = _cut(parts)
        _separate(parts, heap, side)
    _finish(parts, heap, np.ones(len(parts.label), bool))
    return heap


def _live(parts: _Parts) -> Ints:
    return parts.part[parts.orders[0]]


def _finish(parts: _Parts, heap: Ints, done: Bools) -> None:
    """Place the nodes of finished parts and number the other parts anew."""
    nodes = parts.orders[0]
    placed = nodes[done[parts.part[nodes]]]
    heap[placed] = parts.label[parts.part[placed]]
    number = np.append(np.where(done, -1, np.cumsum(~done) - 1), -1)
    parts.part = number[parts.part]
    parts.label = parts.label[~done]
    _prune(parts)


def _prune(parts: _Parts) -> None:
    """Forget placed nodes, and pairs that are not within one part."""
    parts.orders = [_by_part(order, parts.part) for order in parts.orders]
    a, b = parts.part[parts.first], parts.part[parts.second]
    within = (a == b) & (a >= 0)
    parts.first, parts.second = parts.first[within], parts.second[within]


def _by_part(order: Ints, part: Ints) -> Ints:
    order = order[part[order] >= 0]
    return order[np.argsort(part[order], kind="stable")]


def _cut(parts: _Parts) -> Bools:
    """Return on which side of the best cut of its part each node lies."""
    size = np.bincount(_live(parts), minlength=len(parts.label))
    start = np.cumsum(size) - size
    share = (np.arange(size.sum()) - np.repeat(start, size) + 1) / np.repeat(size, size)
    off = np.abs(share - 0.5)
    allowed = off <= np.maximum(_OFF_CENTRE, np.repeat(1 / size, size))
    price = np.where(allowed, 1 + 4 * off**2, np.inf)
    best = np.full(len(size), np.inf)
    side = np.zeros(len(parts.part), bool)
    rank = np.empty(len(parts.part), np.int64)
    for order in parts.orders:
        rank[order] = np.arange(len(order))
        cost = (_severed(parts, rank, len(order)) + 0.3) * price
        least = np.minimum.reduceat(cost, start)
        hit = np.flatnonzero(cost == np.repeat(least, size))
        part = parts.part[order]
        at = hit[np.flatnonzero(np.diff(part[hit], prepend=-1))]
        better = (least < best)[part]
        side[order[better]] = (np.arange(len(order)) > at[part])[better]
        best = np.minimum(best, least)
    return side


def _severed(parts: _Parts, rank: Ints, count: int) -> Floats:
    """Return how many pairs a cut after each node severs."""
    a, b = rank[parts.first], rank[parts.second]
    opened = np.bincount(np.minimum(a, b), minlength=count)
    closed = np.bincount(np.maximum(a, b), minlength=count)
    return np.cumsum(opened - closed).astype(np.float64)


def _separate(parts: _Parts, heap: Ints, side: Bools) -> None:
    """Place the separators and make the halves the parts of the next level."""
    across = side[parts.first] != side[parts.second]
    a, b = parts.first[across], parts.second[across]
    swap = side[a]
    separator = smallest_cover(np.where(swap, b, a), np.where(swap, a, b))
    heap[separator] = parts.label[parts.part[separator]]
    parts.part[separator] = -1
    nodes = np.flatnonzero(parts.part >= 0)
    code, parts.part[nodes] = np.unique(
        2 * parts.part[nodes] + side[nodes], return_inverse=True
    )
    parts.label = 2 * parts.label[code >> 1] + (code & 1)
    _prune(parts)
