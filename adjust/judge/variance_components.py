"""Variance components: what the residuals say of each group's standard deviations.

Restricted maximum likelihood (see ``component_estimate``). Nothing is applied: a
multiplier is a decision.
"""

from dataclasses import dataclass

import numpy as np
from scipy import special

from ...networks.covariances import Bools, Floats, Ints
from ..adjustment import Adjustment
from .component_estimate import SETTLED, Estimated, Stack, State, estimated, state_of
from .components import Component, labelled, stacks_of
from .limits import chi_square_quantile

FLOOR = 6.0
"""Degrees of freedom below which a component cannot be judged: of fewer, s0 says little
(common practice, no source)."""

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
class VarianceComponents:
    """K components, a row each: multipliers of stated standard deviations."""

    component: tuple[Component, ...]
    rows: Ints
    """(K,) values observed."""
    redundancy: Floats
    """(K,) trace of QvP over its rows, as stated."""
    degrees_of_freedom: Floats
    """(K,) of the estimate, 2 / var(log f²); at most the redundancy. Where the floor is
    not reached, what there is."""
    multiplier: Floats
    """(K,) f of the sds; NaN where it cannot be judged."""
    lower: Floats
    """(K,) of f at the job's confidence, by chi-square."""
    upper: Floats
    twins: tuple[tuple[int, ...], ...]
    """(K,) components that, estimated in place of one, explain the residuals about as
    well: which of them is to blame cannot be told."""
    verdict: tuple[str, ...]
    """``meets``; ``query`` where 1 lies outside limits that hold for all components at
    once; ``unchecked`` where it cannot be judged."""
    floor: float
    settled: bool
    steps: int

    def __len__(self) -> int:
        return len(self.component)

    @property
    def judged(self) -> Bools:
        """(K,) whether there are degrees of freedom enough."""
        return np.isfinite(self.multiplier)

    @property
    def standing_out(self) -> tuple[int, ...]:
        """Places of the components that differ from what was stated, largest first."""
        out = [k for k, verdict in enumerate(self.verdict) if verdict == "query"]
        return tuple(sorted(out, key=lambda k: -abs(np.log(self.multiplier[k]))))


def variance_components(
    adjustment: Adjustment, *, shifts: Floats | None = None, floor: float = FLOOR
) -> VarianceComponents:
    """Return the multiplier of every group's standard deviations, with its limits.

    Plan and height of vectors, positions, set-ups and weighted known marks apart;
    priors of parameters stay as stated, and so does what cannot be judged.

    Parameters
    ----------
    adjustment : Adjustment
    shifts : ndarray, shape (n, p), optional
        Whitened columns of causes that are taken as true, so that a blunder does not
        pass for a large standard deviation.
    floor : float, optional
        Degrees of freedom below which a component cannot be judged.

    Returns
    -------
    VarianceComponents
    """
    component, labels = labelled(adjustment)
    stacks = stacks_of(adjustment, labels, shifts)
    unknowns = int(adjustment.columns.max(initial=-1)) + 1
    basis = adjustment.factor.basis
    if shifts is not None:
        unknowns += shifts.shape[1]
        basis = _with_shifts(basis, shifts.shape[1])
    count = len(component)
    processed = np.array([one.kind != "set-up" for one in component], dtype=bool)
    stated = state_of(stacks, np.zeros(count), unknowns, basis)
    made, freedom, twins = _judged(
        _Problem(stacks, unknowns, basis, floor, processed), stated
    )
    values = [labels[kind].ravel() for kind in labels]
    rows = np.bincount(
        np.concatenate([np.zeros(0, np.int64), *(v[v >= 0] for v in values)]),
        minlength=count,
    )
    return _told(
        adjustment, component, rows, stated.redundancy, made, freedom, floor, twins
    )


def _with_shifts(basis: Floats, more: int) -> Floats:
    """Return the basis with unknowns that no condition binds."""
    if not basis.size:
        return basis
    u, y = basis.shape
    whole = np.zeros((u + more, y + more))
    whole[:u, :y] = basis
    whole[u:, y:] = np.eye(more)
    return whole


@dataclass(frozen=True, slots=True)
class _Problem:
    """Rows and unknowns, and what stays as stated."""

    stacks: list[Stack]
    unknowns: int
    basis: Floats
    floor: float
    processed: Bools
    """(K,) whether a component is of observations, not of set-ups."""

    def estimate(
        self, asked: Bools, start: Floats | None = None
    ) -> tuple[Estimated, Floats]:
        """Return the multipliers of some components, and degrees of freedom."""
        made = estimated(self.stacks, asked, self.unknowns, self.basis, start)
        return made, _freedom(made.state, asked)

    def roughly(self, asked: Bools, start: Floats) -> tuple[Estimated, Floats]:
        """Return the same to a thousandth, or what a few steps came to."""
        made = estimated(
            self.stacks, asked, self.unknowns, self.basis, start, _ROUGH, _FEW
        )
        return made, _freedom(made.state, asked)


def _judged(problem: _Problem, stated: State) -> tuple[Estimated, Floats, Pairs]:
    """Return the estimate without components that have too little to stand on.

    First by what residuals can tell of each beside the others, if all is as stated:
    of two that can hardly be told apart the one that is worse checked stays as stated.
    Then by what the estimate itself leaves.
    """
    floor = problem.floor
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
    found = _improved(problem, stated, _Kept(made, freedom, asked))
    found, twins = _with_twins(problem, stated, found)
    freedom = found.freedom * found.made.settled
    had = np.minimum(had, floor - _LESS)
    return found.made, np.where(found.asked, freedom, had), twins


@dataclass(frozen=True, slots=True)
class _Kept:
    """An estimate, its degrees of freedom, and which components are in it."""

    made: Estimated
    freedom: Floats
    asked: Bools


def _improved(problem: _Problem, stated: State, kept: _Kept) -> _Kept:
    """Return the estimate with components added or exchanged that explain far better.

    Vectors stated far too good leave little to tell them by, beside their set-ups:
    which of the two is to blame, the likelihood says, if it says it clearly (1 %).
    """
    clear = chi_square_quantile(_CLEAR, 1)
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


def _tried(problem: _Problem, kept: _Kept, asked: Bools) -> _Kept | None:
    """Return a rough estimate; None where a component has too little to stand on."""
    start = np.where(asked, _near(kept.made), 0.0)
    made, freedom = problem.roughly(asked, start)
    if not made.settled or (asked & (freedom < problem.floor)).any():
        return None
    return _Kept(made, freedom, asked)


def _with_twins(problem: _Problem, stated: State, kept: _Kept) -> tuple[_Kept, Pairs]:
    """Return the estimate, and pairs of which either explains about as well.

    Of such twins, set-ups are believed before what a processor states of its vectors
    (common practice: it states too good).
    """
    clear, found = chi_square_quantile(_CLEAR, 1), []
    for mine, other in _alike(stated, kept):
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


def _told(
    adjustment: Adjustment,
    component: tuple[Component, ...],
    rows: Ints,
    redundancy: Floats,
    made: Estimated,
    freedom: Floats,
    floor: float,
    twins: Pairs,
) -> VarianceComponents:
    confidence, kept = adjustment.network.options.confidence, freedom >= floor
    variance = np.where(kept, np.exp(made.log_variance), np.nan)
    lower, upper = _limits(variance, freedom, confidence)
    # As many limits as there are components: all hold at once (Šidák).
    of_all = confidence ** (1 / max(int(kept.sum()), 1))
    low, high = _limits(variance, freedom, of_all)
    out = kept & ((low > 1) | (high < 1))
    verdict = np.where(out, "query", np.where(kept, "meets", "unchecked"))
    return VarianceComponents(
        component,
        rows,
        redundancy,
        freedom,
        np.sqrt(variance),
        lower,
        upper,
        tuple(
            tuple(other for mine, other in twins if mine == k)
            for k in range(len(component))
        ),
        tuple(str(word) for word in verdict),
        floor,
        made.settled,
        made.steps,
    )


def _limits(
    variance: Floats, freedom: Floats, confidence: float
) -> tuple[Floats, Floats]:
    """Return the limits of f: ν s²/σ² is chi-square on ν degrees of freedom."""
    tail, dof = (1 - confidence) / 2, np.maximum(freedom, 1e-9)
    high = special.chdtri(dof, tail)
    low = special.chdtri(dof, 1 - tail)
    return np.sqrt(variance * dof / high), np.sqrt(variance * dof / low)
