"""Where the search starts when faults hide each other: from two causes at once.

The pair that explains most is plain algebra on the least-squares residuals: all pairs
of causes of up to three amounts, and pairs of causes that could only be known from
observations which robust weights find not to fit. Nothing robust enters the result.

What it is worth: on six kinds of planted faults it shows no gain over the plain forward
search. Surveys counted, plain search first, then with this start: pairs of opposite
sign 3 and 3 of 164; random pairs at three times the smallest detectable size 162 and
160; triples 93 and 93; from all pairs 143 and 143. It is kept as a second way to begin,
not as a remedy that is proven.
"""

from itertools import combinations

import numpy as np

from ...networks import Options
from ...networks.covariances import Floats, Ints
from ..adjustment import Adjustment
from ..dense import Singular
from ..judge.limits import b_method
from ..judge.robust import robust_blocks
from ..judge.variance_factor import variance_factor_of
from .beside import Views
from .evaluate import LEFT, Hypotheses, Joint, pairs_alike, pseudo_inverse
from .search import Search, search

CLEARLY = 6.63
"""By how much vᵀPv with the limits of its causes must be less: 1 % of chi-square."""
LIGHT = 0.5
"""Weight under which a block is taken for one that does not fit."""
_LEFT = 0.5
"""Share of what is known of a cause that must come from such blocks."""
_CANDIDATES = 40
_ROWS = 600
_DENSE = 4000
"""Unknowns up to which there is another start: the robust estimate is dense."""
_APART = 0.02
"""1 − ρ² of two causes, below which they are not told apart."""


def searched(
    adjustment: Adjustment, made: Hypotheses, misclosure: Floats, views: Views
) -> Search:
    """Return the search that explains the misfit with least, from either start.

    The plain one, from nothing; where it leaves too much, or took several causes, also
    one from two causes at once. A cause costs what its limit is; another start must be
    clearly the cheaper one.

    Parameters
    ----------
    adjustment : Adjustment
    made : Hypotheses
    misclosure : ndarray, shape (n,)
        Minus the whitened residuals.
    views : Views
        Of these residuals.
    """
    joint, options, freedom = views.joint, views.options, views.freedom
    given = (made, misclosure, adjustment.observations_count, views)
    plain = search(*given)
    large = made.rows.design.shape[1] > _DENSE
    if large or freedom < 2 or not _doubtful(plain, misclosure, options, freedom):
        return plain
    best, least = plain, _cost(made, joint, misclosure, plain.model, options) - CLEARLY
    pairs = best_pair(joint, options), robust_pair(adjustment, made, joint, misclosure)
    for pair in dict.fromkeys(pairs):
        if not pair or set(pair) <= set(plain.model):
            continue
        other = search(*given, start=pair)
        cost = _cost(made, joint, misclosure, other.model, options)
        if other.steps and cost < least:
            best, least = other, cost
    return best


def _doubtful(
    plain: Search, misclosure: Floats, options: Options, freedom: int
) -> bool:
    """Return whether the plain search left too much or needed several causes."""
    if plain.stopped != "explained" or len(plain.model) > 1:
        return True
    vtpv, left = float(misclosure @ misclosure), freedom
    if plain.steps:
        left = plain.steps[-1].degrees_of_freedom
        vtpv = plain.steps[-1].variance_factor * left
    return variance_factor_of(vtpv, left, options.confidence).verdict == "fails"


def _cost(
    made: Hypotheses,
    joint: Joint,
    misclosure: Floats,
    model: tuple[int, ...],
    options: Options,
) -> float:
    """Return vᵀPv that is left and the limit of every cause in the model."""
    left, _ = made.corrected(joint, model, misclosure)
    return float(left @ left) + sum(_limit(joint, i, options) for i in model)


def _limit(joint: Joint, cause: int, options: Options) -> float:
    p = int(joint.first[cause + 1] - joint.first[cause])
    return b_method(options.outlier_alpha, options.power, max(p, 1))[1]


def best_pair(joint: Joint, options: Options) -> tuple[int, ...]:
    """Return the two causes that explain most beyond their limits; empty for none.

    All pairs of causes of one to three amounts, in arrays. Each must be over its limit
    beside the other.

    Parameters
    ----------
    joint : Joint
        With unit blocks.
    options : Options
    """
    widths = np.diff(joint.first)
    best: tuple[int, ...] = ()
    most = 0.0
    for p in (1, 2, 3):
        for q in range(1, p + 1):
            first, second = (
                np.flatnonzero((widths == w) & joint.common) for w in (p, q)
            )
            if not len(first) or not len(second):
                continue
            limits = [
                b_method(options.outlier_alpha, options.power, w)[1] for w in (p, q)
            ]
            gain = _gains(joint, first, second, p, q, limits)
            if gain.max() > most:
                i, j = np.unravel_index(int(gain.argmax()), gain.shape)
                best, most = (int(first[i]), int(second[j])), float(gain.max())
    return best


def _gains(
    joint: Joint, first: Ints, second: Ints, p: int, q: int, limits: list[float]
) -> Floats:
    """Return (k, l) what pairs explain less their limits; −∞ where one is idle.

    T of both = T of the first + what the second adds: (b − Rᵀa)ᵀ (I − RᵀR)⁻¹ (b − Rᵀa).
    """
    at = joint.first[first][:, None] + np.arange(p)
    to = joint.first[second][:, None] + np.arange(q)
    across = joint.matrix[at[:, None, :, None], to[None, :, None, :]]
    one, other = joint.pull[at], joint.pull[to]
    rest = other[None] - np.einsum("klpq,kp->klq", across, one)
    left = np.eye(q) - np.swapaxes(across, 2, 3) @ across
    apart = np.linalg.eigvalsh(left)[..., 0] > _APART
    safe = np.where(apart[..., None, None], left, np.eye(q))
    added = np.einsum(
        "klq,klq->kl", rest, np.linalg.solve(safe, rest[..., None])[..., 0]
    )
    whole = (one**2).sum(axis=1)[:, None] + added
    beside = whole - (other**2).sum(axis=1)[None]
    sound = apart & (added > limits[1]) & (beside > limits[0])
    return np.where(sound, whole - sum(limits), -np.inf)


def robust_pair(
    adjustment: Adjustment, made: Hypotheses, joint: Joint, misclosure: Floats
) -> tuple[int, ...]:
    """Return the two causes that robust weights point at; empty for none.

    Parameters
    ----------
    adjustment : Adjustment
    made : Hypotheses
    joint : Joint
    misclosure : ndarray, shape (n,)
    """
    if made.dropped:
        # Very many causes: the robust estimate is dense.
        return ()
    try:
        rows = robust_blocks(adjustment, misclosure).rows(LIGHT)
    except Singular:
        # So much is of no weight that marks float: that points at no two causes.
        return ()
    if not 0 < len(rows) <= _ROWS:
        return ()
    candidates = _candidates(adjustment, made, joint, rows)
    return _best_of(joint, candidates, adjustment.network.options)


def _best_of(joint: Joint, candidates: list[int], options: Options) -> tuple[int, ...]:
    """Return the two of some causes that explain most beyond their limits."""
    if len(candidates) < 2:
        return ()
    one, other = np.array(list(combinations(candidates, 2)), dtype=np.int64).T
    widths = np.diff(joint.first)
    alone, _ = joint.statistics()
    limit = np.zeros(len(widths))
    limit[candidates] = [_limit(joint, i, options) for i in candidates]
    both, whole = np.zeros(len(one)), np.zeros(len(one), dtype=bool)
    for p, q, some in pairs_alike(widths[one], widths[other]):
        at = joint.first[one[some]][:, None] + np.arange(p)
        to = joint.first[other[some]][:, None] + np.arange(q)
        at = np.concatenate([at, to], axis=1)
        values, ways = np.linalg.eigh(joint.matrix[at[:, :, None], at[:, None, :]])
        left = values > LEFT
        along = np.einsum("nij,ni->nj", ways, joint.pull[at])
        rest = np.where(left, along**2 / np.where(left, values, 1.0), 0.0)
        both[some], whole[some] = rest.sum(axis=1), left.all(axis=1)
    # Each must be over its limit beside the other, and no part of it.
    sound = whole & (both - alone[other] > limit[one])
    sound &= both - alone[one] > limit[other]
    gain = np.where(sound, both - limit[one] - limit[other], 0.0)
    best = int(gain.argmax())
    return (int(one[best]), int(other[best])) if gain[best] > 0 else ()


def _candidates(
    adjustment: Adjustment, made: Hypotheses, joint: Joint, rows: Ints
) -> list[int]:
    """Return causes of which little could be known without some rows."""
    design = made.rows.design[rows]
    gain = adjustment.factor.solve(design.T.toarray())
    checks = np.eye(len(rows)) - np.asarray(design @ gain)
    seen = made.scaled[rows].toarray() - (made.coupling.T @ gain).T
    gone = np.einsum("ir,ij,jr->r", seen, pseudo_inverse(checks), seen)
    widths = np.diff(joint.first)
    total = np.concatenate([[0.0], np.cumsum(gone)])
    share = (total[joint.first[1:]] - total[joint.first[:-1]]) / np.maximum(widths, 1)
    statistic, _ = joint.statistics()
    able = np.flatnonzero((widths > 0) & (share > _LEFT) & joint.common)
    order = able[np.argsort(-statistic[able], kind="stable")]
    return [int(i) for i in order[:_CANDIDATES]]
