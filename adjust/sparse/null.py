"""What a singular matrix leaves free, by subspace iteration on a shifted factor.

Pieces of the matrix that do not hang together are looked at side by side: each has
its own few vectors, and no vector reaches over two of them.
"""

from collections.abc import Callable

import numpy as np

from ...networks.covariances import Bools, Floats, Ints

_NO_INFORMATION = 1e-13
"""Eigenvalue of the scaled matrix below which nothing is known; as in the dense."""
_FIRST, _MOST = 6, 192
"""Vectors a piece: at first, and at most."""
_STEPS = 3
_LOST = 1e-14
"""Share of a vector's square that remains when it depends on others."""

Multiply = Callable[[Floats], Floats]


def null_vectors(inverse: Multiply, matrix: Multiply, piece: Ints) -> Floats:
    """Return an orthonormal basis of what a matrix maps to nothing, (u, d).

    Parameters
    ----------
    inverse : callable
        Multiplies (u, k) with the inverse of the matrix slightly shifted.
    matrix : callable
        Multiplies (u, k) with the matrix; it has unit diagonal, or zeros.
    piece : ndarray of int, shape (u,)
        The connected piece of each column.

    Notes
    -----
    Of a piece with more than 192 freedoms as many are returned.
    """
    order = np.argsort(piece, kind="stable")
    back = np.argsort(order)
    pieces = piece[order]

    def turned(multiply: Multiply) -> Multiply:
        return lambda vectors: multiply(vectors[back])[order]

    size = np.bincount(pieces)
    count = _FIRST
    while True:
        vectors, values = _smallest(turned(inverse), turned(matrix), pieces, count)
        free = values < _NO_INFORMATION
        full = (free.sum(axis=1) == count) & (size > count)
        if not full.any() or count >= _MOST:
            return _spread(vectors, free, pieces)[back]
        count *= 2


def _smallest(
    inverse: Multiply, matrix: Multiply, piece: Ints, count: int
) -> tuple[Floats, Floats]:
    """Return vectors (u, k) and their eigenvalues piece by piece, (pieces, k)."""
    vectors = np.random.default_rng(0).standard_normal((len(piece), count))
    vectors, lost = _orthonormal(vectors, piece)
    for _ in range(_STEPS):
        vectors, lost = _orthonormal(inverse(vectors), piece)
        vectors, lost = _orthonormal(vectors, piece)
    inner = _products(vectors, matrix(vectors), piece)
    k = np.arange(count)
    inner[:, k, k] = np.where(lost, 1.0, inner[:, k, k])
    values, turn = np.linalg.eigh((inner + inner.transpose(0, 2, 1)) / 2)
    return _turned(vectors, turn, piece), values


def _orthonormal(vectors: Floats, piece: Ints) -> tuple[Floats, Bools]:
    """Return vectors orthonormal in each piece, and which are lost, hence zero."""
    size = np.sqrt(np.einsum("pkk->pk", _products(vectors, vectors, piece)))
    vectors = vectors / np.where(size > 0, size, 1.0)[piece]
    values, turn = np.linalg.eigh(_products(vectors, vectors, piece))
    lost = values < _LOST * vectors.shape[1]
    length = np.where(lost, 0.0, 1 / np.sqrt(np.where(lost, 1.0, values)))
    return _turned(vectors, turn * length[:, None, :], piece), lost


def _products(a: Floats, b: Floats, piece: Ints) -> Floats:
    """Return (pieces, k, k) the products aᵀb over the columns of each piece."""
    start = np.flatnonzero(np.diff(piece, prepend=-1))
    each = [np.add.reduceat(a[:, i, None] * b, start) for i in range(a.shape[1])]
    return np.stack(each, axis=1)


def _turned(vectors: Floats, turn: Floats, piece: Ints) -> Floats:
    made = np.zeros_like(vectors)
    for i in range(vectors.shape[1]):
        made += vectors[:, i, None] * turn[piece, i]
    return made


def _spread(vectors: Floats, free: Bools, piece: Ints) -> Floats:
    """Return the chosen vectors of each piece as columns, zero outside of it."""
    which, vector = np.nonzero(free)
    made = np.zeros((len(piece), len(which)))
    for column, (of_piece, k) in enumerate(zip(which, vector, strict=True)):
        here = slice(*np.searchsorted(piece, [of_piece, of_piece + 1]))
        made[here, column] = vectors[here, k]
    return made
