"""Where everything is: fronts in stacks of one size, nodes and columns in fronts.

Everything is numbered in the order of elimination, stack by stack, so that a
stack's own columns, and the entries that enter its fronts, are ranges.
"""

from dataclasses import dataclass

import numpy as np

from ...networks.covariances import Bools, Ints
from .tree import Tree

_SINGLE = 160
"""Rows above which a front is worked on by itself, with LAPACK."""
_SIZES = np.array(
    [0, 1, 2, 3, 6, 9, 12, 15, 18, 24, 30, 36, 45, 54, 66, 81, 99, 120, 144, 168]
)
"""Sizes to which the own and the border of smaller fronts are padded."""
_STACK = 12 << 20
"""Numbers in the fronts of a stack at most: 96 MB."""


@dataclass(frozen=True, slots=True)
class Layout:
    """Fronts, nodes and columns, each numbered in order of elimination."""

    node_rank: Ints
    """(n,) place of each node."""
    column_order: Ints
    """(u,) the column at each place."""
    column_start: Ints
    """(n + 1,) where the columns of each node start."""
    front: Ints
    """(n,) front of each node."""
    own_start: Ints
    """(t + 1,) where the own columns of each front start."""
    parent: Ints
    """(t,)"""
    border: Ints
    """Sorted keys front · n + node."""
    border_start: Ints
    """(t + 1,) where each front's keys start."""
    border_column: Ints
    """(keys + 1,) columns on the borders before each key."""
    padded: Ints
    """(t, 2) size of own and border, with the padding."""
    single: Bools
    """(t,) whether the front is worked on by itself."""
    stack_start: Ints
    """(stacks + 1,) where the fronts of each stack start."""
    keeps: bool
    """Whether the last front is kept."""

    def own(self) -> Ints:
        """Return (t,) how many columns of its own each front has."""
        return np.diff(self.own_start)

    def bordering(self) -> Ints:
        """Return (t,) how many columns each front has on its border."""
        return np.diff(self.border_column[self.border_start])

    def row(self, front: Ints, node: Ints) -> Ints:
        """Return the first row of nodes in fronts on whose pattern they are."""
        key = np.searchsorted(self.border, front * len(self.front) + node)
        before = self.border_column[self.border_start[front]]
        outer = self.padded[front, 0] + self.border_column[key] - before
        inner = self.column_start[node] - self.own_start[front]
        return np.where(self.front[node] == front, inner, outer)


def lay_out(tree: Tree, sizes: Ints, node_of_column: Ints, keeps: bool) -> Layout:
    """Return the layout of a tree whose nodes have some columns each.

    Parameters
    ----------
    tree : Tree
    sizes : ndarray of int, shape (n,)
        Columns of each node.
    node_of_column : ndarray of int, shape (u,)
    keeps : bool
        Whether the last front is kept.
    """
    count, fronts = len(sizes), len(tree.parent)
    by_rank = np.argsort(tree.rank)
    owner, node = tree.border // max(count, 1), by_rank[tree.border % max(count, 1)]
    own = np.bincount(tree.front, sizes, fronts).astype(np.int64)
    outer = np.bincount(owner, sizes[node], fronts).astype(np.int64)
    padded, single, height = _padded(own, outer), _single(own, outer), tree.height
    if keeps:
        height = np.append(height[:-1], height.max() + 1)
        padded[-1] = own[-1], 0
    order = np.lexsort((padded[:, 1], padded[:, 0], single, height))
    number = np.empty(fronts, np.int64)
    number[order] = np.arange(fronts)
    node_order = np.lexsort((tree.rank, number[tree.front]))
    node_rank = np.empty(count, np.int64)
    node_rank[node_order] = np.arange(count)
    border = np.sort(number[owner] * count + node_rank[node])
    parent = tree.parent[order]
    return Layout(
        node_rank=node_rank,
        column_order=np.argsort(node_rank[node_of_column], kind="stable"),
        column_start=_starts(sizes[node_order]),
        front=number[tree.front][node_order],
        own_start=_starts(own[order]),
        parent=np.where(parent < 0, -1, number[parent]),
        border=border,
        border_start=np.searchsorted(border, np.arange(fronts + 1) * count),
        border_column=_starts(sizes[node_order][border % max(count, 1)]),
        padded=padded[order],
        single=single[order],
        stack_start=_stacks(height[order], padded[order], single[order], keeps),
        keeps=keeps,
    )


def _starts(sizes: Ints) -> Ints:
    return np.concatenate([[0], np.cumsum(sizes)])


def _single(own: Ints, outer: Ints) -> Bools:
    return own + outer > _SINGLE


def _padded(own: Ints, outer: Ints) -> Ints:
    """Return (t, 2) the sizes of a stack into which each front fits."""
    sizes = np.stack([own, outer], axis=1)
    up = _SIZES[np.minimum(np.searchsorted(_SIZES, sizes), len(_SIZES) - 1)]
    return np.where(_single(own, outer)[:, None], sizes, up)


def _stacks(height: Ints, padded: Ints, single: Bools, keeps: bool) -> Ints:
    """Return where stacks start: fronts of one height and size, not too many."""
    keys = np.column_stack([height, padded])
    new = np.ones(len(keys), bool)
    new[1:] = (keys[1:] != keys[:-1]).any(axis=1)
    new |= single
    new[len(new) - keeps :] = True
    start = np.flatnonzero(new)
    within = np.arange(len(new)) - np.repeat(start, np.diff(start, append=len(new)))
    most = np.maximum(1, _STACK // np.maximum(padded.sum(axis=1) ** 2, 1))
    new |= within % most == 0
    return np.append(np.flatnonzero(new), len(new))
