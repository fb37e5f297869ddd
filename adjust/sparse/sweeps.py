"""Solutions from the factor: up the tree, and down again."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from ...networks.covariances import Floats
from .fronts import Eliminated

if TYPE_CHECKING:
    from .plan import Plan


def forward(plan: Plan, eliminated: Sequence[Eliminated], right_side: Floats) -> Floats:
    """Return L⁻¹b in order of elimination, (u + 1, k); the last row is padding.

    What is left for columns that are not eliminated stands at their places.
    """
    size, count = right_side.shape
    state = np.zeros((size + 1, count))
    state[:-1] = right_side[plan.layout.column_order]
    flat, across = state.reshape(-1), np.arange(count)
    for stack, part in zip(plan.stacks, eliminated, strict=False):
        inner, taken = part.forward(state[stack.own])
        state[stack.own] = inner
        if taken.size:
            at = stack.border.ravel()[:, None].astype(np.int64) * count + across
            np.subtract.at(flat, at.ravel(), taken.ravel())
    return state


def backward(plan: Plan, eliminated: Sequence[Eliminated], state: Floats) -> Floats:
    """Return x from y = L⁻¹b, (u, k), in the order of the matrix; y is lost."""
    stacks = plan.stacks[: len(eliminated)]
    for stack, part in zip(reversed(stacks), reversed(eliminated), strict=True):
        state[stack.own] = part.back(state[stack.own], state[stack.border])
    made = np.empty((len(state) - 1, state.shape[1]))
    made[plan.layout.column_order] = state[:-1]
    return made
