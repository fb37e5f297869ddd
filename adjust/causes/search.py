"""Several faults: one after another, with a look back after each.

Iterative data snooping (Kok 1984; Rofatto et al. 2020; from memory) over causes in
place of single observations. Nothing is adjusted again: what is left of every cause
when some are in the model is algebra.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil

from ...networks.covariances import Floats
from ..judge.variance_factor import variance_factor_of
from .beside import View, Views, family_of, left_over
from .evaluate import Hypotheses
from .groups import group_of

FLOOR = 6
"""Degrees of freedom that must be left: below, a blunder can hardly be told (common
practice, no source)."""
KEPT = 1 / 3
"""Share of the degrees of freedom that must be left."""
SHARE = 0.10
"""Share of the observations that may be set aside (common practice, no source)."""
ALWAYS = 2
"""Causes that may be accepted whatever share that is: of few observations a tenth is
less than two vectors."""
MOST = 5
_LOOKS = 4
"""Looks back after a step, at most."""


@dataclass(frozen=True, slots=True)
class Step:
    """One step of the search."""

    accepted: int
    """Number of the cause, best supported beside those accepted before."""
    group: tuple[int, ...]
    """It and those that could not be told from it."""
    larger: tuple[int, ...]
    """Larger causes that hold it: over their limits too, or no better for it."""
    test: float
    """Of it beside those accepted before; 1 = the limit."""
    given_up: tuple[int, ...]
    """Causes accepted before that the look back no longer supports."""
    model: tuple[int, ...]
    """The causes accepted after this step."""
    variance_factor: float
    degrees_of_freedom: int


@dataclass(frozen=True, slots=True)
class Search:
    """The steps, and why there are no more."""

    steps: tuple[Step, ...]
    stopped: str
    """``explained``, ``freedom``, ``share`` or ``steps``."""
    started: tuple[int, ...] = ()
    """Causes that it started from, found robustly; empty where it started plainly."""

    @property
    def model(self) -> tuple[int, ...]:
        """The causes accepted in the end."""
        return self.steps[-1].model if self.steps else ()


def least_freedom(freedom: int) -> int:
    """Return the degrees of freedom that must be left when causes are set aside.

    Examples
    --------
    >>> least_freedom(12), least_freedom(90)
    (6, 30)
    """
    return max(FLOOR, ceil(freedom * KEPT))


def search(
    made: Hypotheses,
    misclosure: Floats,
    observations: int,
    views: Views,
    start: tuple[int, ...] = (),
) -> Search:
    """Return the steps of the search for several causes.

    Parameters
    ----------
    made : Hypotheses
    misclosure : ndarray, shape (n,)
        Minus the whitened residuals.
    observations : int
        How many values were observed.
    views : Views
        Of these residuals.
    start : tuple of int, optional
        Causes that are in the model from the beginning.
    """
    joint, freedom = views.joint, views.freedom
    steps: list[Step] = _started(made, misclosure, views, start)
    model: list[int] = list(start) if steps else []
    start = tuple(model)
    while len(steps) < MOST:
        now = views.beside(model)
        best = int(now.order.order[0]) if len(now.order.order) else -1
        if best < 0 or not _supported(now, best, views, model):
            return Search(tuple(steps), "explained", start)
        _, taken = joint.statistic([*model, best])
        if freedom - taken < least_freedom(freedom):
            return Search(tuple(steps), "freedom", start)
        if len(model) >= ALWAYS and taken > SHARE * observations:
            return Search(tuple(steps), "share", start)
        after, given_up = _looked_back(views, [*model, best])
        if set(after) == set(model):
            return Search(tuple(steps), "explained", start)
        model = after
        _, taken = joint.statistic(model)
        left = left_over(made, joint, model, misclosure)
        steps.append(_step(now, best, given_up, model, left, freedom - taken))
    return Search(tuple(steps), "steps", start)


def _started(
    made: Hypotheses, misclosure: Floats, views: Views, start: tuple[int, ...]
) -> list[Step]:
    """Return a step for each cause of a start; none where they take too much.

    The test of each is beside all others of the start, without which it is hidden.
    """
    joint, freedom, steps = views.joint, views.freedom, []
    for k, cause in enumerate(start):
        model = start[: k + 1]
        _, taken = joint.statistic(model)
        if freedom - taken < least_freedom(freedom):
            return []
        rest = [other for other in start if other != cause]
        now = views.beside(rest)
        left = left_over(made, joint, model, misclosure)
        steps.append(_step(now, cause, (), model, left, freedom - taken))
    return steps


def _step(
    now: View,
    cause: int,
    given_up: Sequence[int],
    model: Sequence[int],
    left: float,
    freedom: int,
) -> Step:
    """Return the step that accepts a cause; vᵀPv and freedom are what it leaves."""
    return Step(
        cause,
        tuple(group_of(now.joint, now.order, cause)),
        _larger(now, cause),
        float(now.basis.test[cause]),
        tuple(given_up),
        tuple(model),
        left / freedom,
        freedom,
    )


def _larger(now: View, best: int) -> tuple[int, ...]:
    """Return the causes that hold the best and may stand for it, best first."""
    order = now.order.order
    holds = now.order.holds[best, order]
    holds &= now.order.wider[order] | (now.basis.test[order] > 1)
    return tuple(order[holds].tolist())


def _supported(now: View, best: int, views: Views, model: Sequence[int]) -> bool:
    """Return whether a cause is over its limit, and the misfit calls for one.

    That is, the variance factor is still too high, or so large a test is unlikely
    anywhere in the job.
    """
    if not now.basis.test[best] > 1:
        return False
    explained, taken = views.joint.statistic(model)
    confidence = views.options.confidence
    left, freedom = views.vtpv - explained, views.freedom - taken
    factor = variance_factor_of(left, freedom, confidence)
    family = family_of(now.basis.probability[[best]], now.tried)[0]
    return factor.verdict == "fails" or bool(family < 1 - confidence)


def _looked_back(views: Views, model: list[int]) -> tuple[list[int], list[int]]:
    """Return the model after the look back, and the causes given up.

    Each cause is tried again beside all others: it goes if it is no longer over its
    limit, and makes room for one that now explains more. So on until all stay: where
    two faults hide each other, the first to be taken is seldom one of them.
    """
    given_up: list[int] = []
    for _ in range(_LOOKS):
        before = list(model)
        # The last has only just been tried.
        for cause in model if given_up else model[:-1]:
            model, gone = _tried_again(views, model, cause)
            given_up += gone
        if model == before:
            break
    return model, [cause for cause in given_up if cause not in model]


def _tried_again(
    views: Views, model: list[int], cause: int
) -> tuple[list[int], list[int]]:
    """Return the model with one of its causes tried beside the rest, and what goes."""
    rest = [other for other in model if other != cause]
    if not rest:
        return model, []
    now = views.beside(rest)
    if not now.basis.test[cause] > 1:
        return rest, [cause]
    best = int(now.order.order[0])
    better = best != cause and now.basis.test[best] > now.basis.test[cause]
    if better and cause not in group_of(now.joint, now.order, best):
        return [best if other == cause else other for other in model], [cause]
    return model, []
