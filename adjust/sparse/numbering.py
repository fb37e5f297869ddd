"""Nodes numbered by where they are, so that joined ones are near each other in memory.

Numbers are read in the order of the nodes again and again, from the nodes to which
each is joined: with numbers in no order a large network waits for memory most of the
time. The curve is that of G. M. Morton, "A computer oriented geodetic data base"
(1966), from memory.
"""

import numpy as np

from ...networks.covariances import Floats, Ints

_DIGITS = 10
"""Binary digits of each coordinate: a million squares."""


def numbering(place: Floats) -> Ints:
    """Return (n,) the nodes in an order in which neighbours are near each other.

    Parameters
    ----------
    place : ndarray, shape (n, 2 or 3)
        Where each node is; nodes without a place come in the middle.

    Examples
    --------
    Two pairs far from each other.

    >>> place = np.array([[0.0, 0.0], [9.0, 9.0], [0.0, 1.0], [9.0, 8.0]])
    >>> numbering(place).tolist()
    [0, 2, 3, 1]
    """
    known = np.isfinite(place)
    key = np.zeros(len(place), np.int64)
    for k, (some, there) in enumerate(zip(place.T, known.T, strict=True)):
        if not there.any():
            continue
        low, high = some[there].min(), some[there].max()
        share = np.where(there, (some - low) / max(high - low, 1e-300), 0.5)
        cell = (share * ((1 << _DIGITS) - 1)).astype(np.int64)
        for digit in range(_DIGITS):
            key |= (cell >> digit & 1) << (digit * place.shape[1] + k)
    return np.argsort(key, kind="stable")


def renumbered(node: Ints, first: Ints, second: Ints) -> tuple[Ints, Ints]:
    """Return joined pairs a < b by places in an order of the nodes, sorted.

    Parameters
    ----------
    node : ndarray of int, shape (n,)
        The order.
    first, second : ndarray of int, shape (m,)
        Joined pairs of nodes.
    """
    count = len(node)
    rank = np.empty(count, np.int64)
    rank[node] = np.arange(count)
    a, b = rank[first], rank[second]
    key = np.sort(np.minimum(a, b) * count + np.maximum(a, b))
    return key // count, key % count
