"""The numeric phase: a matrix factored front by front, and what is asked of it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from ...networks.covariances import Bools, Floats, Ints
from ..dense import Singular
from ..memory import give_back
from ..one_thread import one_thread
from ..remade import Remade
from .condition import norm_of_inverse
from .elimination import eliminated_fronts
from .filling import fill_by_halves, fill_by_solving
from .fronts import Eliminated
from .halves import products
from .matrix import Normal
from .narrow import Places
from .null import null_vectors
from .selected import selected
from .sweeps import backward, forward

if TYPE_CHECKING:
    from scipy import sparse

    from .plan import Plan

# A pivot this small against its diagonal is at rounding level or near it (double
# precision 2e-16); eigenvalues then decide. The dense factor has the same.
_SMALL_PIVOT = 1e-11
_SHIFTS = (1e-13, 1e-12, 1e-11, 1e-10)
"""Of the diagonal, until the factor of a singular matrix succeeds."""
_COLUMNS = 64
"""Right sides solved at once …"""
_NUMBERS = 1 << 27
"""… with no more numbers than these: 1 GB."""
_LARGE = 1 << 22
"""Numbers in a factor from which it is not kept beside the inverse: 32 MB."""
_FOUND = 1 << 18
"""Entries of the inverse looked up at once."""


@dataclass(frozen=True)
class SparseFactor:
    """The factor of a matrix; parts of its inverse are made when asked for."""

    plan: Plan
    normal: Normal
    eliminated: Sequence[Eliminated]
    border: Floats
    """(b, b) what is left for the kept columns; empty without any."""
    scale: Floats = field(repr=False)
    """(u,) 1 / √ diagonal."""
    outer: Floats | None = None
    """(b, b) the inverse on the kept columns, once it is known."""

    @one_thread
    def solve(self, right_side: Floats) -> Floats:
        """Return N⁻¹b, (u,) or (u, k).

        Raises
        ------
        ValueError
            Some columns were kept: then ``reduced`` and ``completed`` solve.
        """
        if self.border.size:
            raise ValueError("a factor with kept columns solves in two steps")
        wide = right_side if right_side.ndim == 2 else right_side[:, None]
        made = np.empty(wide.shape)
        step = max(1, min(_COLUMNS, _NUMBERS // max(len(wide), 1)))
        for first in range(0, wide.shape[1], step):
            some = slice(first, first + step)
            state = forward(self.plan, self.eliminated, wide[:, some])
            made[:, some] = backward(self.plan, self.eliminated, state)
        return made.reshape(right_side.shape)

    @one_thread
    def products(self, columns: sparse.csc_array) -> Floats:
        """Return GᵀN⁻¹G, (k, k), of sparse columns (u, k)."""
        return products(self.plan, self.eliminated, columns)

    @cached_property
    def reciprocal_condition(self) -> float:
        """Of the matrix scaled to unit diagonal, in the 1-norm; an estimate."""
        inverse = norm_of_inverse(
            lambda b: self.solve(b / self.scale) / self.scale, len(self.scale)
        )
        norm = self.normal.norm(self.scale) * inverse
        return 1 / norm if norm else 1.0

    @cached_property
    @one_thread
    def inverse(self) -> Floats:
        """(entries,) the inverse on the pattern of the matrix.

        Only these blocks are kept, not the inverse on the whole pattern of the
        factor: that would be as large as the factor again, some ten times more. A
        large factor is let go as this is formed, and made again if equations are
        solved: condition and solutions first cost nothing.
        """
        some = self.eliminated
        if not isinstance(some, Remade) or self.plan.statistics.nonzeros < _LARGE:
            return selected(self.plan, list(some), self.outer)
        made = selected(self.plan, some.spent(), self.outer)
        self.plan.forget_tables()
        give_back()
        return made

    def cliques(self, columns: Ints, place: tuple[int, int]) -> Floats:
        """Return the inverse on the columns of rows of a part that was assembled.

        Parameters
        ----------
        columns : ndarray of int, shape (c, w)
        place : tuple of int
            Number of the part in the list of parts, and its first row that is meant.

        Returns
        -------
        ndarray, shape (c, w, w)
            Zeros for column −1.
        """
        number, start = place
        some = slice(start, start + len(columns))
        kept = self.plan.known.get(number)
        if not columns.size:
            return np.zeros((len(columns), columns.shape[1], columns.shape[1]))
        if kept is None:
            return self.blocks(columns, columns)
        known, positions, _ = kept
        if not np.array_equal(known[some], columns):
            return self.blocks(columns, columns)
        count, width = columns.shape
        rows, others = np.tril_indices(width)
        at = positions.reshape(len(rows), -1)[:, some]
        values = _values(self.inverse, at)
        made = np.empty((width, width, count))
        made[rows, others] = values
        made[others, rows] = values
        return np.moveaxis(made, -1, 0)

    def blocks(self, first: Ints, second: Ints) -> Floats:
        """Return blocks of the inverse between columns, (…, p, q).

        Pairs on the pattern of the plan are looked up; others are solved for.

        Parameters
        ----------
        first, second : ndarray of int, shapes (…, p) and (…, q)
            Columns; −1 gives zeros.
        """
        shape = np.broadcast_shapes(first.shape[:-1], second.shape[:-1])
        rows = np.broadcast_to(first, (*shape, first.shape[-1]))
        columns = np.broadcast_to(second, (*shape, second.shape[-1]))
        rows = rows.reshape(-1, rows.shape[-1]).T
        columns = columns.reshape(-1, columns.shape[-1]).T
        made, missing = self._found(rows, columns)
        if missing.any() and not self.border.size:
            fill_by_halves(self.products, len(self.scale), made, missing, rows, columns)
        fill_by_solving(self.solve, len(self.scale), made, missing, rows, columns)
        return np.moveaxis(made, -1, 0).reshape((*shape, len(rows), len(columns)))

    def _found(self, rows: Ints, columns: Ints) -> tuple[Floats, Bools]:
        """Return entries (p, q, c) of the inverse, and which are not on the pattern."""
        shape = (len(rows), *columns.shape)
        made, missing = np.empty(shape), np.empty(shape, bool)
        step = max(1, _FOUND // max(1, len(rows) * len(columns)))
        for first in range(0, columns.shape[1], step):
            some = slice(first, first + step)
            at = self.plan.pattern.find(rows[:, some], columns[:, some])
            made[:, :, some] = _values(self.inverse, at)
            missing[:, :, some] = at == -1
        return made, missing

    @one_thread
    def reduced(self, right_side: Floats) -> tuple[Floats, Floats]:
        """Eliminate a right side as far as the matrix was.

        Parameters
        ----------
        right_side : ndarray, shape (u, k)

        Returns
        -------
        state : ndarray, shape (u + 1, k)
            For ``completed``.
        border : ndarray, shape (b, k)
            What is left for the kept columns, ``Plan.kept_columns``.
        """
        state = forward(self.plan, self.eliminated, right_side)
        return state, state[-1 - len(self.border) : -1].copy()

    @one_thread
    def completed(self, state: Floats, border: Floats) -> Floats:
        """Return the solution, (u, k), from that of the kept columns, (b, k)."""
        state = state.copy()
        state[-1 - len(self.border) : -1] = border
        return backward(self.plan, self.eliminated, state)

    def given(self, border: Floats) -> SparseFactor:
        """Return the factor whose inverse on the kept columns is known, (b, b)."""
        return replace(self, outer=border)


def _values(inverse: Floats, at: Places) -> Floats:
    """Return entries; zero where the place is negative."""
    if not len(inverse):
        return np.zeros(at.shape)
    made = inverse.take(np.maximum(at, 0))
    made[at < 0] = 0.0
    return made


@one_thread
def factor(plan: Plan, normal: Normal, keep: bool) -> SparseFactor:
    """Factor a matrix, or say what it leaves free.

    Multiplying rows and columns by the same numbers changes no rounding of
    Cholesky's method, so the matrix is not scaled; pivots are compared with their
    own diagonal.

    Raises
    ------
    Singular
    """
    diagonal = normal.diagonal
    scale = 1 / np.sqrt(np.where(diagonal > 0, diagonal, 1.0))
    try:
        eliminated, border = eliminated_fronts(plan, normal.values, keep)
        sound = _smallest_pivot(plan, eliminated, scale) >= _SMALL_PIVOT
    except np.linalg.LinAlgError:
        sound = False
    if not sound:
        _refuse_if_singular(plan, normal, scale, keep)
        eliminated, border = eliminated_fronts(plan, normal.values, keep)
    if keep:
        return SparseFactor(plan, normal, eliminated, border, scale)

    def again() -> list[Eliminated]:
        return eliminated_fronts(plan, normal.values, False)[0]

    return SparseFactor(plan, normal, Remade(again, eliminated), border, scale)


def _smallest_pivot(
    plan: Plan, eliminated: Sequence[Eliminated], scale: Floats
) -> float:
    """Return the smallest square of a pivot, as a share of its diagonal."""
    inverse = np.append(scale[plan.layout.column_order] ** 2, 1.0)
    return min(
        (
            float((part.pivots * inverse[stack.own]).min())
            for stack, part in zip(plan.stacks, eliminated, strict=False)
        ),
        default=1.0,
    )


def _refuse_if_singular(plan: Plan, normal: Normal, scale: Floats, keep: bool) -> None:
    across = scale[:, None]
    if keep:
        normal = _border_held(plan, normal)
    shifted = _shifted(plan, normal, scale)
    free = null_vectors(
        lambda vectors: shifted.solve(vectors / across) / across,
        lambda vectors: across * (normal @ (across * vectors)),
        plan.piece,
    )
    if free.shape[1]:
        raise Singular(across * free)


def _border_held(plan: Plan, normal: Normal) -> Normal:
    """Return the matrix with kept columns observed too: they are known elsewhere."""
    values = normal.values.copy()
    at = normal.on_diagonal[plan.kept_columns]
    values[at] = np.where(values[at] > 0, 2 * values[at], 1.0)
    return replace(normal, values=values)


def _shifted(plan: Plan, normal: Normal, scale: Floats) -> SparseFactor:
    """Return the factor with the least addition to the diagonal that makes it one."""
    for shift in _SHIFTS:
        values = normal.values.copy()
        values[normal.on_diagonal] += shift / scale**2
        try:
            return SparseFactor(
                plan, normal, *eliminated_fronts(plan, values, False), scale
            )
        except np.linalg.LinAlgError:
            continue
    raise np.linalg.LinAlgError("the normal matrix has a negative eigenvalue")
