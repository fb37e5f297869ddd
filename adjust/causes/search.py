"""Several faults: one after another, with a look back after each.

Iterative data snooping (Kok 1984; Rofatto et al. 2020; from memory) over causes in
place of single observations. Nothing is adjusted again: what is left of every cause
when some are in the model is algebra.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil

from ...networks import Options
from ...networks.covariances import Floats
from ..judge.variance_factor import variance_factor_of
from .beside import View, family_of, left_over, view
from .evaluate import Hypotheses, Joint
from .groups import Nesting, group_of

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
    joint: Joint,
    misclosure: Floats,
    options: Options,
    freedom: int,
    observations: int,
    nested: Nesting | None = None,
    start: tuple[int, ...] = (),
) -> Search:
    """Return the steps of the search for several causes.

    Parameters
    ----------
    made : Hypotheses
    joint : Joint
    misclosure : ndarray, shape (n,)
        Minus the whitened residuals.
    options : Options
    freedom : int
        Degrees of freedom of the adjustment.
    observations : int
        How many values were observed.
    nested : Nesting, optional
        Of the joint, where it is at hand.
    start : tuple of int, optional
        Causes that are in the model from the beginning.
    """
    vtpv = float(misclosure @ misclosure)
    steps: list[Step] = _started(made, joint, misclosure, options, freedom, start)
    model: list[int] = list(start) if steps else []
    start = tuple(model)
    while len(steps) < MOST:
        now = view(joint, model, options, vtpv, freedom, nested)
        best = int(now.order.order[0]) if len(now.order.order) else -1
        if best < 0 or not _supported(now, best, vtpv, freedom, options, joint, model):
            return Search(tuple(steps), "explained", start)
        _, taken = joint.statistic([*model, best])
        if freedom - taken < least_freedom(freedom):
            return Search(tuple(steps), "freedom", start)
        if len(model) >= ALWAYS and taken > SHARE * observations:
            return Search(tuple(steps), "share", start)
        after, given_up = _looked_back(joint, [*model, best], options, vtpv, freedom)
        if set(after) == set(model):
            return Search(tuple(steps), "explained", start)
        model = after
        _, taken = joint.statistic(model)
        left = left_over(made, joint, model, misclosure)
        steps.append(_step(now, best, given_up, model, left, freedom - taken))
    return Search(tuple(steps), "steps", start)


def _started(
    made: Hypotheses,
    joint: Joint,
    misclosure: Floats,
    options: Options,
    freedom: int,
    start: tuple[int, ...],
) -> list[Step]:
    """Return a step for each cause of a start; none where they take too much.

    The test of each is beside all others of the start, without which it is hidden.
    """
    vtpv, steps = float(misclosure @ misclosure), []
    for k, cause in enumerate(start):
        model = start[: k + 1]
        _, taken = joint.statistic(model)
        if freedom - taken < least_freedom(freedom):
            return []
        rest = [other for other in start if other != cause]
        now = view(joint, rest, options, vtpv, freedom)
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


def _supported(
    now: View,
    best: int,
    vtpv: float,
    freedom: int,
    options: Options,
    joint: Joint,
    model: Sequence[int],
) -> bool:
    """Return whether a cause is over its limit, and the misfit calls for one.

    That is, the variance factor is still too high, or so large a test is unlikely
    anywhere in the job.
    """
    if not now.basis.test[best] > 1:
        return False
    explained, taken = joint.statistic(model)
    factor = variance_factor_of(vtpv - explained, freedom - taken, options.confidence)
    family = family_of(now.basis.probability[[best]], now.tried)[0]
    return factor.verdict == "fails" or bool(family < 1 - options.confidence)


def _looked_back(
    joint: Joint, model: list[int], options: Options, vtpv: float, freedom: int
) -> tuple[list[int], list[int]]:
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
            model, gone = _tried_again(joint, model, cause, options, vtpv, freedom)
            given_up += gone
        if model == before:
            break
    return model, [cause for cause in given_up if cause not in model]


def _tried_again(
    joint: Joint,
    model: list[int],
    cause: int,
    options: Options,
    vtpv: float,
    freedom: int,
) -> tuple[list[int], list[int]]:
    """Return the model with one of its causes tried beside the rest, and what goes."""
    rest = [other for other in model if other != cause]
    if not rest:
        return model, []
    now = view(joint, rest, options, vtpv, freedom)
    if not now.basis.test[cause] > 1:
        return rest, [cause]
    best = int(now.order.order[0])
    better = best != cause and now.basis.test[best] > now.basis.test[cause]
    if better and cause not in group_of(now.joint, now.order, best):
        return [best if other == cause else other for other in model], [cause]
    return model, []
