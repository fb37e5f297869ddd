"""Which of very many candidates in a large network get a full look."""

from collections.abc import Sequence

import numpy as np

from ...networks.covariances import Bools, Floats
from ..adjustment import Adjustment
from ..judge.hypotheses import Hypothesis
from .observable import Observable
from .plan import SCREENED, TOUCHES
from .present import moved_by
from .screen_sparse import screened_sparse
from .standing import unchecked
from .state import State

_VALUES = 48_000_000
"""How blunders move kept marks, that many figures at most: 400 MB."""
_LEAST = 40
"""Marks that are kept in any case."""


def shortlisted(
    adjustment: Adjustment,
    now: State,
    candidates: Sequence[Observable],
    first: Bools,
) -> Bools:
    """Return which candidates get a full look, (k,).

    Those that come first in any case, then half of the room for those that gain most
    in precision, the rest for those that see what nothing checks, and others by their
    gain. There is room for so many marks as a state can keep of so large a network.

    Parameters
    ----------
    adjustment : Adjustment
        Minimal or constrained.
    now : State
        Its pairs and blunders; it need not keep a mark.
    candidates : sequence of Observable
    first : ndarray of bool, shape (k,)
        What somebody has proposed.
    """
    gain = screened_sparse(adjustment, now.ends, now.limit, now.multipliers, candidates)
    ranked = np.argsort(-gain, kind="stable")
    ranked = np.concatenate([ranked[first[ranked]], ranked[~first[ranked]]])
    blind = [now.hypotheses[k] for k in np.flatnonzero(unchecked(now.share)).tolist()]
    sees = _touching(adjustment, blind, candidates)
    most = max(_LEAST, _VALUES // (9 * max(len(now.hypotheses) + len(now.ends), 1)))
    made = np.zeros(len(candidates), dtype=bool)
    marks: set[int] = set()
    for some, share in ((ranked, 0.5), (ranked[sees[ranked]], 1.0), (ranked, 1.0)):
        for k in some.tolist():
            wide = marks | set(candidates[k].marks)
            if len(wide) > share * most or made.sum() >= share * SCREENED:
                break
            made[k], marks = True, wide
    return made


def _touching(
    adjustment: Adjustment,
    blind: Sequence[Hypothesis],
    candidates: Sequence[Observable],
) -> Bools:
    """Return which candidates see a blunder that nothing checks, (k,)."""
    made = np.zeros(len(candidates), dtype=bool)
    shapes: dict[tuple[int, int], list[int]] = {}
    for k, one in enumerate(candidates):
        shapes.setdefault((len(one.marks), len(one.design)), []).append(k)
    for moves in moved_by(adjustment, blind):
        for rows in shapes.values():
            some = [candidates[k] for k in rows]
            at = np.array([one.marks for one in some])
            there: Floats = moves[at].reshape(*at.shape[:1], -1, moves.shape[2])
            seen = np.array([one.design for one in some]) @ there
            made[rows] |= (np.abs(seen) > TOUCHES).any(axis=(1, 2))
    return made
