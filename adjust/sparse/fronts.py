"""One stack of fronts, or one large front: eliminated, solved, inverted.

A front is ``[[A, Bᵀ], [B, C]]``, own rows first. Its own part of the factor is
``A = L Lᵀ`` and ``M = B L⁻ᵀ``; what is left for the border is ``C − M Mᵀ``.
Small fronts are done many at once and keep L⁻¹; a large one keeps L.
"""

from dataclasses import dataclass

import numpy as np
from scipy.linalg import blas, lapack

from ...networks.covariances import Floats

_FEW, _SMALL = 40, 9000
"""Matrices, and the entries of all, up to which a general inverse is quicker than
halving: one call each against some thirty for all (measured)."""


@dataclass(frozen=True, slots=True)
class Eliminated:
    """What a stack's own columns leave behind."""

    own: Floats
    """(k, s, s) L⁻¹; of a single front (s, s) the upper triangle Lᵀ."""
    border: Floats
    """(k, b, s) M; of a single front (s, b) Mᵀ."""
    pivots: Floats
    """(k, s) squares of the diagonal of L."""

    @property
    def single(self) -> bool:
        """Return whether this is one large front."""
        return self.own.ndim == 2

    def forward(self, right: Floats) -> tuple[Floats, Floats]:
        """Return y = L⁻¹b and what it takes from the border, (k, s, r), (k, b, r)."""
        if not self.single:
            inner = self.own @ right
            return inner, self.border @ inner
        solved = blas.dtrsm(1.0, self.own, right[0], lower=0, trans_a=1)
        return solved[None], (self.border.T @ solved)[None]

    def back(self, inner: Floats, outer: Floats) -> Floats:
        """Return x = L⁻ᵀ(y − Mᵀx of the border), (k, s, r)."""
        if not self.single:
            rest = inner - self.border.transpose(0, 2, 1) @ outer
            return np.asarray(self.own.transpose(0, 2, 1) @ rest)
        rest = inner[0] - self.border @ outer[0]
        return np.asarray(blas.dtrsm(1.0, self.own, rest, lower=0))[None]

    def invert(self, front: Floats, border: Floats) -> None:
        """Fill a stack of fronts with their part of the inverse.

        Parameters
        ----------
        front : ndarray, shape (k, s + b, s + b)
            Written whole.
        border : ndarray, shape (k, b, b)
            The inverse on the borders.
        """
        size = self.own.shape[-1]
        front[:, size:, size:] = border
        if self.single:
            self._invert_single(front[0], border[0])
            return
        part = self.border @ self.own
        cross = -(border @ part)
        front[:, size:, :size] = cross
        front[:, :size, size:] = cross.transpose(0, 2, 1)
        own = self.own.transpose(0, 2, 1) @ self.own
        front[:, :size, :size] = own - part.transpose(0, 2, 1) @ cross

    def _invert_single(self, front: Floats, border: Floats) -> None:
        size = len(self.own)
        upper, _ = lapack.dpotri(self.own, lower=0)
        own = np.triu(upper) + np.triu(upper, 1).T
        if border.size:
            part = blas.dtrsm(1.0, self.own, self.border, lower=0)
            cross = -(part @ border)
            front[:size, size:] = cross
            front[size:, :size] = cross.T
            own -= cross @ part.T
        front[:size, :size] = own


def eliminate(front: Floats, size: int, single: bool) -> tuple[Eliminated, Floats]:
    """Eliminate the own columns of a stack of fronts.

    Parameters
    ----------
    front : ndarray, shape (k, s + b, s + b)
        Only the lower triangles are read.
    size : int
        s.
    single : bool
        One large front.

    Returns
    -------
    eliminated : Eliminated
    rest : ndarray, shape (k, b, b)
        What is left for the borders; of a single front the lower triangle alone
        means anything.

    Raises
    ------
    numpy.linalg.LinAlgError
        A pivot is not positive.
    """
    if single:
        return _eliminate_single(front[0], size)
    lower = np.asarray(np.linalg.cholesky(front[:, :size, :size]), dtype=np.float64)
    inverse = inverse_of_lower(lower)
    border = front[:, size:, :size] @ inverse.transpose(0, 2, 1)
    rest = border @ border.transpose(0, 2, 1)
    np.subtract(front[:, size:, size:], rest, out=rest)
    pivots = np.einsum("kss->ks", lower) ** 2
    return Eliminated(inverse, border, pivots), rest


def _eliminate_single(front: Floats, size: int) -> tuple[Eliminated, Floats]:
    # Row-major lower is column-major upper: no copy is turned.
    upper, failed = lapack.dpotrf(front[:size, :size].T, lower=0, clean=1)
    if failed:
        raise np.linalg.LinAlgError("a pivot is not positive")
    across = np.asfortranarray(front[size:, :size].T)
    if across.size:
        across = blas.dtrsm(1.0, upper, across, lower=0, trans_a=1, overwrite_b=1)
    rest = np.asfortranarray(front[size:, size:].T)
    if across.size:
        rest = blas.dsyrk(-1.0, across, 1.0, rest, trans=1, lower=0, overwrite_c=1)
    pivots = np.diagonal(upper)[None] ** 2
    return Eliminated(upper, across, pivots), rest.T[None]


def inverse_of_lower(lower: Floats) -> Floats:
    """Return the inverses of a stack of lower triangles, by halves.

    Examples
    --------
    >>> inverse_of_lower(np.array([[[2.0, 0], [1, 4]]])).tolist()
    [[[0.5, 0.0], [-0.125, 0.25]]]
    """
    size = lower.shape[-1]
    if size == 1:
        return np.asarray(1 / lower)
    if len(lower) <= _FEW and lower.size <= _SMALL:
        return np.asarray(np.linalg.inv(lower))
    half = size // 2
    first = inverse_of_lower(lower[:, :half, :half])
    last = inverse_of_lower(lower[:, half:, half:])
    made = np.zeros_like(lower)
    made[:, :half, :half] = first
    made[:, half:, half:] = last
    made[:, half:, :half] = -(last @ (lower[:, half:, :half] @ first))
    return made
