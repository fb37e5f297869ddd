"""What using known marks does to all marks: solved for, a few of them at a time."""

from collections.abc import Iterator, Sequence

import numpy as np

from ...networks.covariances import Floats
from ..adjustment import Adjustment
from .control_twins import Alone
from .effects import carried

_TOGETHER = 64
"""Marks whose equations are solved together …"""
_NUMBERS = 1 << 24
"""… with no more numbers than these: 128 MB."""


def moves(
    adjustment: Adjustment, found: Alone, some: Sequence[int]
) -> Iterator[tuple[int, Floats]]:
    """Yield (m, 3) what using each of some marks does to all: with it minus without.

    Parameters
    ----------
    adjustment : Adjustment
    found : Alone
    some : sequence of int
        Which marks.

    Yields
    ------
    mark : int
    moved : ndarray, shape (m, 3)
        East, north, up, m.
    """
    joint = found.joint
    columns = adjustment.columns[: len(adjustment.network.marks)]
    unknowns = joint.coupling.shape[0]
    step = max(1, min(_TOGETHER, _NUMBERS // max(unknowns, 1)))
    for start in range(0, len(some), step):
        few = some[start : start + step]
        right = np.empty((unknowns, len(few)))
        for k, i in enumerate(few):
            right[:, k] = joint.coupling[:, joint.columns([i])] @ found.found[i].shift
        solved = np.zeros((unknowns + 1, len(few)))
        solved[:-1] = adjustment.factor.solve(right)
        for k, i in enumerate(few):
            moved = solved[columns, k]
            one = joint.hypotheses[i]
            none = np.zeros((*moved.shape, len(one.axes)))
            yield i, moved + carried(one, none) @ found.found[i].shift
