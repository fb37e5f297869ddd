"""Which marks nothing checks: those that an unchecked cause can move unseen."""

import numpy as np

from ...networks.covariances import Bools, Floats
from ..adjustment import Adjustment
from . import shifts
from .blunders import BlunderTests, nodes_over

_MOVES = 1e-6
"""A mark moves if it follows an unseen shift by more than this share of it."""


def checked_marks(adjustment: Adjustment, tests: BlunderTests) -> Bools:
    """Return (m, 2): whether plan and height of each mark are checked.

    A mark is checked if no unchecked set-up, observation or known mark can move it.
    The mark that a minimal solution holds is no more than its origin, and is left
    out of the question there.

    Parameters
    ----------
    adjustment : Adjustment
    tests : BlunderTests
        Of the same adjustment.

    Returns
    -------
    ndarray of bool, shape (m, 2)
    """
    marks = len(adjustment.network.marks)
    checked = np.stack(
        [adjustment.estimated[:, :2].all(axis=1), adjustment.estimated[:, 2]], axis=1
    )
    reached = np.zeros((marks, 3), dtype=bool)
    for i in np.flatnonzero(tests.tests.unchecked):
        for shift in tests.tests.null[i].T:
            moves = np.abs(_effect(adjustment, tests, int(i), shift))
            reached |= moves > _MOVES * np.abs(shift).max()
    checked[:, 0] &= ~reached[:, :2].any(axis=1)
    checked[:, 1] &= ~reached[:, 2]
    return checked


def _effect(
    adjustment: Adjustment, tests: BlunderTests, i: int, shift: Floats
) -> Floats:
    kind, edge = tests.kind[i], int(tests.edge[i])
    still = np.zeros((len(adjustment.network.marks), 3))
    if kind in ("set-up", "set-up height"):
        node = len(adjustment.network.marks) + edge
        return shifts.effect_of_nodes(adjustment, np.array([node]), shift)
    if kind.startswith("known mark "):
        if not adjustment.datum.held_rows[edge].any():
            return still
        over = nodes_over(adjustment, edge)
        moved = shifts.effect_of_nodes(adjustment, over, shift)
        moved[adjustment.network.known.mark[edge]] += np.abs(shift)
        return moved
    (some,) = (e for e in adjustment.equations if e.kind == kind)
    return shifts.effect_of_edge(adjustment, some, edge, shift)
