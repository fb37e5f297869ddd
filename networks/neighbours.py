"""Pairs of marks that a specification asks about."""

from collections.abc import Iterator

import numpy as np

from .covariances import Ints
from .network import Network


def observed_pairs(network: Network) -> Ints:
    """Return the pairs of marks between which something in use was observed, (P, 2).

    A direction or an angle joins its instrument's mark to what was sighted.

    Parameters
    ----------
    network : Network

    Returns
    -------
    ndarray of int, shape (P, 2)
        Marks, the smaller number first, each pair once, sorted.
    """
    ends = [network.mark_of(both) for both in _ends(network)]
    pairs = np.sort(np.concatenate([np.zeros((0, 2), dtype=np.int64), *ends]), axis=1)
    return np.unique(pairs[pairs[:, 0] != pairs[:, 1]], axis=0)


def _ends(network: Network) -> Iterator[Ints]:
    vectors, levels = network.vectors, network.levels
    yield np.stack([vectors.start, vectors.end], axis=1)[vectors.used]
    if levels is not None:
        yield np.stack([levels.start, levels.end], axis=1)[levels.used]
    for some in network.sights:
        yield np.stack([some.at, some.to], axis=1)[some.used]
        back = some.used & (some.back >= 0)
        yield np.stack([some.at, some.back], axis=1)[back]


def all_pairs(marks: Ints) -> Ints:
    """Return every pair of some marks, (k (k − 1) / 2, 2).

    Examples
    --------
    >>> all_pairs(np.array([0, 2, 5])).tolist()
    [[0, 2], [0, 5], [2, 5]]
    """
    first, second = np.triu_indices(len(marks), 1)
    return np.asarray(np.stack([marks[first], marks[second]], axis=1))
