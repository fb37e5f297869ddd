"""In which sequence parts of the tree are worked on, so that little waits at a time.

What a front leaves for its parent has to be kept until the parent comes. Height by
height over the whole tree everything would wait at once; one subtree after another
only what its own fronts leave. J. W. H. Liu, "On the storage requirement in the
out-of-core multifrontal method", ACM Trans. Math. Softw. 12 (1986).
"""

from itertools import pairwise

import numpy as np

from ...networks.covariances import Bools, Ints

_AT_ONCE = 1 << 24
"""Numbers in the fronts of a subtree that is worked on height by height: 128 MB."""


def sequence(parent: Ints, height: Ints, numbers: Ints) -> Ints:
    """Return (t,) when each front is worked on; those alike go height by height.

    Subtrees that are small, and small ones of one parent together, are alike; the
    fronts above them come one by one, each after all that is below it.

    Parameters
    ----------
    parent : ndarray of int, shape (t,)
        −1 for a root; a child's number is below its parent's.
    height : ndarray of int, shape (t,)
    numbers : ndarray of int, shape (t,)
        In each front.

    Examples
    --------
    Two subtrees of one front each, too large to be alike, and their parent.

    >>> numbers = np.full(3, 1 << 25)
    >>> sequence(np.array([2, 2, -1]), np.array([0, 0, 1]), numbers).tolist()
    [0, 1, 2]
    """
    levels = _levels(height)
    whole, count = numbers.copy(), np.ones(len(parent), np.int64)
    for level in levels:
        inner = level[parent[level] >= 0]
        np.add.at(whole, parent[inner], whole[inner])
        np.add.at(count, parent[inner], count[inner])
    small = whole <= _AT_ONCE
    # Large ones first: while they are worked on, the small ones have left nothing yet.
    order = np.lexsort((small, parent))
    before = np.empty(len(parent), np.int64)
    before[order] = _within(count[order], parent[order])
    made = np.empty(len(parent), np.int64)
    start = np.empty(len(parent), np.int64)
    topmost = small & ~np.append(small, False)[parent]
    last = _last_of_group(topmost, order, whole, parent)
    for level in reversed(levels):
        above = parent[level]
        start[level] = before[level] + np.where(above >= 0, start[above], 0)
        made[level] = start[level] + count[level] - 1
    made[topmost] = made[last[topmost]]
    for level in reversed(levels):
        inner = level[small[level] & ~topmost[level]]
        made[inner] = made[parent[inner]]
    return made


def _levels(height: Ints) -> list[Ints]:
    """Return the fronts of each height, lowest first."""
    order = np.argsort(height, kind="stable")
    cuts = np.searchsorted(height[order], np.arange(int(height.max(initial=-1)) + 2))
    return [order[first:last] for first, last in pairwise(cuts.tolist())]


def _within(sizes: Ints, group: Ints) -> Ints:
    """Return the sum of the sizes before each in its group; groups are together."""
    total = np.cumsum(sizes) - sizes
    new = np.diff(group, prepend=group[:1] - 1) != 0
    return np.asarray(total - total[new][np.cumsum(new) - 1])


def _last_of_group(topmost: Bools, order: Ints, whole: Ints, parent: Ints) -> Ints:
    """Return, for topmost small subtrees, the last of those that are worked on with it.

    Of one parent, as many as are no larger together than one may be, or nearly.
    """
    last = np.arange(len(parent))
    some = order[topmost[order]]
    if not len(some):
        return last
    share = _within(whole[some], parent[some]) // _AT_ONCE
    new = (np.diff(parent[some]) != 0) | (np.diff(share) != 0)
    ends = np.append(np.flatnonzero(new), len(some) - 1)
    sizes = np.diff(ends, prepend=-1)
    last[some] = np.repeat(some[ends], sizes)
    return last
