"""Whitened rows, and the normal equations they sum to."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from ..networks.covariances import Bools, Floats, Ints
from .equations.equations import Equations
from .nodes import Column, last_first

_SMALL = 6
"""Rows of a cluster up to which numpy's own loop over clusters is the quicker one."""


@dataclass(frozen=True, slots=True)
class Whitened:
    """One batch of clusters, its rows scaled to unit variance and uncorrelated."""

    kind: str
    members: Ints
    """(c, s) edges of each cluster."""
    lower: Floats
    """(c, q, q) Cholesky factors of the covariances, q = s·r rows."""
    design: Floats
    """(c, q, w) whitened partials with respect to the w local unknowns."""
    misclosure: Floats
    """(c, q) whitened."""
    columns: Ints
    """(c, w) column of each local unknown; −1 for none."""


def whiten(equations: Equations, columns: Ints) -> list[Whitened]:
    """Return the whitened batches of one kind of edge.

    Parameters
    ----------
    equations : Equations
    columns : ndarray of int, shape (N, 3)
        Column of each component of each node.
    """
    padded = np.concatenate([columns.T, np.full((3, 1), -1)], axis=1)
    rows, nodes = equations.design.shape[1:3]
    made = []
    for batch in equations.covariances:
        clusters, size = batch.members.shape
        members = _run_or(batch.members)
        lower = _factors(batch.matrix)
        own = equations.design[members]
        design = (
            own.reshape(clusters, size * rows, nodes * 3)
            if size == 1
            else (_beside_each_other(own.reshape(clusters, size, rows, nodes * 3)))
        )
        misclosure = equations.misclosure[members].reshape(clusters, -1)
        node = equations.node[members].reshape(clusters, -1)
        at = np.stack([np.take(padded, slot, axis=1) for slot in node.T])
        made.append(
            Whitened(
                equations.kind,
                batch.members,
                lower,
                solved(lower, design),
                solved(lower, misclosure[:, :, None])[:, :, 0],
                np.asarray(last_first(at).reshape(clusters, -1), dtype=np.int64),
            )
        )
    return made


def _run_or(members: Ints) -> Ints | slice:
    """Return what picks the edges of clusters: a run of single ones costs no copy."""
    if members.shape[1] == 1 and len(members):
        first = int(members[0, 0])
        run = slice(first, first + len(members))
        if (members[:, 0] == np.arange(run.start, run.stop)).all():
            return run
    return members


def _beside_each_other(own: Floats) -> Floats:
    """Return (c, s·r, s·w): each edge of a cluster has local unknowns of its own."""
    clusters, size, rows, width = own.shape
    design = np.zeros((clusters, size, rows, size, width))
    each = np.arange(size)
    design[:, each, :, each, :] = np.moveaxis(own, 1, 0)
    return design.reshape(clusters, size * rows, size * width)


def _factors(matrices: Floats) -> Floats:
    """Return Cholesky factors; small ones column by column for all clusters at once.

    Raises
    ------
    numpy.linalg.LinAlgError
        A covariance is not positive definite.
    """
    size = matrices.shape[1]
    if size > _SMALL:
        return np.asarray(np.linalg.cholesky(matrices), dtype=np.float64)
    lower = np.zeros((size, size, len(matrices)))
    for j in range(size):
        for i in range(j, size):
            left = matrices[:, i, j] - np.einsum("kn,kn->n", lower[i, :j], lower[j, :j])
            if i == j and not (left > 0).all():
                raise np.linalg.LinAlgError("a covariance is not positive definite")
            lower[i, j] = np.sqrt(left) if i == j else left / lower[j, j]
    return last_first(lower)


def solved(lower: Floats, right_sides: Floats) -> Floats:
    """Return L⁻¹B of stacks of lower triangles, row by row where they are small.

    Parameters
    ----------
    lower : ndarray, shape (c, q, q)
    right_sides : ndarray, shape (c, q, w)

    Examples
    --------
    >>> lower = np.array([[[2.0, 0], [1, 4]]])
    >>> solved(lower, np.array([[[4.0], [10]]])).tolist()
    [[[2.0], [2.0]]]
    """
    size = lower.shape[1]
    if size > _SMALL:
        return np.asarray(np.linalg.solve(lower, right_sides), dtype=np.float64)
    diagonal = np.einsum("cqq->cq", lower)
    made: Floats = np.asarray(right_sides / diagonal[:, :, None], dtype=np.float64)
    for i in range(1, size):
        for j in range(i):
            made[:, i] -= (lower[:, i, j] / lower[:, i, i])[:, None] * made[:, j]
    return made


def contributions(batch: Whitened) -> tuple[Ints, Floats]:
    """Return what each cluster adds to the normal equations.

    Local unknowns that no cluster of the batch has are left out. AᵀA is symmetric:
    of each cluster's w × w products only the lower triangle is formed, row by row.

    Returns
    -------
    columns : ndarray of int, shape (c, w)
    products : ndarray, shape (c, w (w + 1) / 2)
        In the order of ``numpy.tril_indices(w)``.
    """
    here = present_columns(batch)
    design, columns = chosen(batch.design, here), chosen(batch.columns, here)
    width = design.shape[2]
    if design.shape[1] > _SMALL:
        square = np.swapaxes(design, 1, 2) @ design
        return columns, square[(slice(None), *np.tril_indices(width))]
    products = np.empty((width * (width + 1) // 2, len(design)))
    first = 0
    for row in range(width):
        part = products[first : first + row + 1]
        np.einsum("cqv,cq->vc", design[:, :, : row + 1], design[:, :, row], out=part)
        first += row + 1
    return columns, last_first(products)


def local_columns(batch: Whitened) -> Ints:
    """Return (c, w) columns of the local unknowns, as ``contributions`` has them."""
    return chosen(batch.columns, present_columns(batch))


def present_columns(batch: Whitened) -> Bools:
    """Return (w,) which local unknowns any cluster of the batch has."""
    return np.asarray(batch.columns.max(axis=0, initial=-1) >= 0)


def chosen(values: Column, which: Bools) -> Column:
    """Return some of the last columns, as they are in memory."""
    if which.all():
        return values
    return np.asarray(np.compress(which, values.T, axis=0).T)


def right_side(whitened: Iterable[Whitened], count: int) -> Floats:
    """Return AᵀPl, (count,)."""
    total = np.zeros(count + 1)
    for batch in whitened:
        add_pull(total, batch)
    return total[:-1]


def add_pull(total: Floats, batch: Whitened) -> None:
    """Add AᵀPl of a batch to (count + 1,) sums; the last takes what goes nowhere."""
    pull = np.einsum("cqw,cq->cw", batch.design, batch.misclosure)
    np.add.at(total, batch.columns, pull)


@dataclass(frozen=True, slots=True)
class Places:
    """Where the products of clusters go in a dense matrix."""

    columns: tuple[Ints, ...]
    """Of each batch, as in ``Whitened``."""
    flat: Ints
    """Positions in the matrix, row after row; one more takes what goes nowhere."""

    def are_of(self, whitened: Sequence[Whitened]) -> bool:
        """Return whether rows have the columns for which the places were found."""
        return len(self.columns) == len(whitened) and all(
            np.array_equal(known, batch.columns)
            for known, batch in zip(self.columns, whitened, strict=True)
        )


def dense_places(whitened: Sequence[Whitened], count: int) -> Places:
    """Return where the products of each cluster's local unknowns go."""
    made = [np.zeros(0, np.int64)]
    for batch in whitened:
        row, column = batch.columns[:, :, None], batch.columns[:, None]
        flat = np.where((row < 0) | (column < 0), count**2, row * count + column)
        made.append(flat.ravel())
    return Places(tuple(batch.columns for batch in whitened), np.concatenate(made))


def normal_matrix(
    whitened: Sequence[Whitened], count: int, places: Places | None = None
) -> Floats:
    """Return AᵀPA, (count, count), dense.

    Parameters
    ----------
    whitened : sequence of Whitened
    count : int
        Unknowns.
    places : Places, optional
        As from ``dense_places``, where they are known from an earlier iteration.
    """
    flat = (places or dense_places(whitened, count)).flat
    return summed(whitened, flat, count**2).reshape(count, count)


def summed(whitened: Iterable[Whitened], flat: Ints, size: int) -> Floats:
    """Return the products of all clusters' partials summed where they go, (size,).

    Parameters
    ----------
    whitened : iterable of Whitened
    flat : ndarray of int
        Place of each product, cluster after cluster; ``size`` takes what goes nowhere.
    size : int
    """
    products = [np.zeros(0)]
    for batch in whitened:
        products.append((np.swapaxes(batch.design, 1, 2) @ batch.design).ravel())
    # With weights the counts are floats, whatever numpy's types say.
    total = np.bincount(flat, np.concatenate(products), size + 1)
    return np.asarray(total[:-1], dtype=np.float64)


def weighted_square_sum(whitened: Iterable[Whitened]) -> float:
    """Return vᵀPv of residuals that are minus the misclosures."""
    return float(sum(np.sum(batch.misclosure**2) for batch in whitened))
