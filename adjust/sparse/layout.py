"""Where everything is: fronts in stacks of one size, nodes and columns in fronts.

Everything is numbered in the order of elimination, stack by stack, so that a
stack's own columns, and the entries that enter its fronts, are ranges.
"""

from dataclasses import dataclass

import numpy as np

from ...networks.covariances import Bools, Ints
from .grouping import padded, singles
from .narrow import Places, narrow
from .sequence import sequence
from .tree import Tree

_STACK = 1 << 19
"""Numbers in the fronts of a stack at most: 4 MB, which a processor keeps near."""


@dataclass(frozen=True, slots=True)
class Layout:
    """Fronts, nodes and columns, each numbered in order of elimination."""

    node_rank: Ints
    """(n,) place of each node."""
    column_order: Places
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

    def border_starts(self) -> Ints:
        """Return (t,) where the columns on each front's border start."""
        return self.border_column[self.border_start[:-1]]

    def stacks(self) -> Ints:
        """Return (t,) the stack of each front."""
        sizes = np.diff(self.stack_start)
        return np.repeat(np.arange(len(sizes)), sizes)

    def widths(self) -> Ints:
        """Return (t,) the rows of each front, with the padding."""
        return np.asarray(self.padded.sum(axis=1))

    def bases(self) -> Ints:
        """Return (t,) where in its stack each front starts."""
        within = np.arange(len(self.padded)) - self.stack_start[self.stacks()]
        return within * self.widths() ** 2

    def row(self, front: Ints, node: Ints) -> Ints:
        """Return the first row of nodes in fronts on whose pattern they are."""
        key = np.searchsorted(self.border, front * len(self.front) + node)
        before = self.border_column[self.border_start[front]]
        outer = self.padded[front, 0] + self.border_column[key] - before
        inner = self.column_start[node] - self.own_start[front]
        return np.where(self.front[node] == front, inner, outer)


def lay_out(tree: Tree, width: Ints, node_of_column: Ints, keeps: bool) -> Layout:
    """Return the layout of a tree whose nodes have some columns each.

    Parameters
    ----------
    tree : Tree
    width : ndarray of int, shape (n,)
        Columns of each node.
    node_of_column : ndarray of int, shape (u,)
    keeps : bool
        Whether the last front is kept.
    """
    count, fronts = len(width), len(tree.parent)
    by_rank = np.argsort(tree.rank)
    owner, node = tree.border // max(count, 1), by_rank[tree.border % max(count, 1)]
    own = np.bincount(tree.front, width, fronts).astype(np.int64)
    outer = np.bincount(owner, width[node], fronts).astype(np.int64)
    sizes, single, height = (
        padded(own, outer, tree.height),
        singles(own, outer),
        tree.height,
    )
    when = sequence(tree.parent, tree.height, sizes.sum(axis=1) ** 2)
    if keeps:
        height = np.append(height[:-1], height.max() + 1)
        when[-1] = when.max() + 1
        sizes[-1] = own[-1], 0
    order = np.lexsort((sizes[:, 1], sizes[:, 0], single, height, when))
    alike = np.column_stack([when, height, sizes])[order]
    start = _stacks(alike, sizes[order], single[order], keeps)
    order = _siblings_together(order, start, tree.parent)
    number = np.empty(fronts, np.int64)
    number[order] = np.arange(fronts)
    node_order = np.lexsort((tree.rank, number[tree.front]))
    node_rank = np.empty(count, np.int64)
    node_rank[node_order] = np.arange(count)
    border = np.sort(number[owner] * count + node_rank[node])
    parent = tree.parent[order]
    return Layout(
        node_rank=node_rank,
        column_order=narrow(np.argsort(node_rank[node_of_column], kind="stable")),
        column_start=_starts(width[node_order]),
        front=number[tree.front][node_order],
        own_start=_starts(own[order]),
        parent=np.where(parent < 0, -1, number[parent]),
        border=border,
        border_start=np.searchsorted(border, np.arange(fronts + 1) * count),
        border_column=_starts(width[node_order][border % max(count, 1)]),
        padded=sizes[order],
        single=single[order],
        stack_start=start,
        keeps=keeps,
    )


def _starts(sizes: Ints) -> Ints:
    return np.concatenate([[0], np.cumsum(sizes)])


def _siblings_together(order: Ints, start: Ints, parent: Ints) -> Ints:
    """Order the fronts of each stack by their parents' stacks."""
    stack = np.empty(len(order), np.int64)
    stack[order] = np.repeat(np.arange(len(start) - 1), np.diff(start))
    above = np.where(parent < 0, -1, stack[parent])
    return np.lexsort((above, stack))


def _stacks(keys: Ints, padded: Ints, single: Bools, keeps: bool) -> Ints:
    """Return where stacks start: fronts of one height and size, not too many."""
    new = np.ones(len(keys), bool)
    new[1:] = (keys[1:] != keys[:-1]).any(axis=1)
    new |= single
    new[len(new) - keeps :] = True
    start = np.flatnonzero(new)
    within = np.arange(len(new)) - np.repeat(start, np.diff(start, append=len(new)))
    most = np.maximum(1, _STACK // np.maximum(padded.sum(axis=1) ** 2, 1))
    new |= within % most == 0
    return np.append(np.flatnonzero(new), len(new))
