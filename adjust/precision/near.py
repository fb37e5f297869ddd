"""Pairs of places that lie near each other, without looking at every pair."""

import numpy as np
from scipy.spatial import cKDTree

from ...networks.covariances import Floats, Ints


def count_within(places: Floats, reach: float) -> int:
    """Return how many pairs lie within a distance of each other.

    Parameters
    ----------
    places : ndarray, shape (k, 3)
        m.
    reach : float
        m.
    """
    tree = cKDTree(places)
    return (int(tree.count_neighbors(tree, reach)) - len(places)) // 2


def pairs_within(places: Floats, reach: float) -> Ints:
    """Return the pairs within a distance of each other, (P, 2), sorted.

    Parameters
    ----------
    places : ndarray, shape (k, 3)
        m.
    reach : float
        m.

    Examples
    --------
    >>> line = np.array([[0.0, 0, 0], [10, 0, 0], [25, 0, 0]])
    >>> pairs_within(line, 15.0).tolist(), count_within(line, 15.0)
    ([[0, 1], [1, 2]], 2)
    """
    found = cKDTree(places).query_pairs(reach, output_type="ndarray")
    made: Ints = np.unique(found.reshape(-1, 2).astype(np.int64), axis=0)
    return made
