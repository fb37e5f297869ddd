"""The inverse on the pattern, and how it changes when the matrix does.

The tangents of the elimination and of the recurrence that ``selected`` follows, front
by front. With K = B A⁻¹ of a front, dK = (dB − K dA) A⁻¹, what is left for the border
changes by dC − K dBᵀ − dB Kᵀ + K dA Kᵀ; on the way down Z₂₁ = −Z₂₂ K and
Z₁₁ = A⁻¹ − Kᵀ Z₂₁ are differentiated as they stand (derived here). Exact: no step size.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy.linalg import lapack

from ...networks.covariances import Floats
from .fronts import Eliminated
from .stacks import Stack, workspace

if TYPE_CHECKING:
    from .links import Link
    from .plan import Plan


@dataclass(frozen=True, slots=True)
class _Tangent:
    """One stack: what its own columns are by its borders', and how both change."""

    own: Floats
    """(k, s, s) A⁻¹."""
    own_change: Floats
    """(k, s, s) −A⁻¹ dA A⁻¹."""
    ratio: Floats
    """(k, b, s) K."""
    ratio_change: Floats
    """(k, b, s) dK."""


def derivative(
    plan: Plan, eliminated: Sequence[Eliminated], change: Floats
) -> tuple[Floats, Floats]:
    """Return the inverse and its derivative where the matrix has entries.

    Parameters
    ----------
    plan : Plan
        Without kept columns.
    eliminated : sequence of Eliminated
    change : ndarray, shape (entries,)
        Derivative of the matrix on its pattern.

    Returns
    -------
    inverse, derivative : ndarray, shape (entries,)
        Z, and −Z dN Z.
    """
    made = np.empty((2, len(plan.pattern)))
    tangents = _tangents(plan, eliminated, change)
    borders: dict[int, list[Floats]] = {}
    work = workspace(plan.stacks), workspace(plan.stacks)
    for k in range(len(plan.stacks) - 1, -1, -1):
        stack = plan.stacks[k]
        count, _, outer = stack.shape
        both = borders.pop(k, None) or [np.zeros((count, outer, outer))] * 2
        for row, one in enumerate(_inverted(tangents[k], both, stack, work)):
            made[row, stack.entries] = one.reshape(-1).take(stack.entry)
            for link in stack.links:
                _hand_down(one, link, plan.stacks[link.child], borders, row)
    return made[0], made[1]


def _tangents(
    plan: Plan, eliminated: Sequence[Eliminated], change: Floats
) -> list[_Tangent]:
    """Return what each stack's elimination changes by, children before parents."""
    rest: dict[int, Floats] = {}
    work, made = workspace(plan.stacks), []
    for k, stack in enumerate(plan.stacks):
        front = stack.fronts(work)
        front.fill(0.0)
        front.reshape(-1)[stack.entry] = change[stack.entries]
        for link in stack.links:
            link.add(front, rest[link.child][link.rows])
        done, rest[k] = _tangent(front, eliminated[k])
        made.append(done)
    return made


def _tangent(front: Floats, done: Eliminated) -> tuple[_Tangent, Floats]:
    """Return the tangent of a stack, and the change of what is left for the borders.

    Only the lower triangles of the fronts are read.
    """
    lower, across = done.own, done.border
    if done.single:
        lower = lapack.dtrtri(done.own, lower=0)[0].T[None]
        across = done.border.T[None]
    size = lower.shape[1]
    own = lower.transpose(0, 2, 1) @ lower
    ratio = across @ lower
    least = np.tril(front[:, :size, :size])
    inner = least + np.tril(least, -1).transpose(0, 2, 1)
    half = ratio @ inner
    moved = front[:, size:, :size] - half
    both = (moved + half / 2) @ ratio.transpose(0, 2, 1)
    left = front[:, size:, size:] - both - both.transpose(0, 2, 1)
    return _Tangent(own, -(own @ inner @ own), ratio, moved @ own), left


def _inverted(
    tangent: _Tangent,
    borders: Sequence[Floats],
    stack: Stack,
    work: tuple[Floats, Floats],
) -> tuple[Floats, Floats]:
    """Return a stack's fronts of the inverse and of its derivative."""
    outer, change = borders
    cross = -(outer @ tangent.ratio)
    cross_change = -(change @ tangent.ratio + outer @ tangent.ratio_change)
    turned = tangent.ratio.transpose(0, 2, 1)
    own = tangent.own - turned @ cross
    own_change = tangent.own_change - turned @ cross_change
    own_change -= tangent.ratio_change.transpose(0, 2, 1) @ cross
    size = own.shape[1]
    made = stack.fronts(work[0]), stack.fronts(work[1])
    parts = (own, cross, outer), (own_change, cross_change, change)
    for front, (inner, between, border) in zip(made, parts, strict=True):
        front[:, :size, :size], front[:, size:, size:] = inner, border
        front[:, size:, :size] = between
        front[:, :size, size:] = between.transpose(0, 2, 1)
    return made


def _hand_down(
    front: Floats, link: Link, child: Stack, borders: dict[int, list[Floats]], row: int
) -> None:
    """Give children the inverse, or its derivative, on their borders."""
    count, _, outer = child.shape
    if link.child not in borders:
        borders[link.child] = [np.zeros((count, outer, outer)) for _ in range(2)]
    link.take(front, borders[link.child][row][link.rows])
