"""Does it meet the specification? Precision and reliability, two verdicts a line."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from ...networks.covariances import Bools, Floats, Ints
from ...networks.specifications import MEASURES, Limit, Specification
from ..adjustment import Adjustment
from ..judge.hypotheses import Hypothesis
from ..judge.pair_effects import Bounds, PairEffects, pair_effects
from .ellipses import Multipliers, circle_cubic, circle_exact, ellipse, multipliers
from .relative import Relative, relative, variance_along


@dataclass(frozen=True, slots=True)
class Compliance:
    """A specification held against pairs of marks, or marks; P lines, plan or height.

    A value that cannot be judged is NaN, its verdict ``unchecked``.
    """

    specification: Specification
    part: str
    """``plan`` or ``height``."""
    of_marks: bool
    """Whether lines are marks (to the datum), not pairs."""
    adjustment: Adjustment
    pairs: Ints
    """(P, 2) marks; the first is −1 where lines are marks."""
    distance: Floats
    """(P,) m; NaN for marks."""
    value: Floats
    """(P,) m, at the specification's confidence."""
    cubic: Floats
    """(P,) m: the circle by the cubic that agencies use, 95 %; NaN for the rest."""
    limit: Floats
    """(P,) m."""
    also: Floats
    """(P,) m: the limit as also stated in another unit."""
    effect: Floats
    """(P,) m: the most that one unseen blunder does to it; inf: any size."""
    at_most: Bools
    """(P,) whether that is only known to be no more: well below the limit."""
    by: Ints
    """(P,) the blunder that does it, a number of ``hypotheses``; −1 for none."""
    hypotheses: tuple[Hypothesis, ...]
    multipliers: Multipliers
    sound: bool = True
    """Whether the solution passes its own tests: the precision of one that fails says
    nothing."""

    @property
    def limited(self) -> bool:
        """Whether a limit is stated; a classification has none, and no verdict."""
        return bool(np.isfinite(self.limit).any())

    @property
    def precision(self) -> tuple[str, ...]:
        """The verdicts on precision, a line each; empty words without a limit."""
        if not self.limited:
            return ("",) * len(self.value)
        low, high = np.minimum(self.limit, self.also), np.maximum(self.limit, self.also)
        fails = self.value > high
        blind = np.isnan(self.value) | (~fails & (not self.sound))
        return _words(blind, fails, self.value > low, "unchecked")

    @property
    def reliability(self) -> tuple[str, ...]:
        """The verdicts on reliability: whether one unseen blunder may spoil it.

        Without a limit: ``unchecked`` where a blunder of any size may, else empty.
        """
        blind = np.isnan(self.value) | np.isinf(self.effect)
        if not self.limited:
            return tuple("unchecked" if one else "" for one in blind)
        none = np.zeros(len(blind), dtype=bool)
        return _words(blind, none, self.effect > self.limit, "unchecked")

    def of(self, lines: Bools) -> "Compliance":
        """Return some of the lines.

        Parameters
        ----------
        lines : ndarray of bool, shape (P,)
        """
        columns = (
            "pairs", "distance", "value", "cubic", "limit", "also", "effect",
            "at_most", "by",
        )  # fmt: skip
        return replace(self, **{name: getattr(self, name)[lines] for name in columns})

    def order(self) -> Ints:
        """Return the lines, largest share of the limit first, unjudged ones last."""
        whole = self.limit if self.limited else np.ones(len(self.value))
        share = np.where(np.isnan(self.value), -1.0, self.value / whole)
        return np.lexsort((np.arange(len(share)), -share.round(9)))


def _words(blind: Bools, fails: Bools, query: Bools, word: str) -> tuple[str, ...]:
    made = np.where(fails, "fails", np.where(query, "query", "meets"))
    return tuple(str(one) for one in np.where(blind, word, made))


def judge_pairs(
    adjustment: Adjustment,
    specification: Specification,
    pairs: Ints,
    hypotheses: Sequence[Hypothesis],
) -> list[Compliance]:
    """Return a specification between pairs of marks, plan and height.

    Parameters
    ----------
    adjustment : Adjustment
        Minimal: free of the control's errors.
    specification : Specification
    pairs : ndarray of int, shape (P, 2)
    hypotheses : sequence of Hypothesis
        The blunders that could hide.
    """
    found = relative(adjustment, pairs)
    near = found.distance <= specification.within
    found = _some(found, near)
    scale = scale_of(adjustment, specification.confidence)
    parts = specification.parts
    effects = _effects(adjustment, hypotheses, found, dict(parts), found.distance)
    measure = MEASURES[specification.kind]
    made = []
    for part, limit in parts:
        value, cubic = (
            _in_plan(measure, found, scale)
            if part == "plan"
            else (scale.height * _root(found.covariance[:, 2, 2]), None)
        )
        made.append(
            _line(
                adjustment, specification, part, found, value, cubic, limit, effects,
                hypotheses, scale,
            )
        )  # fmt: skip
    return made


def judge_marks(
    adjustment: Adjustment,
    specification: Specification,
    marks: Ints,
    hypotheses: Sequence[Hypothesis],
) -> list[Compliance]:
    """Return a specification of marks to the datum, plan and height.

    Parameters
    ----------
    adjustment : Adjustment
        Constrained: with the control's own uncertainty.
    specification : Specification
    marks : ndarray of int, shape (k,)
    hypotheses : sequence of Hypothesis
    """
    none = np.full(len(marks), np.nan)
    estimated = adjustment.estimated[marks]
    covariance = adjustment.covariance(marks, marks)
    covariance = np.where(
        estimated[:, :, None] & estimated[:, None, :], covariance, np.nan
    )
    alone = np.stack([np.full(len(marks), -1), marks], axis=1)
    found = Relative(alone, covariance, none, none)
    scale = scale_of(adjustment, specification.confidence)
    parts = _of_marks(specification)
    effects = _effects(adjustment, hypotheses, found, dict(parts), 0 * marks)
    made = []
    for part, limit in parts:
        value, cubic = (
            _in_plan("circle", found, scale)
            if part == "plan"
            else (scale.height * _root(covariance[:, 2, 2]), None)
        )
        line = _line(
            adjustment, specification, part, found, value, cubic, limit, effects,
            hypotheses, scale,
        )  # fmt: skip
        # A held mark is exact by assumption, which is no finding about it.
        made.append(line.of(~(value == 0)))
    return made


def _of_marks(specification: Specification) -> tuple[tuple[str, Limit], ...]:
    if specification.kind != "tier and class":
        return specification.parts
    tiers = specification.tier_plan, specification.tier_height
    both = zip(("plan", "height"), tiers, strict=True)
    return tuple((part, Limit(tier)) for part, tier in both if not np.isnan(tier))


def _effects(
    adjustment: Adjustment,
    hypotheses: Sequence[Hypothesis],
    found: Relative,
    limits: dict[str, Limit],
    distance: Floats | Ints,
) -> PairEffects:
    """Return the worst effects; in a large job exactly where they near a limit."""
    covariance = np.nan_to_num(found.covariance)
    major, _, _ = ellipse(covariance[:, :2, :2])
    size = np.stack([major, _root(covariance[:, 2, 2])], axis=1)
    none = np.full(len(found.pairs), np.inf)
    far = np.asarray(distance, dtype=np.float64)
    limit = np.stack(
        [
            np.nan_to_num(limits[part].over(far), nan=np.inf)
            if part in limits
            else none
            for part in ("plan", "height")
        ],
        axis=1,
    )
    return pair_effects(adjustment, hypotheses, found.pairs, Bounds(size, limit))


def _line(
    adjustment: Adjustment,
    specification: Specification,
    part: str,
    found: Relative,
    value: Floats,
    cubic: Floats | None,
    limit: Limit,
    effects: PairEffects,
    hypotheses: Sequence[Hypothesis],
    scale: Multipliers,
) -> Compliance:
    k = ("plan", "height").index(part)
    of_marks = bool(len(found.pairs) and found.pairs[0, 0] < 0)
    distance = np.zeros(len(value)) if of_marks else found.distance
    return Compliance(
        specification,
        part,
        of_marks,
        adjustment,
        found.pairs,
        found.distance,
        value,
        np.full(len(value), np.nan) if cubic is None else cubic,
        limit.over(distance),
        limit.also_over(distance),
        effects.most[:, k],
        effects.at_most[:, k],
        effects.by[:, k],
        tuple(hypotheses),
        scale,
    )


def _in_plan(
    measure: str, found: Relative, scale: Multipliers
) -> tuple[Floats, Floats | None]:
    """Return what is held against the limit, and the circle by the cubic, m."""
    if measure == "distance":
        along = variance_along(found.covariance, found.azimuth)
        return scale.height * _root(along), None
    major, minor, _ = ellipse(found.covariance[:, :2, :2])
    if measure == "semi-major axis":
        return scale.ellipse * major, None
    # The circle of the stated ellipse, enlarged as the ellipse is.
    larger = np.sqrt(scale.ellipse**2 / -2 / np.log(1 - scale.confidence))
    exact = circle_exact(major * larger, minor * larger, scale.confidence)
    cubic = circle_cubic(major * larger, minor * larger)
    own = scale.confidence == 0.95
    return exact, cubic if own else None


def scale_of(adjustment: Adjustment, confidence: float) -> Multipliers:
    """Return the multipliers of a solution for a specification's own confidence."""
    options = replace(adjustment.network.options, confidence=confidence)
    return multipliers(options, adjustment.s0_sq, adjustment.degrees_of_freedom)


def _root(variance: Floats) -> Floats:
    made: Floats = np.sqrt(np.maximum(variance, 0.0))
    return np.where(np.isnan(variance), np.nan, made)


def _some(found: Relative, rows: Bools) -> Relative:
    return Relative(
        found.pairs[rows],
        found.covariance[rows],
        found.distance[rows],
        found.azimuth[rows],
    )


@dataclass(frozen=True, slots=True)
class PerMark:
    """Values of pairs averaged over the neighbours of each mark, k marks."""

    mark: Ints
    """(k,)"""
    neighbours: Ints
    """(k,) how many."""
    average: Floats
    """(k,) m."""
    worst: Floats
    """(k,) m: the largest of them."""


def averages(one: Compliance) -> PerMark:
    """Return the mean value of each mark over its pairs: its one local accuracy.

    FGDC-STD-007.2 states one figure a mark as the average over its neighbours; the
    values of the pairs are the real information.

    Parameters
    ----------
    one : Compliance
        Of pairs.
    """
    judged = np.isfinite(one.value)
    ends = one.pairs[judged].ravel()
    value = np.repeat(one.value[judged], 2)
    mark, place = np.unique(ends, return_inverse=True)
    count = np.bincount(place, minlength=len(mark))
    worst = np.zeros(len(mark))
    np.maximum.at(worst, place, value)
    total = np.bincount(place, value, minlength=len(mark))
    return PerMark(mark, count, total / np.maximum(count, 1), worst)
