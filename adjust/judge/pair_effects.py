"""What a blunder just too small to be seen does to marks and to pairs of marks."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ...networks.covariances import Bools, Floats, Ints
from ..adjustment import Adjustment
from .external import marks_follow
from .hypotheses import Hypothesis
from .limits import noncentrality
from .unseen import information_of, just_unseen, lost_of

_FOLLOWS = 1e-6
"""A mark follows an unseen shift if it moves by more than this share of it."""
EXACTLY = 4_000_000
"""Blunders times pairs or unknowns, up to which every effect is worked out."""


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
    at_most: Bools
    """(P, 2) whether ``most`` is an upper bound, below the limit, and no more."""


@dataclass(frozen=True, slots=True)
class Bounds:
    """What tells which effects need to be worked out.

    A blunder just too small to be seen moves any function of the unknowns by at most
    its bias-to-noise ratio times the function's sd (Cauchy–Schwarz).
    """

    sd: Floats
    """(P, 2) semi-major axis and height, stated, m."""
    limit: Floats
    """(P, 2) m; inf for none."""


def pair_effects(
    adjustment: Adjustment,
    hypotheses: Sequence[Hypothesis],
    pairs: Ints,
    bounds: Bounds | None = None,
) -> PairEffects:
    """Return the worst effect of one blunder on each pair.

    Parameters
    ----------
    adjustment : Adjustment
    hypotheses : sequence of Hypothesis
        The blunders that are thought of.
    pairs : ndarray of int, shape (P, 2)
        Marks; −1 for the first: the effect on the second alone.
    bounds : Bounds, optional
        In a large job only the effects that may reach the limit are then worked out.
    """
    options = adjustment.network.options
    root = float(np.sqrt(noncentrality(options.outlier_alpha, options.power)))
    most = np.zeros((len(pairs), 2))
    by = np.full((len(pairs), 2), -1, dtype=np.int64)
    unknowns = int(adjustment.columns.max(initial=0)) + 1
    exact = len(hypotheses) * max(len(pairs), unknowns) <= EXACTLY
    small, by_small = most.copy(), by.copy()
    for number, one in enumerate(hypotheses):
        own, at, coupling = information_of(one)
        lost = lost_of(adjustment, at, coupling)
        just, free = just_unseen(own, own - lost, one.noise)
        rows = np.arange(len(pairs))
        if bounds is not None and not exact and one.carried < 0 and not free.size:
            ratio = root * float(np.linalg.norm(just.T @ lost @ just, 2)) ** 0.5
            bound = ratio * bounds.sd
            near = bound > bounds.limit
            _raise(small, by_small, np.where(near, 0.0, bound), number)
            rows = np.flatnonzero(near.any(axis=1))
            if not len(rows):
                continue
        follow = marks_follow(adjustment, one, at, coupling)
        moves = _between(adjustment, follow, pairs[rows])
        effect = _effect(moves, root * just, free)
        larger = effect > most[rows]
        most[rows] = np.where(larger, effect, most[rows])
        by[rows] = np.where(larger, number, by[rows])
    at_most = small > most
    return PairEffects(
        np.where(at_most, small, most), np.where(at_most, by_small, by), at_most
    )


def _raise(most: Floats, by: Ints, effect: Floats, number: int) -> None:
    larger = effect > most
    most[larger] = effect[larger]
    by[larger] = number


def _effect(moves: Floats, just: Floats, free: Floats) -> Floats:
    """Return (P, 2) the most in plan and height; inf where it may be any size."""
    parts = moves[:, :2] @ just, moves[:, 2:] @ just
    effect = np.stack([_stretch(part) for part in parts], axis=1)
    if free.shape[1]:
        follows = np.abs(moves @ (free / np.abs(free).max(axis=0))).max(axis=2)
        effect[(follows[:, :2] > _FOLLOWS).any(axis=1), 0] = np.inf
        effect[follows[:, 2] > _FOLLOWS, 1] = np.inf
    return effect


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
