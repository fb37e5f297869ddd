"""The elimination of all stacks of fronts: the way up the tree."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from ...networks.covariances import Floats
from .fronts import Eliminated, eliminate
from .stacks import Stack, workspace

if TYPE_CHECKING:
    from .plan import Plan


def eliminated_fronts(
    plan: Plan, values: Floats, keep: bool
) -> tuple[list[Eliminated], Floats]:
    """Eliminate stack after stack, children before parents."""
    rest: dict[int, Floats] = {}
    work = workspace(plan.stacks)
    left = [stack.uses for stack in plan.stacks]
    made: list[Eliminated] = []
    for k, stack in enumerate(plan.stacks):
        front = assembled(stack, values, rest, work)
        for link in stack.links:
            left[link.child] -= 1
            if not left[link.child]:
                del rest[link.child]
        if stack.kept and keep:
            lower = np.tril(front[0])
            return made, lower + np.tril(lower, -1).T
        done, remainder = eliminate(front, stack.own.shape[1], stack.single)
        made.append(done)
        if stack.uses:
            rest[k] = remainder
    return made, np.zeros((0, 0))


def assembled(
    stack: Stack, values: Floats, rest: dict[int, Floats], work: Floats
) -> Floats:
    """Return a stack's fronts: entries of the matrix, and what children leave."""
    front = stack.fronts(work)
    front.fill(0.0)
    flat = front.reshape(-1)
    flat[stack.entry] = values[stack.entries]
    flat[stack.padding] = 1.0
    for link in stack.links:
        link.add(front, rest[link.child][link.rows])
    return front
