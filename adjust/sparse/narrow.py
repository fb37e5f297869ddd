"""Whole numbers in half the memory, where they fit."""

from typing import Any

import numpy as np
from numpy.typing import NDArray

from ...networks.covariances import Ints

Places = NDArray[np.signedinteger[Any]]
"""Whole numbers, in half the memory where they fit."""


def narrow(values: Ints) -> Places:
    """Return the same numbers, 32 bits each where they fit.

    Examples
    --------
    >>> narrow(np.array([0, 5])).itemsize, narrow(np.array([1 << 40])).itemsize
    (4, 8)
    """
    fits = values.max(initial=0) <= np.iinfo(np.int32).max
    return values.astype(np.int32, copy=False) if fits else values


def room(count: int, most: int) -> Places:
    """Return room for some numbers, none larger than the most.

    Parameters
    ----------
    count : int
    most : int
    """
    fits = most <= np.iinfo(np.int32).max
    return np.empty(count, np.int32 if fits else np.int64)
