"""Whether known marks agree with each other, and which subsets of them do.

All marks let go at once leave the survey alone; so the weighted square sum that a
subset of them adds to it is a difference of two statistics, chi-square on a
difference of ranks.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np
from scipy import sparse, special

from ...networks import GeodeticFrame, Network
from ...networks.covariances import Floats, Ints
from ..adjustment import Adjustment
from ..products import products
from .hypotheses import Hypothesis, together
from .limits import chi_square_quantile
from .unseen import information_of, just_unseen, lost_of, pull_of
from .verdicts import UNCHECKED

_FEW = 30
"""Components of marks up to which covariances among all that they touch are read."""
_RADIUS = 6.371e6
"""m; of the earth."""


@dataclass(frozen=True, slots=True)
class Agreement:
    """Whether some known marks agree with each other through the survey."""

    stations: tuple[str, ...]
    part: str
    statistic: float
    """What holding them adds to vᵀPv."""
    degrees_of_freedom: int
    limit: float
    """Of chi-square at the job's confidence."""
    probability: float
    verdict: str
    """``meets``, ``fails``; ``unchecked`` without degrees of freedom."""


@dataclass(frozen=True, slots=True)
class LetGo:
    """Marks let go at once."""

    statistic: float
    rank: int
    shift: Floats
    covariance: Floats
    free: int
    """Directions in which nothing checks them."""


def let_go(adjustment: Adjustment, hypothesis: Hypothesis) -> LetGo:
    """Return what letting marks go takes off vᵀPv, and where they then are."""
    own, at, coupling = information_of(hypothesis)
    matrix = own - _lost(adjustment, at, coupling)
    least = _bent(adjustment.network, adjustment.nodes.xyz)
    just, free = just_unseen(own, matrix, hypothesis.noise, least)
    along = just.T @ pull_of(hypothesis)
    return LetGo(
        float(along @ along), just.shape[1], just @ along, just @ just.T, free.shape[1]
    )


def _lost(adjustment: Adjustment, at: Ints, coupling: Floats) -> Floats:
    """Return CᵀPAQAᵀPC; of very many marks at once by sparse columns."""
    if coupling.shape[1] <= _FEW:
        return lost_of(adjustment, at, coupling)
    row, column = np.nonzero(coupling * (at >= 0)[:, None])
    shape = (int(adjustment.columns.max()) + 1, coupling.shape[1])
    entries = (coupling[row, column], (at[row], column))
    return products(adjustment.factor, sparse.csc_array(entries, shape=shape))


def _bent(network: Network, xyz: Floats) -> float:
    """Return the share of information that the earth's curve alone lends a shift.

    Known marks that all move alike in plan tilt the network by their shift over the
    earth's radius R; over an extent D that is D/R of the shift in height, and the
    square of it in information. It checks nothing that a survey could use.
    """
    if not isinstance(network.frame, GeodeticFrame):
        return UNCHECKED
    marks = xyz[: len(network.marks)]
    extent = float(np.linalg.norm(np.ptp(marks, axis=0)))
    return float(np.clip(10 * (extent / _RADIUS) ** 2, UNCHECKED, 1e-3))


def agreement(
    adjustment: Adjustment, some: Sequence[Hypothesis], every: Sequence[Hypothesis]
) -> Agreement:
    """Return whether some of the marks in use agree, the others let go.

    Parameters
    ----------
    adjustment : Adjustment
    some, every : sequence of Hypothesis
        Of one part, plan or height.
    """
    options = adjustment.network.options
    named = {one.name for one in some}
    others = [one for one in every if one.name not in named]
    whole = let_go(adjustment, together(every))
    statistic, freedom = whole.statistic, whole.rank
    if others:
        rest = let_go(adjustment, together(others))
        statistic, freedom = statistic - rest.statistic, freedom - rest.rank
    part = every[0].kind.removeprefix("known mark ")
    if freedom < 1:
        nothing = float("nan")
        return Agreement(
            tuple(one.name for one in some),
            part,
            nothing,
            0,
            nothing,
            nothing,
            "unchecked",
        )
    statistic = max(statistic, 0.0)
    limit = chi_square_quantile(options.confidence, freedom)
    return Agreement(
        tuple(one.name for one in some),
        part,
        statistic,
        freedom,
        limit,
        float(special.chdtrc(freedom, statistic)),
        "fails" if statistic > limit else "meets",
    )


def every_subset(
    adjustment: Adjustment, here: Sequence[Hypothesis]
) -> Iterator[Agreement]:
    """Yield all subsets of two or more, the largest and best first."""
    for size in range(len(here), 1, -1):
        found = [agreement(adjustment, some, here) for some in combinations(here, size)]
        yield from sorted(
            found, key=lambda one: -one.probability if one.degrees_of_freedom else 1.0
        )
