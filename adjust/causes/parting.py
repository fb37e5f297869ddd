"""Which one observation more would tell a cause from its twin."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ...networks.covariances import Floats, Ints
from ..adjustment import Adjustment
from ..judge.limits import b_method
from .evaluate import Hypotheses, Joint, pseudo_inverse

SET_UP = (0.001, 0.0015)
"""m; centring and height of a fresh tripod at each end (common practice)."""


@dataclass(frozen=True, slots=True)
class Candidate:
    """An observation that could be made: a vector, or a levelled run."""

    name: str
    """Of the proposal; empty where nobody proposed it."""
    kind: str
    """``baseline`` or ``levelled run``."""
    start: int
    """Number of the mark."""
    end: int
    sd_plan: float
    """m, per axis, without its set-ups."""
    sd_height: float
    minutes: float = float("nan")


@dataclass(frozen=True, slots=True)
class Parting:
    """What a candidate does to two causes that cannot be told apart."""

    candidate: Candidate
    before: float
    """Test of the first cause beside the second, as expected at its estimated size."""
    after: float
    """The same with the candidate observed."""


def best_parting(
    adjustment: Adjustment,
    made: Hypotheses,
    joint: Joint,
    causes: tuple[int, int],
    candidates: Sequence[Candidate],
) -> Parting | None:
    """Return the candidate that parts two causes best; None where none helps.

    Parameters
    ----------
    adjustment : Adjustment
    made : Hypotheses
    joint : Joint
    causes : tuple of int
        The better supported first.
    candidates : sequence of Candidate
        Observed from set-ups of their own.
    """
    before = _test(adjustment, joint, causes, joint.matrix)
    best = None
    for candidate in candidates:
        matrix = _with(adjustment, made, joint, causes, candidate)
        after = _test(adjustment, joint, causes, matrix)
        if after > before + 0.01 and (best is None or after > best.after):
            best = Parting(candidate, before, after)
    return best


def candidates_near(
    adjustment: Adjustment, marks: Sequence[int], most: int = 12
) -> list[Candidate]:
    """Return fresh vectors, or runs, from some marks to their nearest neighbours.

    As good as the middle one of those in the network; none where it has neither.

    Parameters
    ----------
    adjustment : Adjustment
    marks : sequence of int
    most : int
        Neighbours of each mark.
    """
    kind, plan, height = _usual(adjustment)
    if not kind:
        return []
    count = len(adjustment.network.marks)
    places = adjustment.nodes.xyz[:count]
    made = []
    for mark in dict.fromkeys(marks):
        far = np.linalg.norm(places - places[mark], axis=1)
        for other in np.argsort(far, kind="stable")[1 : most + 1].tolist():
            made.append(Candidate("", kind, mark, other, plan, height))
    return made


def _usual(adjustment: Adjustment) -> tuple[str, float, float]:
    """Return kind and middle sd in plan and height of what the network has, m."""
    kinds = {some.kind: some for some in adjustment.equations}
    if "baseline" in kinds:
        some = kinds["baseline"]
        variances = [
            np.einsum("cqq->cq", batch.matrix).reshape(*batch.members.shape, 3)
            for batch in some.covariances
        ]
        middle = np.median(np.concatenate([v.reshape(-1, 3) for v in variances]), 0)
        sd = float(np.sqrt(np.mean(middle)))
        return "baseline", sd, sd
    if "level difference" in kinds and adjustment.network.levels is not None:
        used = kinds["level difference"].used
        middle = np.median(adjustment.network.levels.sd[used])
        return "levelled run", float("nan"), float(middle)
    return "", float("nan"), float("nan")


def usual_sds(adjustment: Adjustment) -> tuple[float, float]:
    """Return the middle sd in plan and height of what the network has, m; NaN."""
    _, plan, height = _usual(adjustment)
    return plan, height


def _test(
    adjustment: Adjustment, joint: Joint, causes: tuple[int, int], matrix: Floats
) -> float:
    """Return √(λ/K) of the first cause beside the second, at its estimated size."""
    i, j = joint.columns(causes[:1]), joint.columns(causes[1:])
    across = matrix[np.ix_(i, j)]
    own = (
        matrix[np.ix_(i, i)] - across @ pseudo_inverse(matrix[np.ix_(j, j)]) @ across.T
    )
    amount = pseudo_inverse(joint.matrix[np.ix_(i, i)]) @ joint.pull[i]
    options = adjustment.network.options
    limit = b_method(options.outlier_alpha, options.power, len(i))[1]
    return float(np.sqrt(max(float(amount @ own @ amount), 0.0) / limit))


def _with(
    adjustment: Adjustment,
    made: Hypotheses,
    joint: Joint,
    causes: tuple[int, int],
    candidate: Candidate,
) -> Floats:
    """Return the joint matrix with the new rows z added: M + zᵀ (I + AQAᵀ)⁻¹ z."""
    partial, sd = _rows(adjustment, candidate)
    at = adjustment.columns[[candidate.start, candidate.end]]
    white = partial / sd[:, None, None]
    flat, columns = white.reshape(len(sd), -1), at.ravel()
    inner = np.eye(len(sd)) + flat @ adjustment.factor.blocks(columns, columns) @ flat.T
    own = joint.columns(causes)
    padded = np.vstack([made.spread[:, own], np.zeros((1, len(own)))])
    seen = -(flat @ padded[columns])
    seen += _own_part(made, joint, causes, candidate, white)
    matrix = joint.matrix.copy()
    matrix[np.ix_(own, own)] += seen.T @ np.linalg.solve(inner, seen)
    return matrix


def _rows(adjustment: Adjustment, candidate: Candidate) -> tuple[Floats, Floats]:
    """Return partials (r, 2, 3) by start and end, and the sd of the rows, m."""
    axes = adjustment.nodes.axes
    turned = axes[candidate.start] @ axes[candidate.end].T
    partial = np.stack([-np.eye(3), turned], axis=1)
    centring, height = SET_UP
    plan = float(np.hypot(candidate.sd_plan, np.sqrt(2) * centring))
    up = float(np.hypot(candidate.sd_height, np.sqrt(2) * height))
    if candidate.kind == "levelled run":
        return partial[2:], np.array([candidate.sd_height])
    return partial, np.array([plan, plan, up])


def _own_part(
    made: Hypotheses,
    joint: Joint,
    causes: tuple[int, int],
    candidate: Candidate,
    white: Floats,
) -> Floats:
    """Return what the causes do to the new rows themselves: only known marks do."""
    parts = []
    for number in causes:
        cause, width = made.causes[number], len(joint.columns([number]))
        part = np.zeros((len(white), width))
        held = [k for k in cause.known if k in (candidate.start, candidate.end)]
        if held and _is_held(made, cause.base):
            letters = ["enu".index(letter) for letter in cause.measure]
            for mark in held:
                slot = int(mark == candidate.end)
                part -= white[:, slot][:, letters] @ made.roots[number]
        parts.append(part)
    return np.concatenate(parts, axis=1)


def _is_held(made: Hypotheses, base: Ints) -> bool:
    """Return whether a known mark is shifted by letting it go."""
    start = min(made.rows.first_of_role.values())
    return bool((base >= start).all())
