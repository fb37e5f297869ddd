"""What sparse columns say through the inverse, GᵀN⁻¹G, by whatever factor there is."""

import numpy as np
from scipy import sparse

from ..networks.covariances import Floats
from .elimination import Factor
from .on_condition import BoundFactor
from .sparse.factor import SparseFactor

_AT_ONCE = 64
"""Columns that are solved for together."""


def products(factor: Factor, columns: sparse.csc_array) -> Floats:
    """Return GᵀN⁻¹G, (k, k).

    By half solutions where the factor is sparse, which go only where the columns
    are; else a few columns at a time are solved for.

    Parameters
    ----------
    factor : Factor
    columns : csc_array, shape (u, k)
        G.
    """
    if isinstance(factor, SparseFactor) and not factor.border.size:
        return factor.products(columns)
    if isinstance(factor, BoundFactor):
        along = columns.T @ factor.moved
        return products(factor.whole, columns) - np.outer(along, along) / factor.size
    made = np.empty((columns.shape[1],) * 2)
    across = sparse.csr_array(columns.T)
    for start in range(0, len(made), _AT_ONCE):
        some = slice(start, start + _AT_ONCE)
        made[:, some] = across @ factor.solve(columns[:, some].toarray())
    return made
