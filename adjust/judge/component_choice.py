"""Which variance components can be estimated beside which.

Too few observations, or too much alike: then a component stays as it was stated. Of two
that look alike the likelihood says which is to blame, if it says it clearly.
"""

from dataclasses import dataclass

import numpy as np

from ...networks.covariances import Bools, Floats
from .component_estimate import Estimated, estimated
from .component_state import State, System
from .limits import chi_square_quantile

_LESS = 1e-9
_FAR = 5.0
"""log f² from which the next estimate does not start."""
_ROUGH, _FEW = 1e-3, 12
_SEEMS = 1.645
"""Of its own sd; nearer to 1 a component is not suspected (10 %)."""
_CLEAR = 0.99
_LOOKS = 0.5
"""Correlation of what residuals know of two components, from which they are tried in
each other's place."""

Pairs = list[tuple[int, int]]


@dataclass(frozen=True, slots=True)
class Problem:
    """Rows and unknowns, and what stays as stated."""

    system: System
    stated: State
    """With all as stated."""
    floor: float
    processed: Bools
    """(K,) whether a component is of observations, not of set-ups."""

    def estimate(
        self, asked: Bools, start: Floats | None = None
    ) -> tuple[Estimated, Floats]:
        """Return the multipliers of some components, and degrees of freedom."""
        made = estimated(self.system, asked, self.stated, start)
        return made, _freedom(made.state, asked)

    def roughly(self, asked: Bools, start: Floats) -> tuple[Estimated, Floats]:
        """Return the same to a thousandth, or what a few steps came to."""
        made = estimated(self.system, asked, self.stated, start, _ROUGH, _FEW)
        return made, _freedom(made.state, asked)


def judged_components(problem: Problem) -> tuple[Estimated, Floats, Pairs]:
    """Return the estimate without components that have too little to stand on.

    First by what residuals can tell of each beside the others, if all is as stated:
    of two that can hardly be told apart the one that is worse checked stays as stated.
    Then by what the estimate itself leaves.
    """
    floor, stated = problem.floor, problem.stated
    had = np.minimum(stated.redundancy, floor - _LESS)
    asked = stated.redundancy >= floor
    freedom = _freedom(stated, asked)
    while (asked & (freedom < floor)).any():
        poor = asked & (freedom < floor)
        least = int(np.argmin(np.where(poor, stated.redundancy, np.inf)))
        asked[least], had[least] = False, freedom[least]
        freedom = _freedom(stated, asked)
    made, freedom = problem.estimate(asked)
    while (asked & (freedom < floor)).any():
        least = int(np.argmin(np.where(asked, freedom, np.inf)))
        asked[least], had[least] = False, freedom[least]
        made, freedom = problem.estimate(asked, _near(made))
    found = _improved(problem, _Kept(made, freedom, asked))
    found, twins = _with_twins(problem, found)
    freedom = found.freedom * found.made.settled
    had = np.minimum(had, floor - _LESS)
    return found.made, np.where(found.asked, freedom, had), twins


@dataclass(frozen=True, slots=True)
class _Kept:
    """An estimate, its degrees of freedom, and which components are in it."""

    made: Estimated
    freedom: Floats
    asked: Bools


def _improved(problem: Problem, kept: _Kept) -> _Kept:
    """Return the estimate with components added or exchanged that explain far better.

    Vectors stated far too good leave little to tell them by, beside their set-ups:
    which of the two is to blame, the likelihood says, if it says it clearly (1 %).
    """
    clear, stated = chi_square_quantile(_CLEAR, 1), problem.stated
    for _ in range(len(kept.asked)):
        tried = [
            one
            for asked in [*_more(stated, kept, clear), *_instead(stated, kept)]
            if (one := _tried(problem, kept, asked)) is not None
        ]
        best = min(tried, key=lambda one: one.made.state.criterion, default=None)
        if best is None:
            return kept
        gain = kept.made.state.criterion - best.made.state.criterion
        if not gain > clear:
            return kept
        made, freedom = problem.estimate(best.asked, best.made.log_variance)
        kept = _Kept(made, freedom, best.asked)
    return kept


def _more(stated: State, kept: _Kept, clear: float) -> list[Bools]:
    """Return what is estimated with one component more that promises a gain.

    By its score: what the residuals would have it changed by, against their own say.
    """
    state, at = kept.made.state, np.flatnonzero(kept.asked)
    found = []
    for k in np.flatnonzero(~kept.asked & (stated.redundancy > 1)).tolist():
        across = state.information[k, at]
        inside = state.information[np.ix_(at, at)]
        own = state.information[k, k] - across @ np.linalg.pinv(inside) @ across
        score = (state.square_sum[k] - state.redundancy[k]) / 2
        if own > 0 and score**2 > own * clear / 2:
            asked = kept.asked.copy()
            asked[k] = True
            found.append(asked)
    return found


def _instead(stated: State, kept: _Kept) -> list[Bools]:
    """Return what is estimated with one component in the place of one like it."""
    found = []
    for mine, other in _alike(stated, kept):
        instead = kept.asked.copy()
        instead[mine], instead[other] = False, True
        found.append(instead)
    return found


def _tried(problem: Problem, kept: _Kept, asked: Bools) -> _Kept | None:
    """Return a rough estimate; None where a component has too little to stand on."""
    start = np.where(asked, _near(kept.made), 0.0)
    made, freedom = problem.roughly(asked, start)
    if not made.settled or (asked & (freedom < problem.floor)).any():
        return None
    return _Kept(made, freedom, asked)


def _with_twins(problem: Problem, kept: _Kept) -> tuple[_Kept, Pairs]:
    """Return the estimate, and pairs of which either explains about as well.

    Of such twins, set-ups are believed before what a processor states of its vectors
    (common practice: it states too good).
    """
    clear, found = chi_square_quantile(_CLEAR, 1), []
    for mine, other in _alike(problem.stated, kept):
        if not kept.asked[mine] or kept.asked[other]:
            continue
        instead = kept.asked.copy()
        instead[mine], instead[other] = False, True
        one = _tried(problem, kept, instead)
        if one is None or one.made.state.criterion - kept.made.state.criterion > clear:
            continue
        if problem.processed[other] and not problem.processed[mine]:
            kept = _Kept(*problem.estimate(instead, one.made.log_variance), instead)
            mine, other = other, mine
        found.append((mine, other))
    return kept, [pair for pair in found if kept.asked[pair[0]]]


def _alike(stated: State, kept: _Kept) -> Pairs:
    """Return pairs of a component that seems to differ from 1, and one much like it."""
    own = np.sqrt(np.maximum(np.diagonal(stated.information), 1e-300))
    alike = stated.information / own / own[:, None] > _LOOKS
    able = ~kept.asked & (stated.redundancy > 1)
    off = np.abs(kept.made.log_variance) * np.sqrt(kept.freedom / 2)
    first, second = np.nonzero(alike & (kept.asked & (off > _SEEMS))[:, None] & able)
    return list(zip(first.tolist(), second.tolist(), strict=True))


def _near(made: Estimated) -> Floats:
    """Return where the next estimate starts: not from what ran away."""
    here: Floats = made.log_variance
    return np.asarray(np.where(np.abs(here) < _FAR, here, 0.0))


def _freedom(state: State, asked: Bools) -> Floats:
    """Return 2 / var(log f²) of each estimated component, else 0."""
    freedom = np.zeros(len(asked))
    at = np.flatnonzero(asked)
    if not len(at):
        return freedom
    values, ways = np.linalg.eigh(state.information[np.ix_(at, at)])
    sound = np.maximum(values, 1e-9 * max(values.max(), 1e-300))
    freedom[at] = 2 / ((ways**2) / sound).sum(axis=1)
    return freedom
