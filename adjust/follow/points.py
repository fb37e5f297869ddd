"""Points with everything that their errors come from, so that none is counted twice.

A point is a linear function of independent *sources*: the own error of each shot, the
error of each carrier (base, real-time network, oriented instrument), and each taped
distance. Points made from others take over their sources, so two corners from one
shot are correlated as they should be, and so is all that hangs on one base.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from scipy import sparse

from ...networks.covariances import Floats, Ints
from ...networks.observations import Names

Sparse = Any
"""A matrix of scipy.sparse."""

CARRIED = 4
"""Errors of a carrier: east, north, up, and the orientation of an instrument."""


@dataclass(frozen=True, slots=True)
class Roots:
    """Points that were measured, before anything is made from them."""

    name: Names
    coordinates: Floats
    """(n, 3) grid east, grid north, height, m."""
    own: Floats
    """(n, 3, 3) of the shot without its carrier, m²; NaN = not known."""
    carrier: Ints
    """(n,) number of the carrier; the last one is for shots that hang on nothing."""
    carried: Floats
    """(n, 3, 4) how the carrier's errors move the point."""
    carriers: Floats
    """(4h, 4h) covariance of the carriers; NaN = not known."""


@dataclass(frozen=True, slots=True)
class Points:
    """Points and the sources of their errors."""

    name: Names
    coordinates: Floats
    """(N, 3) grid east, grid north, height, m; NaN where a point has none."""
    parts: Sparse
    """(3N, S) partial derivatives by the sources."""
    sources: Sparse
    """(S, S) covariance of the sources."""

    def covariance(self, some: Ints) -> Floats:
        """Return (k, 3, 3) of points, grid east, north, up, m².

        NaN in the rows and columns of a coordinate that a point does not have.
        """
        rows = (3 * some[:, None] + np.arange(3)).ravel()
        made = blocks(self.parts[rows], self.sources)
        missing = np.isnan(self.coordinates[some])
        made[missing[:, :, None] | missing[:, None, :]] = np.nan
        return made

    def variance(self, partials: Sparse) -> Floats:
        """Return (k,) variances of functions of the points.

        Parameters
        ----------
        partials : sparse matrix, shape (k, 3N)
        """
        rows = (partials @ self.parts).tocsr()
        spread = (rows @ self.sources).tocsr()
        return np.asarray(spread.multiply(rows).sum(axis=1)).ravel()


def blocks(parts: Sparse, sources: Sparse) -> Floats:
    """Return (k, 3, 3) covariances of points from their (3k, S) partials."""
    spread = (parts @ sources).tocsr()
    made = np.empty((parts.shape[0] // 3, 3, 3))
    for a in range(3):
        for b in range(3):
            both = spread[a::3].multiply(parts[b::3])
            made[:, a, b] = np.asarray(both.sum(axis=1)).ravel()
    return made


def root_points(roots: Roots) -> Points:
    """Return measured points as points."""
    n, h = len(roots.name), len(roots.carriers) // CARRIED
    own = block_rows(np.broadcast_to(np.eye(3), (n, 3, 3)), np.arange(n), n)
    carried = block_rows(roots.carried, roots.carrier, h)
    parts = sparse.hstack([own, carried], format="csr")
    of_own = block_rows(roots.own, np.arange(n), n)
    of_carriers = sparse.csr_array(roots.carriers)
    sources = sparse.block_diag([of_own, of_carriers], format="csr")
    return Points(roots.name, roots.coordinates, parts, sources)


def block_rows(blocks: Floats, column: Ints, columns: int) -> Sparse:
    """Return a sparse matrix with one block in each row of blocks.

    Parameters
    ----------
    blocks : ndarray, shape (n, r, c)
    column : ndarray of int, shape (n,)
        In which column of blocks each stands.
    columns : int
        How many columns of blocks there are.
    """
    n, r, c = blocks.shape
    rows = np.arange(n * r).reshape(n, r, 1)
    places = (column[:, None] * c + np.arange(c))[:, None, :]
    full = np.broadcast_arrays(blocks, rows, places)
    value, row, place = (some.ravel() for some in full)
    return sparse.csr_array((value, (row, place)), shape=(n * r, columns * c))


def with_points(
    points: Points,
    name: Sequence[str],
    coordinates: Floats,
    partials: Sparse,
    taped: Sparse,
    variances: Floats,
) -> Points:
    """Return the points with more, made from them.

    Parameters
    ----------
    points : Points
    name : sequence of str, length k
    coordinates : ndarray, shape (k, 3)
    partials : sparse matrix, shape (3k, 3N)
        By the points there are.
    taped : sparse matrix, shape (3k, t)
        By what was taped.
    variances : ndarray, shape (t,)
        Of what was taped.
    """
    new = sparse.hstack([partials @ points.parts, taped], format="csr")
    nothing = sparse.csr_array((points.parts.shape[0], taped.shape[1]))
    old = sparse.hstack([points.parts, nothing], format="csr")
    of_tape = sparse.dia_array(
        (variances[None, :], [0]), shape=(len(variances), len(variances))
    )
    return Points(
        (*points.name, *name),
        np.concatenate([points.coordinates, coordinates]),
        sparse.vstack([old, new], format="csr"),
        sparse.block_diag([points.sources, of_tape], format="csr"),
    )
