"""Are the weights wrong, not the observations? Causes and variance components together.

A blunder swells the component of its group, and a group stated too good looks like many
blunders. So components are estimated with the causes taken as true where these explain
the misfit, and without any where the search ran out of what it may set aside.
"""

from dataclasses import dataclass

import numpy as np

from ...networks.covariances import Floats, Ints
from ...networks.sessions import find_sessions
from ..judge import blunder_tests
from ..judge.variance_components import VarianceComponents, variance_components
from ..judge.variance_factor import variance_factor_of
from .result import Suspects

MANY = 0.10
"""Share of the observations over their limits from which weights are doubted before
observations are (common practice, no source)."""
_SEVERAL = 3
"""Causes from which one multiplier may be the simpler explanation."""


@dataclass(frozen=True, slots=True)
class Weights:
    """What the residuals say of stated standard deviations."""

    components: VarianceComponents
    """With the causes of ``beside`` taken as true."""
    beside: tuple[int, ...]
    """Numbers of those causes."""
    instead: VarianceComponents | None
    """Without any cause, where several were needed to explain the misfit."""
    over: int
    """Observations over their stated limits, before anything is taken as true."""
    tested: int
    """Observations that can be tested."""
    leads: bool
    """Whether the weights are to be looked at before any observation: more than a tenth
    are over their limits, no few causes explain it, and a group stands out."""
    surplus: int
    """Vectors that are sums of others of their session, not booked as correlated."""

    def overall(self, found: Suspects) -> str:
        """Return the worst verdict of causes and standard deviations.

        Parameters
        ----------
        found : Suspects
        """
        out = bool(self.components.standing_out)
        return "query" if out and found.overall == "meets" else found.overall


def weights(found: Suspects) -> Weights:
    """Return variance components by group, and whether they come before the causes.

    Parameters
    ----------
    found : Suspects

    Returns
    -------
    Weights
    """
    over, tested = _over(found)
    explained = found.search.stopped == "explained"
    beside = found.search.model if explained else ()
    components = variance_components(found.adjustment, shifts=_shifts(found, beside))
    instead = None
    if len(beside) >= _SEVERAL:
        instead = variance_components(found.adjustment)
    leads = (
        found.answer == "high"
        and not explained
        and over > MANY * tested
        and not _one_explains(found)
        and any(components.multiplier[k] > 1 for k in components.standing_out)
    )
    return Weights(components, beside, instead, over, tested, leads, _surplus(found))


def _over(found: Suspects) -> tuple[int, int]:
    """Return how many observations are over their stated limits, of how many."""
    tests = blunder_tests(found.adjustment)
    known = np.array([kind.startswith("known mark") for kind in tests.kind], dtype=bool)
    test = tests.tests.stated.test
    judged = np.isfinite(test) & ~known
    return int((judged & (test > 1)).sum()), int(judged.sum())


def _shifts(found: Suspects, causes: tuple[int, ...]) -> Floats | None:
    """Return the whitened columns of some causes; None for none."""
    if not causes:
        return None
    at: Ints = found.joint.columns(causes)
    return np.asarray(found.made.scaled[:, at].toarray())


def _one_explains(found: Suspects) -> bool:
    """Return whether the variance factor meets with the first cause in the model."""
    if not len(found):
        return False
    left = found.variance_factor.degrees_of_freedom - int(found.components[0])
    if left < 1:
        return False
    without = float(found.variance_factor_without[0]) * left
    confidence = found.variance_factor.confidence
    return variance_factor_of(without, left, confidence).verdict != "fails"


def _surplus(found: Suspects) -> int:
    network = found.adjustment.network
    if not network.vectors.used.any():
        return 0
    return sum(one.surplus for one in find_sessions(network) if not one.correlated)
