"""Whitened rows, and the normal equations they sum to."""

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from ..networks.covariances import Floats, Ints
from .equations.equations import Equations


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
    padded = np.concatenate([columns, np.full((1, 3), -1)])
    rows, nodes = equations.design.shape[1:3]
    made = []
    for batch in equations.covariances:
        clusters, size = batch.members.shape
        lower = np.asarray(np.linalg.cholesky(batch.matrix), dtype=np.float64)
        design = np.zeros((clusters, size, rows, size, nodes * 3))
        own = equations.design[batch.members].reshape(clusters, size, rows, nodes * 3)
        each = np.arange(size)
        design[:, each, :, each, :] = np.moveaxis(own, 1, 0)
        flat = design.reshape(clusters, size * rows, size * nodes * 3)
        misclosure = equations.misclosure[batch.members].reshape(clusters, -1)
        both = np.concatenate([flat, misclosure[:, :, None]], axis=2)
        white: Floats = np.linalg.solve(lower, both)
        at = padded[equations.node[batch.members]].reshape(clusters, -1)
        made.append(
            Whitened(
                equations.kind,
                batch.members,
                lower,
                white[:, :, :-1],
                white[:, :, -1],
                at,
            )
        )
    return made


def right_side(whitened: Iterable[Whitened], count: int) -> Floats:
    """Return AᵀPl, (count,)."""
    total = np.zeros(count + 1)
    for batch in whitened:
        local = np.einsum("cqw,cq->cw", batch.design, batch.misclosure)
        np.add.at(total, batch.columns, local)
    return total[:-1]


def contributions(batch: Whitened) -> tuple[Floats, Floats]:
    """Return what each cluster adds to the normal equations.

    Returns
    -------
    matrix : ndarray, shape (c, w, w)
        AᵀA of the whitened rows.
    right_side : ndarray, shape (c, w)
    """
    across = np.swapaxes(batch.design, 1, 2)
    return across @ batch.design, (across @ batch.misclosure[:, :, None])[:, :, 0]


def normal_matrix(whitened: Iterable[Whitened], count: int) -> Floats:
    """Return AᵀPA, (count, count), dense."""
    total = np.zeros((count + 1, count + 1))
    for batch in whitened:
        local = np.swapaxes(batch.design, 1, 2) @ batch.design
        at = batch.columns
        np.add.at(total, (at[:, :, None], at[:, None, :]), local)
    return total[:-1, :-1]


def weighted_square_sum(whitened: Iterable[Whitened]) -> float:
    """Return vᵀPv of residuals that are minus the misclosures."""
    return float(sum(np.sum(batch.misclosure**2) for batch in whitened))
