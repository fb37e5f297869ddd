"""What blunders that just do not show do to marks: few solutions, many marks."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from ...networks.covariances import Floats, Ints
from ..adjustment import Adjustment
from .hypotheses import Hypothesis

NOTHING = 1e-9
"""m: below rounding of a position."""
SOLVED = 200
"""Checked hypotheses whose effects are worked out in a large network."""
_AT_ONCE = 64
"""Columns that are solved for together …"""
_NUMBERS = 1 << 27
"""… with no more numbers than these: 1 GB."""
_MOVES = 1e-6
"""A mark moves if it follows an unseen shift by more than this share of it."""
PLACE = {"east": 0, "north": 1, "up": 2, "value": 0}


@dataclass(frozen=True, slots=True)
class Hidden:
    """What of one blunder does not show."""

    smallest: float
    along: Floats
    bias_to_noise: float
    just: Floats
    """(p, c) half-axes of what is just too small to be seen."""
    free: Floats
    """(p, d) directions that nothing checks."""
    at: Ints
    coupling: Floats
    """AᵀPC, and its columns."""


@dataclass(frozen=True, slots=True)
class Worst:
    """The worst effects alone, of a network with too many of them to keep them all."""

    size: Floats
    """(n, 2) as ``Reliability.worst`` has it; NaN too where it was not worked out."""
    mark: Ints
    blind: Ints
    """(e, 3) hypothesis, mark, part (0 plan, 1 height): what moves by any amount."""
    of_mark: Floats
    """(m, 2) the largest finite effect on each mark of those worked out."""
    by: Ints
    """(m, 2) of which hypothesis; −1 for none."""
    solved: int
    """Hypotheses that were worked out: all that nothing checks, and those with the
    largest bias to noise."""


def worst_of(effect: Floats) -> tuple[Floats, Ints]:
    """Return (n, 2) the largest finite of (n, m, 2) effects, and their marks."""
    sizes = np.where(np.isfinite(effect), effect, -1.0)
    # Of marks that move alike but for rounding, the first.
    mark = np.argmax(sizes.round(9), axis=1)
    most = np.take_along_axis(sizes, mark[:, None], axis=1)[:, 0]
    moved = most > NOTHING
    return np.where(moved, most, np.nan), np.where(moved, mark, -1)


def worth_solving(ratio: Floats, null: Ints) -> Ints:
    """Return what nothing checks, and the hypotheses with the largest bias to noise."""
    order = np.argsort(-np.where(null > 0, -1.0, ratio), kind="stable")
    checked = order[null[order] == 0]
    return np.concatenate([np.flatnonzero(null > 0), checked[:SOLVED]])


def worst_alone(
    adjustment: Adjustment,
    hypotheses: Sequence[Hypothesis],
    made: Sequence[Hidden],
    chosen: Ints,
) -> Worst:
    """Return the worst effects of the chosen hypotheses, and none of the others."""
    count, marks = len(made), len(adjustment.network.marks)
    size, mark = np.full((count, 2), np.nan), np.full((count, 2), -1)
    of_mark, by = np.zeros((marks, 2)), np.full((marks, 2), -1)
    blind = [np.zeros((0, 3), dtype=np.int64)]
    for i, effect in effects(adjustment, hypotheses, made, chosen):
        (size[i],), (mark[i],) = worst_of(effect[None])
        moved, part = np.nonzero(np.isinf(effect))
        blind.append(np.stack([np.full(len(moved), i), moved, part], axis=1))
        larger = np.isfinite(effect) & (effect > of_mark + NOTHING)
        of_mark[larger], by[larger] = effect[larger], i
    return Worst(size, mark, np.concatenate(blind), of_mark, by, len(chosen))


def effects(
    adjustment: Adjustment,
    hypotheses: Sequence[Hypothesis],
    made: Sequence[Hidden],
    chosen: Ints,
) -> Iterator[tuple[int, Floats]]:
    """Yield the effects (m, 2) of some hypotheses, several solved together."""
    waiting: list[int] = []
    wide = 0
    most = max(1, min(_AT_ONCE, _NUMBERS // max(1, int(adjustment.columns.max()))))
    for i in chosen.tolist():
        if wide and wide + made[i].coupling.shape[1] > most:
            yield from _solved(adjustment, hypotheses, made, waiting)
            waiting, wide = [], 0
        waiting.append(i)
        wide += made[i].coupling.shape[1]
    yield from _solved(adjustment, hypotheses, made, waiting)


def _solved(
    adjustment: Adjustment,
    hypotheses: Sequence[Hypothesis],
    made: Sequence[Hidden],
    some: Sequence[int],
) -> Iterator[tuple[int, Floats]]:
    if not some:
        return
    widths = [made[i].coupling.shape[1] for i in some]
    first = np.cumsum([0, *widths]).tolist()
    right = np.zeros((int(adjustment.columns.max()) + 2, first[-1]))
    for i, start, end in zip(some, first, first[1:], strict=False):
        np.add.at(right[:, start:end], made[i].at, made[i].coupling)
    moved = np.zeros_like(right)
    moved[:-1] = adjustment.factor.solve(right[:-1])
    marks = adjustment.columns[: len(adjustment.network.marks)]
    for i, start, end in zip(some, first, first[1:], strict=False):
        moves = carried(hypotheses[i], moved[marks, start:end])
        yield i, _effect(made[i], moves)


def _effect(hidden: Hidden, moves: Floats) -> Floats:
    """Return (m, 2) effects on marks that follow a unit shift by moves (m, 3, p)."""
    just, free = hidden.just, hidden.free
    effect = np.stack([_largest(moves[:, :2] @ just), _largest(moves[:, 2:] @ just)], 1)
    if free.shape[1]:
        # An unseen direction of unit length: does a mark follow it?
        unit = free / np.abs(free).max(axis=0)
        follows = np.abs(moves @ unit).max(axis=2) > _MOVES
        effect[follows[:, :2].any(axis=1), 0] = np.inf
        effect[follows[:, 2], 1] = np.inf
    return effect


def carried(hypothesis: Hypothesis, moves: Floats) -> Floats:
    """Return (m, 3, p) moves with that of a held mark which is itself booked wrong."""
    if hypothesis.carried >= 0:
        for p, axis in enumerate(hypothesis.axes):
            moves[hypothesis.carried, PLACE[axis], p] += 1.0
    return moves


def _largest(moves: Floats) -> Floats:
    """Return the largest stretch of each of n matrices (n, r, c)."""
    if not moves.shape[2]:
        return np.zeros(len(moves))
    squares = moves @ np.swapaxes(moves, 1, 2)
    most = np.linalg.eigvalsh(squares)[:, -1]
    return np.asarray(np.sqrt(np.maximum(most, 0.0)))
