"""The causes of a misfit as a result: columns, one row a cause."""

from dataclasses import dataclass

import numpy as np

from ...networks.covariances import Bools, Floats, Ints
from ..adjustment import Adjustment
from ..judge.variance_factor import VarianceFactor
from ..judge.verdicts import Basis
from .cause import Cause
from .evaluate import Hypotheses, Joint
from .search import Search, least_freedom


@dataclass(frozen=True, slots=True)
class Group:
    """Causes that cannot be told from one another."""

    members: tuple[int, ...]
    """Places in the list; the best supported first."""
    wider: tuple[int, ...]
    """Places of larger causes that hold the best and add nothing significant."""
    more: tuple[int, ...] = ()
    """Places of larger causes over their limits that hold the best and explain
    significantly more, though by their own tests they come after it."""
    parts: tuple[int, ...] = ()
    """Places of smaller causes over their limits that the best holds; the best
    supported first."""


@dataclass(frozen=True, slots=True)
class Simulation:
    """Probabilities over all causes that were counted, not computed."""

    draws: int
    """Surveys drawn."""
    seed: int
    confidence: float
    """Of the limits that the number of draws leaves."""
    lower: Floats
    """(n,) of each listed cause's probability."""
    upper: Floats


def verdicts_of(test: Floats, family: Floats, confidence: float) -> tuple[str, ...]:
    """Return meets, query or fails of causes.

    Parameters
    ----------
    test : ndarray, shape (n,)
        1 is the limit.
    family : ndarray, shape (n,)
        Chance that any of all causes is as large.
    confidence : float
    """
    over = test > 1
    fails = over & (family < 1 - confidence)
    verdict = np.where(fails, "fails", np.where(over, "query", "meets"))
    return tuple(str(word) for word in verdict)


@dataclass(frozen=True, slots=True)
class Suspects:
    """The causes of a misfit, best supported first; one row a cause.

    Amounts are booked minus what the rest says: + is booked too large.
    """

    adjustment: Adjustment
    variance_factor: VarianceFactor
    made: Hypotheses
    joint: Joint
    number: Ints
    """(n,) number of each listed cause among all of ``made``."""
    cause: tuple[Cause, ...]
    """What each is, with its words as they are told."""
    size: tuple[Floats, ...]
    """The p amounts of each."""
    sd_size: tuple[Floats, ...]
    """Stated."""
    components: Ints
    basis: Basis
    """Statistic, limit, test √(statistic / limit) by the B-method, so that dimensions
    compare, and probability: (n,) each."""
    family_probability: Floats
    """(n,) chance that any of all causes tried is as large (Šidák, or simulated)."""
    test_beside_first: Floats
    """(n,) test of each when the first cause is in the model; NaN of the first."""
    variance_factor_without: Floats
    """(n,) with the cause in the model; NaN without freedom left."""
    verdict: tuple[str, ...]
    group: Ints
    """(n,) number of its group, from 0."""
    wider: Bools
    """(n,) whether a smaller cause inside it explains all that it does."""
    groups: tuple[Group, ...]
    search: Search
    tried: int
    """Causes that could be judged."""
    unchecked: tuple[str, ...]
    """What nothing checks, in words."""
    simulation: Simulation | None = None
    """Where the chance over all causes was simulated."""

    def __len__(self) -> int:
        return len(self.cause)

    @property
    def kind(self) -> tuple[str, ...]:
        """Kind of each cause."""
        return tuple(cause.kind for cause in self.cause)

    @property
    def about(self) -> tuple[tuple[str, ...], ...]:
        """Names concerned."""
        return tuple(cause.about for cause in self.cause)

    @property
    def words(self) -> tuple[str, ...]:
        """Each cause as it is said."""
        return tuple(cause.words for cause in self.cause)

    @property
    def measure(self) -> tuple[str, ...]:
        """What the amounts are, as in ``Cause``."""
        return tuple(cause.measure for cause in self.cause)

    @property
    def statistic(self) -> Floats:
        """(n,) T of each."""
        return self.basis.statistic

    @property
    def limit(self) -> Floats:
        """(n,) of T."""
        return self.basis.limit

    @property
    def test(self) -> Floats:
        """(n,) √(T / limit); 1 is the limit."""
        return self.basis.test

    @property
    def answer(self) -> str:
        """``high``, ``low``, ``passes, but``, ``passes`` or ``unchecked``."""
        verdict = self.variance_factor.verdict
        if verdict == "unchecked":
            return "unchecked"
        if verdict == "fails":
            return "high"
        over = bool(len(self) and self.test[0] > 1)
        if verdict == "query":
            return "low"
        return "passes, but" if over else "passes"

    @property
    def overall(self) -> str:
        """The worst of the variance factor and the listed causes."""
        verdicts = {self.variance_factor.verdict, *self.verdict}
        worst = ("fails", "query", "unchecked")
        return next((one for one in worst if one in verdicts), "meets")

    @property
    def enough(self) -> bool:
        """Whether enough would be left if the first cause were set aside."""
        freedom = self.variance_factor.degrees_of_freedom
        taken = int(self.components[0]) if len(self) else 0
        return freedom - taken >= self.least_freedom

    @property
    def least_freedom(self) -> int:
        """The degrees of freedom that must be left when causes are set aside."""
        return least_freedom(self.variance_factor.degrees_of_freedom)
