"""The size of a blunder that can hide, in closed form, many at once."""

from collections.abc import Sequence

import numpy as np

from ...networks.covariances import Floats

SIX = ((0, 0), (0, 1), (0, 2), (1, 1), (1, 2), (2, 2))
"""Entries of a symmetric 3 × 3 matrix, kept as six columns: no small matrices."""


def six_of(matrix: Floats) -> list[Floats]:
    """Return the six columns of symmetric (…, 3, 3)."""
    return [np.ascontiguousarray(matrix[..., a, b]) for a, b in SIX]


def whole_of(six: Sequence[Floats]) -> Floats:
    """Return (…, 3, 3) of six columns."""
    made = np.empty((*six[0].shape, 3, 3))
    for (a, b), values in zip(SIX, six, strict=True):
        made[..., a, b] = made[..., b, a] = values
    return made


def hidden_sizes(root: Floats, share: Floats) -> Floats:
    """Return √ of the largest eigenvalue of R S⁻¹ Rᵀ, (…, H), in closed form.

    Times √λ0 it is the smallest detectable size in the worst direction.

    Parameters
    ----------
    root : ndarray, shape (H, 3, 3)
    share : ndarray, shape (…, H, 3, 3)
        Positive definite: checked in every direction.

    Examples
    --------
    A share of a quarter hides twice as much.

    >>> hidden_sizes(np.eye(3)[None], np.diag([1.0, 0.25, 1.0])[None]).round(6)
    array([2.])
    """
    return hidden_of(six_of(np.swapaxes(root, -1, -2) @ root), six_of(share))


def hidden_of(root: Sequence[Floats], share: Sequence[Floats]) -> Floats:
    """Return ``hidden_sizes`` of six columns of RᵀR and of S.

    Roots of det(RᵀR − λ S), by the cosine.
    Where two directions hide alike, half of the digits are lost.
    """
    minors, determinant = _minors(share)
    own, least = _minors(root)
    one = _dot(minors, root) / determinant
    two = _dot(own, share) / determinant
    three = least / determinant
    spread = np.sqrt(np.maximum(one * one - 3 * two, 0.0)) / 3
    half = (one * (2 * one * one - 9 * two) + 27 * three) / 54
    with np.errstate(divide="ignore", invalid="ignore"):
        angle = np.nan_to_num(half / (spread * spread * spread))
    turn = np.cos(np.arccos(np.clip(angle, -1.0, 1.0)) / 3)
    return np.asarray(np.sqrt(np.maximum(one / 3 + 2 * spread * turn, 0.0)))


def inverse_of(six: Sequence[Floats]) -> list[Floats]:
    """Return the six columns of the inverses of symmetric 3 × 3 matrices.

    Examples
    --------
    >>> one, none, two = np.array([1.0]), np.array([0.0]), np.array([2.0])
    >>> [c.item() for c in inverse_of([two, none, none, one, none, two])]
    [0.5, 0.0, 0.0, 1.0, 0.0, 0.5]
    """
    minors, determinant = _minors(six)
    return [one / determinant for one in minors]


def _minors(six: Sequence[Floats]) -> tuple[list[Floats], Floats]:
    """Return the adjugate of symmetric 3 × 3 matrices, and their determinant."""
    a, b, c, d, e, f = six
    made = [
        d * f - e * e, c * e - b * f, b * e - c * d,
        a * f - c * c, b * c - a * e, a * d - b * b,
    ]  # fmt: skip
    return made, a * made[0] + b * made[1] + c * made[2]


def _dot(one: Sequence[Floats], other: Sequence[Floats]) -> Floats:
    """Return the trace of the product of symmetric 3 × 3 matrices."""
    made = one[0] * other[0] + one[3] * other[3] + one[5] * other[5]
    made = made + 2 * (one[1] * other[1] + one[2] * other[2] + one[4] * other[4])
    return np.asarray(made)
