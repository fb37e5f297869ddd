"""How well each of very many causes is supported by itself, from local covariances."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy import sparse

from ...networks.covariances import Bools, Floats, Ints
from ..adjustment import Adjustment
from ..judge.shifts import SEEN
from ..judge.touching import taken
from ..judge.verdicts import UNCHECKED
from .cause import Cause, shift_matrix
from .rows import Rows

_AT_ONCE = 20_000


@dataclass(frozen=True, slots=True)
class Support:
    """One row a cause."""

    statistic: Floats
    """(n,) T, chi-square; 0 where unchecked."""
    components: Ints
    """(n,) in how many directions it is checked."""
    unchecked: Bools
    """(n,) whether nothing checks it, or one of its amounts."""


def supports(adjustment: Adjustment, causes: Sequence[Cause], rows: Rows) -> Support:
    """Return the support of each cause, as ``Hypotheses`` would have it.

    Parameters
    ----------
    adjustment : Adjustment
    causes : sequence of Cause
    rows : Rows
    """
    count = len(causes)
    made = Support(np.zeros(count), np.zeros(count, np.int64), np.zeros(count, bool))
    for start in range(0, count, _AT_ONCE):
        some = causes[start : start + _AT_ONCE]
        matrix, first = shift_matrix(some, rows.base)
        coupling = sparse.csc_array(rows.design.T @ matrix)
        pull = matrix.T @ rows.misclosure
        widths = np.diff(first)
        for width in np.unique(widths[widths > 0]).tolist():
            of = np.flatnonzero(widths == width)
            alike = _Alike(first[of], width)
            found = _supported(adjustment, some, of, alike, matrix, coupling, pull)
            at = start + of
            made.statistic[at], made.components[at], made.unchecked[at] = found
    return made


@dataclass(frozen=True, slots=True)
class _Alike:
    """Causes of as many amounts each."""

    first: Ints
    """(k,) the first column of each."""
    width: int

    def entries(self, matrix: "sparse.csc_array") -> tuple[Ints, Ints, Floats]:
        """Return cause, row and the values (e, width) there, in order of both."""
        column = self.first[:, None] + np.arange(self.width)
        if self.width == 1:
            # Among them are those of all observations: nothing is copied twice.
            alone = matrix[:, self.first]
            alone.sort_indices()
            number = np.repeat(np.arange(len(self.first)), np.diff(alone.indptr))
            return number, alone.indices, alone.data[:, None]
        some = sparse.coo_array(matrix[:, column.ravel()])
        row, place = some.coords
        key = (place // self.width).astype(np.int64) * matrix.shape[0] + row
        every, at = np.unique(key, return_inverse=True)
        values = np.zeros((len(every), self.width))
        values[at, place % self.width] = some.data
        return every // matrix.shape[0], every % matrix.shape[0], values


def _supported(
    adjustment: Adjustment,
    causes: Sequence[Cause],
    of: Ints,
    alike: _Alike,
    matrix: "sparse.csc_array",
    coupling: "sparse.csc_array",
    pull: Floats,
) -> tuple[Floats, Ints, Bools]:
    number, _, values = alike.entries(matrix)
    own = np.zeros((len(of), alike.width, alike.width))
    np.add.at(own, number, values[:, :, None] * values[:, None, :])
    checks = own - taken(adjustment, *alike.entries(coupling), len(of))
    common = np.array([bool(causes[i].measure) for i in of.tolist()], dtype=bool)
    least = np.array([causes[i].least for i in of.tolist()])
    size, ways = np.linalg.eigh(own)
    real = (size > SEEN * size[:, -1:]) & (size > 0)
    root = ways * np.where(real, 1 / np.sqrt(np.where(real, size, 1.0)), 0)[:, None]
    inside = np.swapaxes(root, 1, 2) @ checks @ root
    shares, vectors = np.linalg.eigh(inside)
    # Rounding of what is not seen at all is far under the limit.
    checked = shares >= np.maximum(UNCHECKED, least)[:, None]
    whole = checked.sum(axis=1) == real.sum(axis=1)
    checked &= (whole | ~common)[:, None]
    at = alike.first[:, None] + np.arange(alike.width)
    along = np.einsum("nij,ni->nj", root @ vectors, pull[at])
    safe = np.where(checked, shares, 1.0)
    statistic = np.where(checked, along**2 / safe, 0.0).sum(axis=1)
    return statistic, checked.sum(axis=1), ~checked.any(axis=1)
