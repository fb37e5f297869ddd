"""What became of each mark, in the datum of those that are stable."""

from dataclasses import dataclass

import numpy as np
from scipy import special

from ...networks.covariances import Bools, Floats
from ..judge.limits import noncentrality
from .congruency import Congruency, Movements, Scale


@dataclass(frozen=True, slots=True)
class Movement:
    """What became of one mark."""

    station: str
    role: str
    """``stable``, ``moved``, ``undecided`` (one of several), or ``watched``: never
    taken for stable."""
    move: Floats
    """(p,) second minus first in the datum of the stable marks, m: east and north,
    or height."""
    covariance: Floats
    """(p, p) of it, m², scaled as the tests are."""
    limit: Floats
    """(p,) half-width at the confidence of each component alone, m."""
    test: float
    """√(statistic / limit) of this mark alone; NaN where it cannot be judged."""
    least: float
    """The least movement that is found with the power stated, m, in the direction in
    which it hides best; NaN where none would be."""
    verdict: str


@dataclass(frozen=True, slots=True)
class Judge:
    """What every mark is judged by."""

    seen: Movements
    scale: Scale
    confidence: float
    power: float
    stable: Bools
    undecided: frozenset[int]
    start: Bools
    after: Congruency

    def mark(self, i: int) -> Movement:
        """Return what became of one mark."""
        p = self.seen.size
        move = self.seen.difference[i]
        covariance = self.seen.covariance[i, :, i] * self.scale.variance
        statistic = _quadratic(covariance, move)
        limit = self.scale.limit(self.confidence, p)
        test = float(np.sqrt(statistic / limit))
        role = self._role(i)
        one = self.scale.limit(self.confidence, 1)
        return Movement(
            self.seen.station[i],
            role,
            move,
            covariance,
            np.sqrt(one * np.diagonal(covariance)),
            test,
            self._least(i, covariance),
            self._verdict(role, test),
        )

    def _role(self, i: int) -> str:
        if i in self.undecided:
            return "undecided"
        if self.stable[i]:
            return "stable"
        return "moved" if self.start[i] else "watched"

    def _verdict(self, role: str, test: float) -> str:
        if role == "stable" and self.after.verdict == "meets":
            return "meets"
        if not np.isfinite(test) or role == "stable":
            return "unchecked"
        if role == "moved":
            return "fails"
        if role == "undecided":
            return "query"
        joint = 1 - (1 - self.confidence) / max(1, int((~self.start).sum()))
        p = self.seen.size
        beyond = test**2 * self.scale.limit(self.confidence, p)
        if beyond > self.scale.limit(joint, p):
            return "fails"
        return "query" if test > 1 else "meets"

    def _least(self, i: int, covariance: Floats) -> float:
        """Return the least movement found: by all stable ones together, or alone."""
        alpha = 1 - self.confidence
        if self.stable[i]:
            k = int(self.stable[:i].sum())
            values = np.linalg.eigvalsh(self.after.weight[k, :, k])
            freedom = self.after.degrees_of_freedom
            if freedom < 1 or values[0] < 1e-9 * max(float(values[-1]), 1e-300):
                return float("nan")
            shift = _noncentrality(alpha, self.power, freedom, self.scale)
            return float(np.sqrt(shift / values[0]))
        shift = _noncentrality(alpha, self.power, len(covariance), self.scale)
        return float(np.sqrt(shift * np.linalg.eigvalsh(covariance)[-1]))


def _quadratic(covariance: Floats, move: Floats) -> float:
    """Return dᵀQ⁻¹d; NaN where the mark carries the datum alone and cannot move."""
    if np.linalg.eigvalsh(covariance)[0] <= 1e-12 * 1e-6:
        return float("nan")
    return float(move @ np.linalg.solve(covariance, move))


def _noncentrality(alpha: float, power: float, p: int, scale: Scale) -> float:
    """Return λ0 of the test that the scale calls for."""
    if scale.kind == "none":
        return float("nan")
    if scale.kind == "stated":
        return noncentrality(alpha, power, p)
    freedom = scale.degrees_of_freedom
    limit = float(special.fdtri(p, freedom, 1 - alpha))
    return float(special.ncfdtrinc(p, freedom, 1 - power, limit))
