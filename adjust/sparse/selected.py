"""The inverse on the pattern of the matrix, down the tree.

A parent's front holds the inverse on each child's border; from that and the child's
part of the factor follows the inverse on the child's front. K. Takahashi, J. Fagan
and M.-S. Chin, "Formation of a sparse bus impedance matrix", Proc. 8th PICA (1973).
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from ...networks.covariances import Floats
from .fronts import Eliminated
from .stacks import Link, Stack

if TYPE_CHECKING:
    from .plan import Plan


def selected(
    plan: Plan, eliminated: Sequence[Eliminated], kept: Floats | None = None
) -> Floats:
    """Return (entries,) the inverse where the matrix has entries.

    Parameters
    ----------
    plan : Plan
    eliminated : sequence of Eliminated
    kept : ndarray, shape (b, b), optional
        The inverse on columns that are kept, where the plan keeps some.
    """
    made = np.empty(len(plan.rows))
    borders: dict[int, Floats] = {}
    for k in range(len(plan.stacks) - 1, -1, -1):
        stack = plan.stacks[k]
        if k >= len(eliminated):
            front = np.asarray(kept, dtype=np.float64)[None]
        else:
            front = _front(stack, eliminated[k], borders.pop(k, None))
        made[stack.entries] = front.reshape(-1).take(stack.entry)
        for link in stack.links:
            _hand_down(front, link, plan.stacks[link.child], borders)
    return made


def _front(stack: Stack, part: Eliminated, border: Floats | None) -> Floats:
    count, own, outer = stack.shape
    front = np.empty((count, own + outer, own + outer))
    part.invert(front, np.zeros((count, outer, outer)) if border is None else border)
    return front


def _hand_down(
    front: Floats, link: Link, child: Stack, borders: dict[int, Floats]
) -> None:
    """Give children the inverse on their borders."""
    values = front.reshape(-1).take(link.positions())
    if link.rows is None:
        borders[link.child] = values
        return
    count, _, outer = child.shape
    if link.child not in borders:
        borders[link.child] = np.zeros((count, outer, outer))
    borders[link.child][link.rows] = values
