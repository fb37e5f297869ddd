"""What a blunder just too small to be seen does to marks and to pairs of marks."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ...networks.covariances import Floats, Ints
from ..adjustment import Adjustment
from .external import information_of, just_unseen, lost_of, marks_follow
from .hypotheses import Hypothesis
from .limits import noncentrality

_FOLLOWS = 1e-6
"""A mark follows an unseen shift if it moves by more than this share of it."""


@dataclass(frozen=True, slots=True)
class PairEffects:
    """The most by which one unseen blunder moves P pairs, plan and height, m.

    A column for plan and one for height; inf where a blunder of any size goes unseen
    and moves the pair.
    """

    most: Floats
    """(P, 2)"""
    by: Ints
    """(P, 2) the hypothesis that does it; −1 for none."""


def pair_effects(
    adjustment: Adjustment, hypotheses: Sequence[Hypothesis], pairs: Ints
) -> PairEffects:
    """Return the worst effect of one blunder on each pair.

    Parameters
    ----------
    adjustment : Adjustment
    hypotheses : sequence of Hypothesis
        The blunders that are thought of.
    pairs : ndarray of int, shape (P, 2)
        Marks; −1 for the first: the effect on the second alone.
    """
    options = adjustment.network.options
    root = np.sqrt(noncentrality(options.outlier_alpha, options.power))
    most = np.zeros((len(pairs), 2))
    by = np.full((len(pairs), 2), -1, dtype=np.int64)
    for number, one in enumerate(hypotheses):
        own, at, coupling = information_of(one)
        lost = lost_of(adjustment, at, coupling)
        just, free = just_unseen(own, own - lost, one.noise)
        moves = _between(adjustment, marks_follow(adjustment, one, at, coupling), pairs)
        parts = moves[:, :2] @ just, moves[:, 2:] @ just
        effect = np.stack([_stretch(part) for part in parts], axis=1)
        effect *= root
        if free.shape[1]:
            follows = np.abs(moves @ (free / np.abs(free).max(axis=0))).max(axis=2)
            effect[(follows[:, :2] > _FOLLOWS).any(axis=1), 0] = np.inf
            effect[follows[:, 2] > _FOLLOWS, 1] = np.inf
        larger = effect > most
        most, by = np.where(larger, effect, most), np.where(larger, number, by)
    return PairEffects(most, by)


def _between(adjustment: Adjustment, moves: Floats, pairs: Ints) -> Floats:
    """Return (P, 3, p) moves of the second mark less those of the first, there."""
    axes = adjustment.nodes.axes
    first, second = pairs[:, 0], pairs[:, 1]
    turn = axes[first] @ np.swapaxes(axes[second], 1, 2)
    between = turn @ moves[second] - moves[first]
    alone = first < 0
    between[alone] = moves[second[alone]]
    return np.asarray(between)


def _stretch(moves: Floats) -> Floats:
    """Return the largest singular value of each of P matrices (P, r, c)."""
    if not moves.shape[2]:
        return np.zeros(len(moves))
    squares = moves @ np.swapaxes(moves, 1, 2)
    most = np.linalg.eigvalsh(squares)[:, -1]
    return np.asarray(np.sqrt(np.maximum(most, 0.0)))
