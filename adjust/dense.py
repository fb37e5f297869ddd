"""Dense arithmetic: the factor of the normal matrix, and least squares on matrices.

The factor offers what any factor must: solutions, and covariance blocks between
chosen columns. Nothing here knows a survey word.
"""

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from scipy.linalg import lapack, qr, solve_triangular

from ..networks.covariances import Floats, Ints
from .one_thread import one_thread

# A pivot this small against its diagonal is at rounding level or near it (double
# precision 2e-16); eigenvalues then decide.
_SMALL_PIVOT = 1e-11
# Eigenvalues of the scaled matrix: a defect comes out below 1e-15, a sound network
# with standard deviations from 0.1 mm to 10 m above 1e-12 (measured).
_NO_INFORMATION = 1e-13
_LEAF = 48
"""Rows of a triangle up to which LAPACK inverts it at once."""


class Singular(Exception):  # noqa: N818 - a state of the matrix
    """The normal matrix leaves something free.

    Parameters
    ----------
    null : ndarray, shape (u, d)
        Directions that cost nothing.
    """

    def __init__(self, null: Floats) -> None:
        super().__init__(f"{null.shape[1]} freedoms")
        self.null = null


@dataclass(frozen=True)
class DenseFactor:
    """A factored normal matrix, and what is asked of it."""

    lower: Floats
    """(y, y) Cholesky factor of the normal matrix, zero above the diagonal."""
    basis: Floats
    """(u, y) T where the unknowns are x = T y; empty where they are their own."""

    @property
    def unknowns(self) -> int:
        """How many unknowns there are, with those that conditions take out."""
        return len(self.basis) if self.basis.size else len(self.lower)

    @cached_property
    def reciprocal_condition(self) -> float:
        """Of the normal matrix scaled to unit diagonal, in the 1-norm."""
        if not len(self.lower):
            return 1.0
        # The squares of a row of the factor sum to the diagonal of the matrix.
        lower = self.lower / np.linalg.norm(self.lower, axis=1)[:, None]
        norm = float(np.abs(lower @ lower.T).sum(axis=0).max())
        return float(lapack.dpocon(lower, norm, uplo="L")[0])

    @cached_property
    @one_thread
    def inverse(self) -> Floats:
        """(u + 1, u + 1); the last row and column are zero, for column −1.

        Formed when first asked for: an iteration only solves.
        """
        turn, unknowns = self.basis, self.unknowns
        inverse = np.zeros((unknowns + 1, unknowns + 1))
        if not len(self.lower):
            return inverse
        triangle = inverse_of_triangle(self.lower)
        triangle, _ = lapack.dlauum(triangle, lower=1, overwrite_c=1)
        # Above the diagonal of the triangle are zeros, as there are of the factor.
        own = np.empty_like(triangle) if turn.size else inverse[:-1, :-1]
        np.add(triangle, triangle.T, out=own)
        np.einsum("ii->i", own)[:] /= 2
        if turn.size:
            inverse[:unknowns, :unknowns] = turn @ own @ turn.T
        return inverse

    @one_thread
    def solve(self, right_side: Floats) -> Floats:
        """Return N⁻¹b, (u,) or (u, k); T (TᵀNT)⁻¹ Tᵀ b with a basis."""
        inner = self.basis.T @ right_side if self.basis.size else right_side
        if not len(self.lower):
            return np.zeros(right_side.shape)
        made, _ = lapack.dpotrs(self.lower, inner, lower=1)
        return np.asarray(self.basis @ made if self.basis.size else made)

    def blocks(self, first: Ints, second: Ints) -> Floats:
        """Return the covariance blocks between columns, (…, p, q).

        Parameters
        ----------
        first, second : ndarray of int, shapes (…, p) and (…, q)
            Columns; −1 gives zeros, as for what is held.
        """
        blocks: Floats = self.inverse[first[..., :, None], second[..., None, :]]
        return blocks

    def cliques(self, columns: Ints, place: tuple[int, int]) -> Floats:
        """Return blocks of rows of columns with themselves, (c, w, w)."""
        return self.blocks(columns, columns)


@one_thread
def factor(matrix: Floats, basis: Floats | None = None) -> DenseFactor:
    """Factor a normal matrix.

    Parameters
    ----------
    matrix : ndarray, shape (u, u)
    basis : ndarray, shape (u, y), optional
        T, where an exact condition leaves x = T y.

    Raises
    ------
    Singular
        With the null vectors, where the matrix does not determine everything.

    Examples
    --------
    >>> made = factor(np.array([[4.0, 0.0], [0.0, 1.0]]))
    >>> made.solve(np.array([4.0, 2.0])).tolist()
    [1.0, 2.0]
    >>> made.blocks(np.array([0]), np.array([0])).tolist()
    [[0.25]]
    """
    turn = np.zeros((0, 0)) if basis is None else basis
    if turn.size:
        matrix = turn.T @ matrix @ turn
    if not len(matrix):
        return DenseFactor(np.zeros((0, 0)), turn)
    # The transpose of what is symmetric is the order of memory that LAPACK wants.
    # Multiplying rows and columns by the same numbers changes no rounding of
    # Cholesky's method, so the matrix is not scaled; pivots are compared with their
    # own diagonal.
    lower, info = lapack.dpotrf(matrix.T, lower=1, clean=1)
    diagonal = np.diagonal(matrix)
    if info or (np.diagonal(lower) ** 2 < _SMALL_PIVOT * diagonal).any():
        scale = 1 / np.sqrt(np.where(diagonal > 0, diagonal, 1.0))
        scaled = scale[:, None] * matrix * scale
        _refuse_if_singular(scaled, scale, turn)
        lower = np.asfortranarray(np.linalg.cholesky(scaled) / scale[:, None])
    return DenseFactor(lower, turn)


def inverse_of_triangle(lower: Floats) -> Floats:
    """Return L⁻¹ by halves: matrix products, where LAPACK goes column by column.

    Parameters
    ----------
    lower : ndarray, shape (n, n)
        Zero above the diagonal.

    Examples
    --------
    >>> inverse_of_triangle(np.array([[2.0, 0.0], [1.0, 4.0]])).tolist()
    [[0.5, 0.0], [-0.125, 0.25]]
    """
    made = np.zeros_like(lower, order="F")
    _fill_inverse(lower, made)
    return made


def _fill_inverse(lower: Floats, made: Floats) -> None:
    if len(lower) <= _LEAF:
        made[:], _ = lapack.dtrtri(lower, lower=1)
        return
    half = len(lower) // 2
    first, last = made[:half, :half], made[half:, half:]
    _fill_inverse(lower[:half, :half], first)
    _fill_inverse(lower[half:, half:], last)
    np.matmul(-last, lower[half:, :half] @ first, out=made[half:, :half])


def _refuse_if_singular(scaled: Floats, scale: Floats, turn: Floats) -> None:
    values, vectors = np.linalg.eigh(scaled)
    free = values < _NO_INFORMATION
    if free.any():
        null = scale[:, None] * vectors[:, free]
        raise Singular(turn @ null if turn.size else null)


@dataclass(frozen=True, slots=True)
class LinearSolution:
    """Least squares of a linear model."""

    estimate: Floats
    cofactor: Floats
    """(AᵀPA)⁻¹, before any scaling by s0²."""
    residuals: Floats
    """A x − l: adjusted minus observed."""
    vtpv: float
    degrees_of_freedom: int
    redundancy: Floats
    """(n,) diagonal of QvP."""


def least_squares(
    design: Floats, observed: Floats, covariance: Floats | None = None
) -> LinearSolution:
    """Solve A x ≈ l by orthogonal transformation of column-scaled, whitened rows.

    For small, badly conditioned linear models; networks go through ``factor``.

    Parameters
    ----------
    design : ndarray, shape (n, u)
    observed : ndarray, shape (n,)
    covariance : ndarray, shape (n, n), optional
        The unit matrix when not given.

    Returns
    -------
    LinearSolution
        In the units of the observations.

    Examples
    --------
    Three readings of one height, by hand: the mean, and 2 degrees of freedom.

    >>> solution = least_squares(np.ones((3, 1)), np.array([10.0, 10.1, 10.3]))
    >>> print(solution.estimate.round(6), solution.degrees_of_freedom)
    [10.133333] 2
    """
    count, unknowns = design.shape
    weight = np.eye(count) if covariance is None else covariance
    lower = np.linalg.cholesky(weight)
    white = solve_triangular(lower, np.column_stack([design, observed]), lower=True)
    rows, target = white[:, :-1], white[:, -1]
    scale = 1 / np.linalg.norm(rows, axis=0)
    q, r = qr(rows * scale, mode="economic")
    estimate = solve_triangular(r, q.T @ target)
    # One refinement, from residuals formed with the rows themselves.
    estimate += solve_triangular(r, q.T @ (target - rows @ (scale * estimate)))
    inverse = solve_triangular(r, np.eye(unknowns)) * 1.0
    white_residuals = rows @ (scale * estimate) - target
    hat = np.einsum("ij,jk->ik", lower @ q, solve_triangular(lower.T, q).T)
    return LinearSolution(
        scale * estimate,
        (scale[:, None] * inverse) @ (scale[:, None] * inverse).T,
        lower @ white_residuals,
        float(white_residuals @ white_residuals),
        count - unknowns,
        1 - np.diagonal(hat),
    )
