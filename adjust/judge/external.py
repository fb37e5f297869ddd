"""Reliability: the smallest blunder that shows, and what a smaller one could do.

Of p components, M = CᵀPQvPC, ∇ᵀM∇ = λ0 is the ellipsoid of blunders that are just
not seen (Baarda 1968). A mark k moves by B∇, B = Q_k AᵀPC; the worst over the ellipsoid
is √(λ0 · largest eigenvalue of M⁻¹BᵀB), which is not in the direction of the largest
∇. The bias-to-noise ratio √(λ0 · largest eigenvalue of M⁻¹(CᵀPC − M)) is the same for
the network as a whole, whatever its datum.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from ...networks.covariances import Bools, Floats, Ints
from ..adjustment import Adjustment
from ..one_thread import one_thread
from .blind import Blind
from .effects import (
    Hidden,
    Worst,
    carried,
    effects,
    worst_alone,
    worst_of,
    worth_solving,
)
from .hypotheses import Hypothesis
from .limits import noncentrality
from .unseen import hidden_of

_KEPT = 1 << 21
"""Effects on marks that are kept; of more, the worst alone."""
_LEAST, _SOLVED = 50, 1_500_000_000
"""What nothing checks is followed to the marks for so many at least, and for more as
long as hypotheses times unknowns are fewer than this: some minutes."""


@dataclass(frozen=True)
class Reliability:
    """What n possible blunders could do unseen, a row each; m marks."""

    hypotheses: tuple[Hypothesis, ...]
    smallest_detectable: Floats
    """(n,) in the direction that hides best, unit of the hypothesis; NaN where
    nothing checks some direction."""
    along: Floats
    """(n, 3) along east, north, up; the value of a reading in the first place; NaN
    for the others, and where a direction is unchecked."""
    bias_to_noise: Floats
    """(n,) √λ̄; inf where unchecked. No mark moves, unseen, by more than this times its
    own standard deviation (Cauchy and Schwarz)."""
    effect: Floats
    """(n, m, 2) the most by which a blunder just too small to be seen moves a mark in
    plan and in height, m; inf where a blunder of any size goes unseen and moves it.
    Empty where ``few`` is not None."""
    unchecked: Bools
    null_count: Ints
    """(n,) in how many of the p directions nothing checks it."""
    few: Worst | None = None
    """Of a large network."""
    passed_over: int = 0
    """What nothing may check, and was not looked at, or not followed to the marks."""

    def worst(self, part: int) -> tuple[Floats, Ints]:
        """Return (n,) the largest finite effect and its mark.

        In plan (part 0) or height (1), m; NaN and −1 where no mark is moved by a
        finite amount.
        """
        size, mark = self._worst
        return size[:, part], mark[:, part]

    @cached_property
    def _worst(self) -> tuple[Floats, Ints]:
        if self.few is not None:
            return self.few.size, self.few.mark
        return worst_of(self.effect)

    def unlimited(self, row: int) -> Ints:
        """Return the marks that an unseen blunder of the row moves by any amount."""
        if self.few is not None:
            return np.unique(self.few.blind[self.few.blind[:, 0] == row, 1])
        return np.flatnonzero(np.isinf(self.effect[row]).any(axis=1))


@one_thread
def reliability(
    adjustment: Adjustment, hypotheses: Sequence[Hypothesis]
) -> Reliability:
    """Return what each blunder could do unseen, at the job's significance and power.

    Parameters
    ----------
    adjustment : Adjustment
        Minimal or constrained.
    hypotheses : sequence of Hypothesis

    Returns
    -------
    Reliability
        With the effects on all marks, or of very many the worst alone.
    """
    options = adjustment.network.options
    lambda0 = noncentrality(options.outlier_alpha, options.power)
    made = hidden_of(adjustment, hypotheses, lambda0)
    marks = len(adjustment.network.marks)
    ratio = np.array([one.bias_to_noise for one in made])
    null = np.array([one.free.shape[1] for one in made], dtype=np.int64)
    effect, few = np.zeros((0, marks, 2)), None
    if len(made) * marks > _KEPT:
        chosen = worth_solving(ratio, null)
        few = worst_alone(adjustment, hypotheses, made, chosen)
    else:
        effect = np.zeros((len(made), marks, 2))
        every = np.arange(len(made))
        for i, own in effects(adjustment, hypotheses, made, every):
            effect[i] = own
    return _gathered(hypotheses, made, effect, few)


def unlimited(adjustment: Adjustment, blind: Blind) -> Reliability:
    """Return what nothing checks, and what an error of any size in it would move.

    Parameters
    ----------
    adjustment : Adjustment
    blind : Blind
        What may be checked by nothing.
    """
    options = adjustment.network.options
    lambda0 = noncentrality(options.outlier_alpha, options.power)
    made = hidden_of(adjustment, blind.hypotheses, lambda0)
    free = np.flatnonzero([one.free.shape[1] > 0 for one in made])
    most = max(_LEAST, _SOLVED // max(1, int(adjustment.columns.max(initial=0))))
    few = worst_alone(adjustment, blind.hypotheses, made, free[:most])
    none = np.zeros((0, len(adjustment.network.marks), 2))
    passed = blind.passed_over + max(0, len(free) - most)
    return _gathered(blind.hypotheses, made, none, few, passed)


def _gathered(
    hypotheses: Sequence[Hypothesis],
    made: Sequence[Hidden],
    effect: Floats,
    few: Worst | None,
    passed: int = 0,
) -> Reliability:
    null = np.array([one.free.shape[1] for one in made], dtype=np.int64)
    return Reliability(
        tuple(hypotheses),
        np.array([one.smallest for one in made]),
        np.array([one.along for one in made]).reshape(-1, 3),
        np.array([one.bias_to_noise for one in made]),
        effect,
        null > 0,
        null,
        few,
        passed,
    )


def marks_follow(
    adjustment: Adjustment, hypothesis: Hypothesis, at: Ints, coupling: Floats
) -> Floats:
    """Return (m, 3, p) how marks follow a unit shift."""
    marks = adjustment.columns[: len(adjustment.network.marks)]
    right = np.zeros((int(adjustment.columns.max()) + 2, coupling.shape[1]))
    np.add.at(right, at, coupling)
    moved = np.zeros_like(right)
    moved[:-1] = adjustment.factor.solve(right[:-1])
    return carried(hypothesis, moved[marks])
