"""What may be checked by nothing, found in arrays: all else need not be looked at."""

from typing import NamedTuple

import numpy as np

from ...networks.covariances import Bools, Ints
from ..adjustment import Adjustment
from .edges import of_edges
from .hypotheses import Hypothesis, known_marks, observations, set_ups
from .seen import plainly_checked
from .set_ups import of_set_ups
from .shifts import Shifts
from .verdicts import part

AT_MOST = 20_000
"""Of each kind of thing that are looked at one by one."""


class Blind(NamedTuple):
    """What may be checked by nothing."""

    hypotheses: list[Hypothesis]
    passed_over: int
    """How many more of the kind there are, not looked at."""


def blind_observations(adjustment: Adjustment) -> Blind:
    """Return a wrong row of each observation of which nothing may check a part.

    Those that are plainly checked in all directions are left out: by a share of
    their own precision of 10⁻⁴, against 10⁻⁹ below which nothing checks them. The
    noise of set-ups is in that precision; it would have to be 10⁵ times that of the
    observation before it hid one. Known marks are all among them: they are few.

    Parameters
    ----------
    adjustment : Adjustment

    Returns
    -------
    Blind
        As ``hypotheses.observations`` has them.
    """
    only: dict[str, Ints] = {}
    passed = 0
    for some in adjustment.equations:
        if some.kind not in ("set-up", "known mark"):
            found, _ = of_edges(adjustment, some)
            rows = np.flatnonzero(some.used & _dim(found))
            only[some.kind] = rows[:AT_MOST]
            passed += max(0, len(rows) - AT_MOST)
    made = observations(adjustment, only) + known_marks(adjustment)
    return Blind(made, passed)


def blind_set_ups(adjustment: Adjustment) -> Blind:
    """Return the set-ups of which nothing may check place with height, or height.

    Parameters
    ----------
    adjustment : Adjustment

    Returns
    -------
    Blind
        As ``hypotheses.set_ups`` has them.
    """
    found, _ = of_set_ups(adjustment, np.arange(len(adjustment.network.set_ups)))
    rows = np.flatnonzero(_dim(found) | _dim(part(found, [2])))
    passed = max(0, len(rows) - AT_MOST)
    return Blind(set_ups(adjustment, rows[:AT_MOST]), passed)


def _dim(found: Shifts) -> Bools:
    """Return (n,) which shifts are seen, and not plainly checked."""
    used = np.asarray(np.isfinite(found.pull).all(axis=1))
    seen = np.asarray(found.components.any(axis=1))
    return used & seen & ~plainly_checked(found, used)
