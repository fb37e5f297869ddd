"""A symmetric matrix on a pattern of blocks."""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from ...networks.covariances import Floats, Ints
from .narrow import Places
from .pattern import Pattern


@dataclass(frozen=True, slots=True)
class Normal:
    """A symmetric matrix, its lower triangle in order of elimination."""

    values: Floats
    """(entries,) in the order of the pattern."""
    pattern: Pattern

    @property
    def rows(self) -> Ints:
        """Return (entries,) columns of the matrix, as they were given."""
        return self.pattern.places()[0]

    @property
    def columns(self) -> Ints:
        """Return (entries,) the other column of each entry."""
        return self.pattern.places()[1]

    @property
    def on_diagonal(self) -> Places:
        """Return (u,) where the entry of each column with itself is."""
        return self.pattern.on_diagonal

    @property
    def diagonal(self) -> Floats:
        """Return (u,) the diagonal."""
        return np.asarray(self.values[self.on_diagonal])

    def __matmul__(self, vectors: Floats) -> Floats:
        """Return N x, (u,) or (u, k)."""
        wide = vectors.reshape(len(vectors), -1).T
        made = np.zeros(wide.shape)
        for values, row, column in self._off_diagonal():
            for one, vector in zip(made, wide, strict=True):
                np.add.at(one, row, values * vector[column])
                np.add.at(one, column, values * vector[row])
        made += self.diagonal * wide
        return np.asarray(made.T.reshape(vectors.shape))

    def norm(self, scale: Floats) -> float:
        """Return the 1-norm of the matrix with rows and columns scaled."""
        return float(self.sums(scale).max(initial=0.0))

    def sums(self, scale: Floats) -> Floats:
        """Return (u,) sums of absolute values by column, rows and columns scaled."""
        total = np.abs(self.diagonal) * scale
        for values, row, column in self._off_diagonal():
            sizes = np.abs(values)
            np.add.at(total, row, sizes * scale[column])
            np.add.at(total, column, sizes * scale[row])
        return np.asarray(total * scale)

    def _off_diagonal(self) -> Iterator[tuple[Floats, Ints, Ints]]:
        """Yield entries, their rows and columns, some at a time, less the diagonal."""
        for some, row, column in self.pattern.parts():
            off = row != column
            yield self.values[some][off], row[off], column[off]
