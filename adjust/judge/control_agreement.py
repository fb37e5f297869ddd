"""Whether known marks agree with each other, and which subsets of them do.

All marks let go at once leave the survey alone; so the weighted square sum that a
subset of them adds to it is a difference of two statistics, chi-square on a
difference of ranks.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations

from scipy import special

from ..adjustment import Adjustment
from .control_joint import Jointly
from .hypotheses import Hypothesis
from .limits import chi_square_quantile


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
    said: str = ""
    """Why it is not judged, where that is not for want of degrees of freedom."""


def agreement(adjustment: Adjustment, joint: Jointly, some: Sequence[int]) -> Agreement:
    """Return whether some of the marks in use agree, the others let go.

    Parameters
    ----------
    adjustment : Adjustment
    joint : Jointly
        All marks in use, of one part, plan or height.
    some : sequence of int
        Which of them.
    """
    options, every = adjustment.network.options, range(len(joint.hypotheses))
    others = sorted(set(every) - set(some))
    statistic, freedom = joint.taken_off(every)
    if others:
        rest, less = joint.taken_off(others)
        statistic, freedom = statistic - rest, freedom - less
    part = joint.hypotheses[0].kind.removeprefix("known mark ")
    stations = tuple(joint.hypotheses[i].name for i in some)
    if freedom < 1:
        nothing = float("nan")
        return Agreement(stations, part, nothing, 0, nothing, nothing, "unchecked")
    statistic = max(statistic, 0.0)
    limit = chi_square_quantile(options.confidence, freedom)
    return Agreement(
        stations,
        part,
        statistic,
        freedom,
        limit,
        float(special.chdtrc(freedom, statistic)),
        "fails" if statistic > limit else "meets",
    )


def not_judged(some: Sequence[Hypothesis], most: int) -> Agreement:
    """Return that very many known marks are not taken together.

    Parameters
    ----------
    some : sequence of Hypothesis
        Of one part.
    most : int
        So many are.
    """
    nan, part = float("nan"), some[0].kind.removeprefix("known mark ")
    said = (
        f"{len(some):,} known marks are more than the {most:,} that are taken "
        "together: each is judged by itself, and which cannot be told from another is "
        "not sought"
    )
    stations = tuple(one.name for one in some)
    return Agreement(stations, part, nan, 0, nan, nan, "unchecked", said)


def every_subset(adjustment: Adjustment, joint: Jointly) -> Iterator[Agreement]:
    """Yield all subsets of two or more, the largest and best first."""
    every = range(len(joint.hypotheses))
    for size in range(len(every), 1, -1):
        found = [
            agreement(adjustment, joint, some) for some in combinations(every, size)
        ]
        yield from sorted(
            found, key=lambda one: -one.probability if one.degrees_of_freedom else 1.0
        )
