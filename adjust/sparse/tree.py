"""The fronts of an elimination and how they hang together.

A front is a group of nodes eliminated at once, its *own*, with the nodes that this
joins them to, its *border*: all of these are eliminated later. The front that
eliminates the first of the border is the parent. I. S. Duff and J. K. Reid, "The
multifrontal solution of indefinite sparse symmetric linear equations", ACM Trans.
Math. Softw. 9 (1983).
"""

from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from ...networks.covariances import Floats, Ints
from ...networks.distinct import distinct
from .graph import Nodes


@dataclass(frozen=True, slots=True)
class Tree:
    """Fronts in an order in which each comes before its parent."""

    front: Ints
    """(n,) the front that eliminates each node."""
    parent: Ints
    """(t,) −1 for a root."""
    height: Ints
    """(t,) 0 for a leaf, else one more than the highest child."""
    border: Ints
    """Sorted keys front · n + node of all borders, nodes in order of ``rank``."""
    rank: Ints
    """(n,) place of each node in the elimination."""


def levels(nodes: Nodes, labels: Ints, heap: Ints) -> tuple[Ints, Ints]:
    """Return (n,) level and (n,) number within the level of each node's front.

    A node's neighbours are on its own front or on a lower level. Clusters in bulk
    are on the highest; then parts and separators; then what comes last, in one
    front; then what is kept, in another.
    """
    depth = np.frexp(heap.astype(np.float64))[1] + 1
    level = np.where(labels >= 0, depth.max(initial=0) + 1, depth)
    number = np.where(labels >= 0, labels, heap)
    kept = np.zeros(len(nodes), bool) if nodes.kept is None else nodes.kept
    level = np.where(kept, 0, np.where(nodes.last, 1, level))
    return level, np.where(level < 2, 0, number)


def grow(level: Ints, number: Ints, along: Floats, first: Ints, second: Ints) -> Tree:
    """Return the tree of fronts that levels make of a graph.

    Parameters
    ----------
    level, number : ndarray of int, shape (n,)
        As from ``levels``; nodes alike in both are one front.
    along : ndarray, shape (n,)
        Coordinates in whose order the nodes of a front are taken. A separator is
        touched by each child along a stretch of it: its rows then lie together.
    first, second : ndarray of int, shape (m,)
        Joined pairs.
    """
    order = np.lexsort((along, number, -level))
    new = np.diff(level[order], prepend=-1) != 0
    new |= np.diff(number[order], prepend=-1) != 0
    rank = np.empty(len(order), np.int64)
    rank[order] = np.arange(len(order))
    front = np.cumsum(new) - 1
    fronts = int(front[-1]) + 1 if len(front) else 0
    bottom = -level[order[new]]
    a, b = rank[first], rank[second]
    border, parent = _borders(front, bottom, np.minimum(a, b), np.maximum(a, b))
    return Tree(front[rank], parent, _heights(parent, bottom, fronts), border, rank)


def _borders(front: Ints, bottom: Ints, low: Ints, high: Ints) -> tuple[Ints, Ints]:
    """Return the keys of all borders and the parents, level after level.

    What a front has on its border, but its parent does not eliminate, is on the
    parent's border too.
    """
    count = len(front)
    parent = np.full(len(bottom), -1)
    outside = front[low] != front[high]
    own = np.sort(front[low[outside]] * count + high[outside])
    levels, start = np.unique(bottom, return_index=True)
    cuts = np.append(start, len(bottom)) * count
    own_cuts = np.searchsorted(own, cuts)
    passed: list[list[Ints]] = [[] for _ in levels]
    made = [np.zeros(0, np.int64)]
    for k in range(len(levels)):
        keys = np.concatenate([own[own_cuts[k] : own_cuts[k + 1]], *passed[k]])
        passed[k] = []
        keys = distinct(keys)
        made.append(keys)
        if not len(keys):
            continue
        child, node = keys // count, keys % count
        new = np.diff(child, prepend=-1) != 0
        parent[child[new]] = front[node[new]]
        up = parent[child]
        further = front[node] != up
        sent = np.sort(up[further] * count + node[further])
        for j, part in enumerate(np.split(sent, np.searchsorted(sent, cuts[1:-1]))):
            if len(part):
                passed[j].append(part)
    return np.concatenate(made), parent


def _heights(parent: Ints, bottom: Ints, fronts: int) -> Ints:
    height = np.zeros(fronts, np.int64)
    _, start = np.unique(bottom, return_index=True)
    for first, last in pairwise(np.append(start, fronts)):
        child = np.arange(first, last)
        child = child[parent[child] >= 0]
        np.maximum.at(height, parent[child], height[child] + 1)
    return height
