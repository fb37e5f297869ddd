"""Which one observation more would tell a cause from its twin."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ...networks.covariances import Floats, Ints
from ..adjustment import Adjustment
from ..judge.limits import b_method
from .evaluate import Hypotheses, Joint, pseudo_inverse
from .fresh import Candidate, whitened_rows


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
    white = whitened_rows(adjustment, candidate)
    at = adjustment.columns[list(candidate.marks)]
    flat, columns = white.reshape(len(white), -1), at.ravel()
    blocks = adjustment.factor.blocks(columns, columns)
    inner = np.eye(len(white)) + flat @ blocks @ flat.T
    own = joint.columns(causes)
    padded = np.vstack([made.spread(own), np.zeros((1, len(own)))])
    seen = -(flat @ padded[columns])
    seen += _own_part(made, joint, causes, candidate, white)
    matrix = joint.matrix.copy()
    matrix[np.ix_(own, own)] += seen.T @ np.linalg.solve(inner, seen)
    return matrix


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
        held = [k for k in cause.known if k in candidate.marks]
        if held and _is_held(made, cause.base):
            letters = ["enu".index(letter) for letter in cause.measure]
            for mark in held:
                slot = candidate.marks.index(mark)
                part -= white[:, slot][:, letters] @ made.roots[number]
        parts.append(part)
    return np.concatenate(parts, axis=1)


def _is_held(made: Hypotheses, base: Ints) -> bool:
    """Return whether a known mark is shifted by letting it go."""
    start = min(made.rows.first_of_role.values())
    return bool((base >= start).all())
