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
    before, after = tests_with(adjustment, made, joint, causes, candidates)
    best = max(range(len(after)), key=lambda k: after[k], default=-1)
    if best < 0 or after[best] <= before + 0.01:
        return None
    return Parting(candidates[best], before, after[best])


def tests_with(
    adjustment: Adjustment,
    made: Hypotheses,
    joint: Joint,
    causes: tuple[int, int],
    candidates: Sequence[Candidate],
) -> tuple[float, list[float]]:
    """Return the expected test of the first cause beside the second, now and with each.

    Parameters
    ----------
    adjustment : Adjustment
    made : Hypotheses
    joint : Joint
    causes : tuple of int
        The better supported first.
    candidates : sequence of Candidate
        Observed from set-ups of their own.

    Returns
    -------
    before : float
        √(λ/K) at the cause's estimated size: above 1 it would be told apart.
    after : list of float
        With each candidate observed.
    """
    own = joint.columns(causes)
    first = len(joint.columns(causes[:1]))
    matrix, pull = joint.matrix[np.ix_(own, own)], joint.pull[own[:first]]
    options = adjustment.network.options
    limit = b_method(options.outlier_alpha, options.power, first)[1]
    amount = pseudo_inverse(matrix[:first, :first]) @ pull
    padded = np.vstack([made.spread(own), np.zeros((1, len(own)))])

    def test(matrix: Floats) -> float:
        across = matrix[:first, first:]
        rest = pseudo_inverse(matrix[first:, first:])
        seen = matrix[:first, :first] - across @ rest @ across.T
        return float(np.sqrt(max(float(amount @ seen @ amount), 0.0) / limit))

    more = (_added(adjustment, made, joint, causes, one, padded) for one in candidates)
    return test(matrix), [test(matrix + one) for one in more]


def _added(
    adjustment: Adjustment,
    made: Hypotheses,
    joint: Joint,
    causes: tuple[int, int],
    candidate: Candidate,
    padded: Floats,
) -> Floats:
    """Return what new rows z add to the causes' matrix: zᵀ (I + AQAᵀ)⁻¹ z."""
    white = whitened_rows(adjustment, candidate)
    at = adjustment.columns[list(candidate.marks)]
    flat, columns = white.reshape(len(white), -1), at.ravel()
    blocks = adjustment.factor.blocks(columns, columns)
    inner = np.eye(len(white)) + flat @ blocks @ flat.T
    seen = -(flat @ padded[columns])
    seen += _own_part(made, joint, causes, candidate, white)
    return np.asarray(seen.T @ np.linalg.solve(inner, seen))


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
