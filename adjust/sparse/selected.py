"""The inverse on the pattern of the matrix, down the tree.

A parent's front holds the inverse on each child's border; from that and the child's
part of the factor follows the inverse on the child's front. K. Takahashi, J. Fagan
and M.-S. Chin, "Formation of a sparse bus impedance matrix", Proc. 8th PICA (1973).
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from ...networks.covariances import Floats
from .fronts import Eliminated
from .links import Link
from .stacks import Stack, workspace

if TYPE_CHECKING:
    from .plan import Plan


_NONE = np.zeros((1, 0, 0))
"""The inverse on no border."""


def selected(
    plan: Plan, eliminated: list[Eliminated], kept: Floats | None = None
) -> Floats:
    """Return (entries,) the inverse where the matrix has entries.

    Parameters
    ----------
    plan : Plan
    eliminated : list of Eliminated
        Emptied: what nobody else holds is let go on the way down.
    kept : ndarray, shape (b, b), optional
        The inverse on columns that are kept, where the plan keeps some.
    """
    made = np.empty(len(plan.pattern))
    borders: dict[int, Floats] = {}
    work, count = workspace(plan.stacks), len(eliminated)
    for k in range(len(plan.stacks) - 1, -1, -1):
        stack = plan.stacks[k]
        if k >= count:
            front = np.asarray(kept, dtype=np.float64)[None]
        else:
            front = stack.fronts(work)
            eliminated.pop().invert(front, borders.pop(k, _NONE))
        made[stack.entries] = front.reshape(-1).take(stack.entry)
        for link in stack.links:
            _hand_down(front, link, plan.stacks[link.child], borders)
    return made


def _hand_down(
    front: Floats, link: Link, child: Stack, borders: dict[int, Floats]
) -> None:
    """Give children the inverse on their borders."""
    count, _, outer = child.shape
    if link.child not in borders:
        # A root among them has no border, only padding, which must be finite.
        borders[link.child] = np.zeros((count, outer, outer))
    link.take(front, borders[link.child][link.rows])
