"""A symmetric matrix on a pattern of blocks."""

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_array

from ...networks.covariances import Floats, Ints

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
    return values.astype(np.int32) if fits else values


@dataclass(frozen=True, slots=True)
class Normal:
    """A symmetric matrix, its lower triangle in order of elimination."""

    values: Floats
    """(entries,) in the order of the pattern."""
    rows: Places
    """(entries,) columns of the matrix, as they were given."""
    columns: Places
    on_diagonal: Ints
    """(u,) where the entry of each column with itself is."""

    @property
    def diagonal(self) -> Floats:
        """Return (u,) the diagonal."""
        return np.asarray(self.values[self.on_diagonal])

    def __matmul__(self, vectors: Floats) -> Floats:
        """Return N x, (u,) or (u, k)."""
        place = (self.rows, self.columns)
        size = len(self.on_diagonal)
        lower = coo_array((self.values, place), shape=(size, size))
        along = self.diagonal.reshape((-1,) + (1,) * (vectors.ndim - 1))
        made: Floats = lower @ vectors + lower.T @ vectors - along * vectors
        return made

    def norm(self, scale: Floats) -> float:
        """Return the 1-norm of the matrix with rows and columns scaled."""
        return float(self.sums(scale).max(initial=0.0))

    def sums(self, scale: Floats) -> Floats:
        """Return (u,) sums of absolute values by column, rows and columns scaled."""
        sizes, count = np.abs(self.values), len(scale)
        total = np.bincount(self.rows, sizes * scale[self.columns], count)
        total += np.bincount(self.columns, sizes * scale[self.rows], count)
        twice = sizes[self.on_diagonal] * scale
        return np.asarray((total - twice) * scale)
