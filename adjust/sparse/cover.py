"""The fewest nodes that touch every pair between two sides."""

import numpy as np
from scipy.sparse import csr_array
from scipy.sparse.csgraph import maximum_bipartite_matching

from ...networks.covariances import Bools, Ints


def smallest_cover(left: Ints, right: Ints) -> Ints:
    """Return a minimum vertex cover of a bipartite graph.

    By Kőnig's theorem: what alternating paths from unmatched left nodes do not
    reach on the left, and what they reach on the right.

    Parameters
    ----------
    left, right : ndarray of int, shape (m,)
        Joined pairs; no node is on both sides.

    Examples
    --------
    >>> smallest_cover(np.array([0, 1, 2]), np.array([7, 7, 7])).tolist()
    [7]
    """
    if not len(left):
        return np.zeros(0, np.int64)
    lefts, i = np.unique(left, return_inverse=True)
    rights, j = np.unique(right, return_inverse=True)
    ones = np.ones(len(i), np.int8)
    graph = csr_array((ones, (i, j)), shape=(len(lefts), len(rights)))
    partner = maximum_bipartite_matching(graph, perm_type="column")
    reached_left, reached_right = _reached(i, j, partner, len(rights))
    return np.concatenate([lefts[~reached_left], rights[reached_right]])


def _reached(i: Ints, j: Ints, partner: Ints, rights: int) -> tuple[Bools, Bools]:
    """Return what alternating paths from unmatched left nodes reach.

    Each step looks only at the pairs of what it has newly reached.
    """
    matched = partner >= 0
    back = np.full(rights, -1)
    back[partner[matched]] = np.flatnonzero(matched)
    by_left = np.argsort(i, kind="stable")
    j = j[by_left]
    start = np.searchsorted(i[by_left], np.arange(len(partner) + 1))
    left, right = ~matched, np.zeros(rights, bool)
    fresh = np.flatnonzero(left)
    while len(fresh):
        seen = j[_ranges(start[fresh], start[fresh + 1])]
        seen = np.unique(seen[~right[seen]])
        right[seen] = True
        fresh = back[seen]
        fresh = fresh[(fresh >= 0) & ~left[fresh]]
        left[fresh] = True
    return left, right


def _ranges(start: Ints, stop: Ints) -> Ints:
    """Return the numbers of all half-open ranges, one after the other."""
    size = stop - start
    shift = np.repeat(start - np.cumsum(size) + size, size)
    return np.asarray(np.arange(len(shift)) + shift, dtype=np.int64)
