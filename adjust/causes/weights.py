"""Are the weights wrong, not the observations? Causes and variance components together.

A blunder swells the component of its group, and a group stated too good looks like many
blunders. So components are estimated with the causes taken as true where these explain
the misfit. Where the search ran out of what it may set aside, only those are that stay
more than chance when the group that stands out most is multiplied.
"""

from dataclasses import dataclass

import numpy as np
from scipy import special

from ...networks.covariances import Floats, Ints
from ...networks.sessions import find_sessions
from ..judge import blunder_tests
from ..judge.variance_components import VarianceComponents, variance_components
from ..judge.variance_factor import variance_factor_of
from .result import Suspects

MANY = 0.10
"""Share of the observations over their limits from which weights are doubted before
observations are (common practice, no source)."""
ROUTINE = 100_000
"""Unknowns up to which every run judges standard deviations by group: seconds there,
half a minute at 280,000. ``suspects`` judges larger ones."""
_SEVERAL = 3
"""Causes from which one multiplier may be the simpler explanation."""


@dataclass(frozen=True, slots=True)
class Weights:
    """What the residuals say of stated standard deviations."""

    components: VarianceComponents
    """With the causes of ``beside`` taken as true."""
    beside: tuple[int, ...]
    """Numbers of those causes; they come before any multiplier."""
    causes: tuple[str, ...]
    """What each of them is, in words."""
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
    answer: str
    """Of the causes: ``high``, ``low``, ``passes`` …; see ``Suspects``."""

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
    beside, components = _all(found) if explained else _blunders(found)
    instead = None
    if explained and len(beside) >= _SEVERAL:
        instead = variance_components(found.adjustment)
    leads = (
        found.answer == "high"
        and not explained
        and not beside
        and over > MANY * tested
        and not _one_explains(found)
        and any(components.multiplier[k] > 1 for k in components.standing_out)
    )
    causes = tuple(found.made.causes[one].words for one in beside)
    return Weights(
        components,
        beside,
        causes,
        instead,
        over,
        tested,
        leads,
        _surplus(found),
        found.answer,
    )


def _all(found: Suspects) -> tuple[tuple[int, ...], VarianceComponents]:
    """Return the causes of the search, and the components with them taken as true."""
    beside = found.search.model
    return beside, variance_components(found.adjustment, shifts=_shifts(found, beside))


def _blunders(found: Suspects) -> tuple[tuple[int, ...], VarianceComponents]:
    """Return the causes too large for any multiplier, and the components beside them.

    All of the search are taken as true first. With standard deviations times the
    largest multiplier that is asked for then, one of them may be what chance does among
    as many as were tried (Šidák): it is given up, until all that are left are not.
    """
    place = {int(one): k for k, one in enumerate(found.number.tolist())}
    beside = tuple(int(one) for one in found.search.model if int(one) in place)
    while True:
        shifts = _shifts(found, beside)
        made = variance_components(found.adjustment, shifts=shifts)
        widest = max((made.multiplier[k] for k in made.standing_out), default=1.0)
        chance = _chance(found, max(float(widest), 1.0))
        few = 1 - found.variance_factor.confidence
        left = tuple(one for one in beside if chance[place[one]] < few)
        if left == beside:
            return beside, made
        beside = left


def _chance(found: Suspects, multiplier: float) -> Floats:
    """Return (n,) chance that any of all causes is as large, sds multiplied."""
    alone = special.chdtrc(found.components, found.statistic / multiplier**2)
    return np.asarray(-np.expm1(found.tried * np.log1p(-np.minimum(alone, 1 - 1e-16))))


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
