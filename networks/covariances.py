"""Covariances of many observations, in batches of equal size.

Observations that are correlated form a cluster (a session, an imported solution);
an observation that stands alone is a cluster of one. Clusters of the same size are
kept as one stack, so that everything downstream is array code.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class Batch:
    """Clusters of equal size, stacked."""

    members: Ints
    """(c, s) the observations of each of c clusters, in the order of the matrix."""
    matrix: Floats
    """(c, s·r, s·r) covariance, r rows an observation, in the rows' units squared."""


Covariances = tuple[Batch, ...]


def single(matrix: Floats) -> Covariances:
    """Return the covariances of observations that stand alone.

    Parameters
    ----------
    matrix : ndarray, shape (n, r, r)

    Examples
    --------
    >>> (batch,) = single(np.array([[[4.0]], [[9.0]]]))
    >>> batch.members.shape, batch.matrix.shape
    ((2, 1), (2, 1, 1))
    """
    if not len(matrix):
        return ()
    return (Batch(np.arange(len(matrix))[:, None], np.asarray(matrix)),)


def clustered(
    diagonal: Floats, cross: Mapping[tuple[int, int], Floats]
) -> tuple[Covariances, list[list[int]]]:
    """Return batches from diagonal blocks and the cross blocks of some pairs.

    Parameters
    ----------
    diagonal : ndarray, shape (n, r, r)
        Covariance of each observation.
    cross : mapping of (int, int) to ndarray, shape (r, r)
        Block of the rows of the first and the columns of the second observation.

    Returns
    -------
    covariances : tuple of Batch
    clusters : list of list of int
        The connected observations of each cluster of more than one.

    Examples
    --------
    >>> batches, clusters = clustered(np.ones((3, 1, 1)), {(0, 2): np.array([[0.5]])})
    >>> clusters
    [[0, 2]]
    >>> [batch.matrix.shape for batch in batches]
    [(1, 1, 1), (1, 2, 2)]
    """
    if not cross:
        return single(diagonal), []
    parent = list(range(len(diagonal)))

    def root(i: int) -> int:
        while parent[i] != i:
            parent[i] = parent[parent[i]]
            i = parent[i]
        return i

    for first, second in cross:
        a, b = sorted((root(first), root(second)))
        parent[b] = a
    groups: dict[int, list[int]] = {}
    for i in range(len(parent)):
        groups.setdefault(root(i), []).append(i)
    clusters = [group for group in groups.values() if len(group) > 1]
    place = {i: (tuple(g), k) for g in clusters for k, i in enumerate(g)}
    r = diagonal.shape[1] if len(diagonal) else 0
    matrices: dict[tuple[int, ...], Floats] = {}
    for cluster in clusters:
        matrix = np.zeros((len(cluster) * r, len(cluster) * r))
        for k, i in enumerate(cluster):
            matrix[k * r : k * r + r, k * r : k * r + r] = diagonal[i]
        matrices[tuple(cluster)] = matrix
    for (first, second), block in cross.items():
        of_cluster, a = place[first]
        b = place[second][1]
        matrix = matrices[of_cluster]
        matrix[a * r : a * r + r, b * r : b * r + r] = block
        matrix[b * r : b * r + r, a * r : a * r + r] = block.T
    alone = [group[0] for group in groups.values() if len(group) == 1]
    return _stack(diagonal, alone, clusters, matrices), clusters


def _stack(
    diagonal: Floats,
    alone: Sequence[int],
    clusters: Sequence[Sequence[int]],
    matrices: Mapping[tuple[int, ...], Floats],
) -> Covariances:
    batches = []
    if alone:
        members = np.array(alone, dtype=np.int64)
        batches.append(Batch(members[:, None], diagonal[members]))
    for size in sorted({len(group) for group in clusters}):
        same = [group for group in clusters if len(group) == size]
        stack = np.stack([matrices[tuple(group)] for group in same])
        batches.append(Batch(np.array(same, dtype=np.int64), stack))
    return tuple(batches)


def stacked(covariances: Iterable[Batch]) -> Covariances:
    """Return the clusters of each size as one stack.

    Parameters
    ----------
    covariances : iterable of Batch

    Examples
    --------
    >>> one, other = single(np.array([[[4.0]]])), single(np.array([[[9.0]]]))
    >>> stacked((*one, *other))[0].matrix.ravel().tolist()
    [4.0, 9.0]
    """
    by_size: dict[int, list[Batch]] = {}
    for batch in covariances:
        by_size.setdefault(batch.members.shape[1], []).append(batch)
    return tuple(
        Batch(
            np.concatenate([batch.members for batch in same]),
            np.concatenate([batch.matrix for batch in same]),
        )
        for _, same in sorted(by_size.items())
    )


def keep(covariances: Covariances, used: Bools, rows: int) -> Covariances:
    """Return the covariances of the observations in use, the rest taken out.

    Taking an observation out of a cluster leaves the covariance of the others as it
    was: its rows and columns go.

    Parameters
    ----------
    covariances : tuple of Batch
    used : ndarray of bool, shape (n,)
    rows : int
        Rows an observation, r.

    Examples
    --------
    >>> batches = (Batch(np.array([[0, 1]]), np.array([[[4.0, 1], [1, 9]]])),)
    >>> keep(batches, np.array([False, True]), 1)[0].matrix.tolist()
    [[[9.0]]]
    """
    if used.all():
        return tuple(covariances)
    kept: dict[int, list[tuple[Ints, Floats]]] = {}
    for batch in covariances:
        inside = used[batch.members]
        whole = inside.all(axis=1)
        if whole.any():
            size = batch.members.shape[1]
            kept.setdefault(size, []).append(
                (batch.members[whole], batch.matrix[whole])
            )
        for c in np.flatnonzero(~whole & inside.any(axis=1)):
            some = np.flatnonzero(inside[c])
            at = (some[:, None] * rows + np.arange(rows)).ravel()
            part = batch.matrix[c][np.ix_(at, at)]
            kept.setdefault(len(some), []).append(
                (batch.members[c, some][None], part[None])
            )
    return tuple(
        Batch(
            np.concatenate([members for members, _ in parts]),
            np.concatenate([matrix for _, matrix in parts]),
        )
        for _, parts in sorted(kept.items())
    )


def blocks(covariances: Covariances, count: int, rows: int) -> Floats:
    """Return each observation's own covariance block.

    Returns
    -------
    ndarray, shape (count, rows, rows)
        NaN for an observation in no batch.
    """
    own = np.full((count, rows, rows), np.nan)
    for batch in covariances:
        c, s = batch.members.shape
        tiles = batch.matrix.reshape(c, s, rows, s, rows)
        own[batch.members] = np.einsum("csisj->csij", tiles)
    return own
