"""Nested dissection: a graph cut into halves, again and again, all parts at once.

At every level each part is cut along the axis and at the place where the fewest
nodes are joined across, and parted by the smallest separator near that cut. A. George,
"Nested dissection of a regular finite element mesh", SIAM J. Numer. Anal. 10 (1973);
cuts along axes with a flow between their ends: A. Schild and C. Sommer, "On balanced
separators in road networks", SEA 2015 (from memory).
"""

from dataclasses import dataclass

import numpy as np
from scipy.sparse import csr_array
from scipy.sparse.csgraph import connected_components

from ...networks.covariances import Bools, Floats, Ints
from .narrow import Places
from .separator import separate

_LEAF, _LEAF_OF_FEW, _FEW = 4, 6, 2000
"""Nodes up to which a part is not cut; in a small graph calls cost more than flops."""
_OFF_CENTRE = 0.2
"""How far from the middle a cut may lie, as a share of the part."""
_MORE = 0.25
"""Share of the more of the nodes before and after a cut that are joined across it."""
_NEAR = 12.0
"""Nodes on either side of a cut that may be in the separator, per node joined …"""
_REACH = 0.1
"""… but not more than this share of the part."""
_LEVELS = 32
_APART = 2
"""Levels after which parts are taken apart into pieces again."""
_PIECES = 20
"""Digits of a part's number, besides one a level, that tell its pieces apart: with
those of all levels no more than a number in double precision has."""
_MANY_LEVELS, _MANY_CUTS, _SELDOM = 4, 15, 0.5
"""After so many an axis is dropped that won less than this share of its due."""


@dataclass(slots=True)
class _Parts:
    """The parts of one level, and what is left of the graph."""

    label: Ints
    """(p,) number of each part: 1 the whole, 2k and 2k + 1 the halves of part k."""
    part: Places
    """(n,) part of each node, −1 once the node is placed."""
    orders: list[Places]
    """Nodes of all parts, one part after the other, sorted along each axis."""
    first: Places
    second: Places
    """Joined pairs within a part."""
    won: Ints
    """How many parts were cut along each axis."""
    off_centre: float
    """How far from the middle a cut may lie, as a share of the part."""
    levels: int = 0


def dissect(
    axes: list[Floats],
    piece: Ints,
    first: Ints,
    second: Ints,
    levels: int = _LEVELS,
    apart: bool = True,
    off_centre: float = _OFF_CENTRE,
) -> Ints:
    """Return for every node the number of the separator or leaf to which it belongs.

    Parameters
    ----------
    axes : list of ndarray, shape (n,)
        Coordinates along which parts may be cut; at least one.
    piece : ndarray of int, shape (n,)
        Numbers from 0 of the parts to begin with, between which no pair reaches.
    first, second : ndarray of int, shape (m,)
        Joined pairs, sorted by the first.
    levels : int, optional
        How often parts are cut, at most.
    apart : bool, optional
        Whether pieces into which a part falls are parts of their own from then on. One
        cut through several would make their separators one, as if they were joined.
    off_centre : float, optional
        How far from the middle of a part it may be cut, as a share of the part.

    Returns
    -------
    ndarray of int, shape (n,)
        Separators and leaves 2k and 2k + 1 come before k, and touch only their
        ancestors k, k // 2, …

    Examples
    --------
    A chain of 31 nodes is parted at single nodes.

    >>> chain = np.arange(31)
    >>> made = dissect([chain * 1.0], 0 * chain, chain[:-1], chain[1:])
    >>> np.flatnonzero(made == 1).size
    1
    """
    pieces = int(piece.max()) + 1
    label = np.arange(pieces) + (1 << (pieces - 1).bit_length())
    heap = np.empty(len(piece), np.int64)
    orders = [np.argsort(axis, kind="stable").astype(np.int32) for axis in axes]
    won = np.zeros(len(axes), np.int64)
    # Half as long as usual: most of the time is spent in reading these.
    half = [numbers.astype(np.int32) for numbers in (piece, first, second)]
    parts = _Parts(label, half[0], orders, half[1], half[2], won, off_centre)
    leaf = _LEAF if len(piece) > _FEW else _LEAF_OF_FEW
    for level in range(levels):
        if apart and level % _APART == _APART - 1:
            _take_apart(parts, level)
        size = np.bincount(parts.part[parts.part >= 0], minlength=len(parts.label))
        _finish(parts, heap, size <= leaf)
        if not len(parts.orders[0]):
            return heap
        _separate(parts, heap, *_cut(parts))
    _finish(parts, heap, np.ones(len(parts.label), bool))
    return heap


def _take_apart(parts: _Parts, level: int) -> None:
    """Make the pieces into which parts have fallen parts of their own."""
    _keep_pairs_within(parts)
    count = len(parts.part)
    each = np.bincount(parts.first, minlength=count)
    start = np.append(0, np.cumsum(each)).astype(np.int32)
    ones = np.ones(len(parts.second))
    graph = csr_array((ones, parts.second, start), shape=(count, count))
    pieces, piece = connected_components(graph, directed=False)
    owner = np.empty(pieces, np.int64)
    owner[piece] = parts.part
    live = np.flatnonzero(owner >= 0)
    if len(live) == len(parts.label):
        return
    live = live[np.argsort(owner[live], kind="stable")]
    label = _labels(parts.label, owner[live], level)
    new = np.diff(label, prepend=-1) != 0
    number = np.full(pieces, -1, np.int32)
    number[live] = np.cumsum(new) - 1
    parts.part, parts.label = number[piece], label[new]


def _labels(label: Ints, owner: Ints, level: int) -> Ints:
    """Return numbers of the pieces of parts; one for all where there are too many."""
    many = np.bincount(owner)
    within = np.arange(len(owner)) - np.repeat(np.cumsum(many) - many, many)
    digits = np.frexp(many - 1.0)[1].astype(np.int64)
    used = np.frexp(label.astype(np.float64))[1]
    few = used + digits <= 1 + level + _PIECES
    return np.where(few[owner], (label << digits)[owner] + within, label[owner])


def _keep_pairs_within(parts: _Parts) -> None:
    a, b = parts.part[parts.first], parts.part[parts.second]
    within = (a == b) & (a >= 0)
    parts.first, parts.second = parts.first[within], parts.second[within]


def _finish(parts: _Parts, heap: Ints, done: Bools) -> None:
    """Place the nodes of finished parts, number the other parts anew, sort by them."""
    nodes = np.flatnonzero(parts.part >= 0)
    placed = nodes[done[parts.part[nodes]]]
    heap[placed] = parts.label[parts.part[placed]]
    number = np.append(np.where(done, -1, np.cumsum(~done) - 1), -1).astype(np.int32)
    parts.part = number[parts.part]
    parts.label = parts.label[~done]
    parts.orders = [_by_part(order, parts.part) for order in parts.orders]
    _keep_pairs_within(parts)


def _by_part(order: Places, part: Places) -> Places:
    key = part[order]
    live = key >= 0
    order, key = order[live], key[live]
    # Short numbers are sorted by their digits, several times quicker.
    short = key.max(initial=0) <= np.iinfo(np.uint16).max
    return order[np.argsort(key.astype(np.uint16) if short else key, kind="stable")]


def _cut(parts: _Parts) -> tuple[Floats, Floats]:
    """Return how many nodes each node is beyond the cut, and how wide to look there.

    Returns
    -------
    beyond : ndarray, shape (n,)
        In the order along the best axis of its part; negative before the cut.
    reach : ndarray, shape (p,)
    """
    owner = parts.part[parts.orders[0]]
    size = np.bincount(owner)
    start = np.cumsum(size) - size
    price = _price(size, parts.off_centre)
    least, joined = np.full((2, len(size)), np.inf)
    cut, winner = np.zeros((2, len(size)), np.int64)
    rank = np.empty(len(parts.part), np.int32)
    place = np.arange(len(owner), dtype=np.int32)
    for axis, order in enumerate(parts.orders):
        rank[order] = place
        bounding = _bounding(parts, rank, len(order))
        cost = (bounding + 0.3) * price
        at = _first_least(cost, start, owner)
        better = np.flatnonzero(cost[at] < least)
        at = at[better]
        least[better], joined[better] = cost[at], bounding[at]
        cut[better], winner[better] = at, axis
    beyond = np.zeros(len(parts.part))
    won = winner[owner]
    for axis, order in enumerate(parts.orders):
        here = np.flatnonzero(won == axis)
        beyond[order[here]] = here - cut[owner[here]] - 0.5
    _drop_axes(parts, winner)
    # A node at least stays on either side, or a small part would stay whole.
    before = cut + 1 - start
    stays = np.minimum(before, size - before) - 2
    return beyond, np.minimum(np.minimum(_NEAR * joined, _REACH * size), stays)


def _drop_axes(parts: _Parts, winner: Ints) -> None:
    """Forget axes that were the best of hardly any part, when enough were cut."""
    parts.won += np.bincount(winner, minlength=len(parts.orders))
    parts.levels += 1
    if parts.levels >= _MANY_LEVELS and parts.won.sum() >= _MANY_CUTS:
        worth = parts.won >= _SELDOM * parts.won.mean()
        parts.orders = [parts.orders[axis] for axis in np.flatnonzero(worth)]
        parts.won = parts.won[worth]


def _price(size: Ints, off_centre: float) -> Floats:
    """Return what a cut after each node costs for being off the middle of its part."""
    start = np.repeat(np.cumsum(size) - size, size)
    whole = np.repeat(size, size)
    off = np.abs((np.arange(len(whole)) - start + 1) / whole - 0.5)
    return np.where(off <= np.maximum(off_centre, 1 / whole), 1 + 4 * off**2, np.inf)


def _first_least(cost: Floats, start: Ints, owner: Places) -> Ints:
    """Return where the least cost of each part is first found."""
    least = np.minimum.reduceat(cost, start)
    hit = np.flatnonzero(cost == least[owner])
    return np.asarray(hit[np.flatnonzero(np.diff(owner[hit], prepend=-1))])


def _bounding(parts: _Parts, rank: Places, count: int) -> Floats:
    """Return about how many nodes would separate the sides of a cut after each node.

    Those before the cut that are joined across it would, and those after it: the
    fewer of these, and a share of the more. Pairs are no measure where a survey hangs
    on few marks with many pairs each.
    """
    a, b = rank[parts.first], rank[parts.second]
    low, high = np.minimum(a, b), np.maximum(a, b)
    furthest = np.arange(count, dtype=np.int32)
    nearest = furthest.copy()
    np.maximum.at(furthest, low, high)
    np.minimum.at(nearest, high, low)
    before = np.cumsum(1 - np.bincount(furthest, minlength=count))
    after = np.cumsum(np.bincount(nearest, minlength=count) - 1)
    fewer, more = np.minimum(before, after), np.maximum(before, after)
    return np.asarray(fewer + _MORE * more, dtype=np.float64)


def _separate(parts: _Parts, heap: Ints, beyond: Floats, reach: Floats) -> None:
    """Place the separators and make the halves the parts of the next level."""
    near = (parts.part >= 0) & (np.abs(beyond) <= 1 + reach[parts.part])
    separator, side = separate(beyond > 0, near, parts.part, parts.first, parts.second)
    heap[separator] = parts.label[parts.part[separator]]
    parts.part[separator] = -1
    nodes = np.flatnonzero(parts.part >= 0)
    half = 2 * parts.part[nodes] + side[nodes]
    there = np.bincount(half) > 0
    code = np.flatnonzero(there)
    parts.part[nodes] = (np.cumsum(there) - 1)[half]
    parts.label = 2 * parts.label[code >> 1] + (code & 1)
