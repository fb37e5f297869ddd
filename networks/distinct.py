"""Numbers without repeats."""

import numpy as np

from .covariances import Ints


def distinct(numbers: Ints) -> Ints:
    """Return sorted numbers without repeats.

    What ``numpy.unique`` gives, fifteen times as fast from numpy 2.3 on, which hashes
    first (a million numbers, 0.05 and 0.8 s).

    Parameters
    ----------
    numbers : ndarray of int, any shape

    Returns
    -------
    ndarray of int, shape (k,)

    Examples
    --------
    >>> distinct(np.array([3, 1, 3])).tolist()
    [1, 3]
    """
    ordered = np.sort(numbers, axis=None)
    new = np.ones(len(ordered), bool)
    new[1:] = ordered[1:] != ordered[:-1]
    return ordered[new]
