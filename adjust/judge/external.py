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
from .effects import (
    PLACE,
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
from .shifts import SEEN
from .touching import taken
from .verdicts import UNCHECKED

_KEPT = 1 << 21
"""Effects on marks that are kept; of more, the worst alone."""

Informed = tuple[Floats, Ints, Floats]
"""CᵀPC, the columns that C couples to, and AᵀPC there."""


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


def reliability(
    adjustment: Adjustment,
    hypotheses: Sequence[Hypothesis],
    *,
    unlimited: bool = False,
) -> Reliability:
    """Return what each blunder could do unseen, at the job's significance and power.

    Parameters
    ----------
    adjustment : Adjustment
        Minimal or constrained.
    hypotheses : sequence of Hypothesis
    unlimited : bool, optional
        Whether effects are wanted of those alone that nothing checks.

    Returns
    -------
    Reliability
        With the effects on all marks, or of very many the worst alone.
    """
    options = adjustment.network.options
    lambda0 = noncentrality(options.outlier_alpha, options.power)
    made = _all_hidden(adjustment, hypotheses, lambda0)
    marks = len(adjustment.network.marks)
    ratio = np.array([one.bias_to_noise for one in made])
    null = np.array([one.free.shape[1] for one in made], dtype=np.int64)
    effect, few = np.zeros((len(made), marks, 2)), None
    if unlimited or len(made) * marks > _KEPT:
        chosen = np.flatnonzero(null > 0) if unlimited else worth_solving(ratio, null)
        effect, few = effect[:0], worst_alone(adjustment, hypotheses, made, chosen)
    else:
        every = np.arange(len(made))
        for i, own in effects(adjustment, hypotheses, made, every):
            effect[i] = own
    return Reliability(
        tuple(hypotheses),
        np.array([one.smallest for one in made]),
        np.array([one.along for one in made]).reshape(-1, 3),
        ratio,
        effect,
        null > 0,
        null,
        few,
    )


def _all_hidden(
    adjustment: Adjustment, hypotheses: Sequence[Hypothesis], lambda0: float
) -> list[Hidden]:
    """Return what of each blunder does not show, those of a size in one go."""
    informed = [information_of(one) for one in hypotheses]
    sizes = np.array([len(one.axes) for one in hypotheses], dtype=np.int64)
    made: dict[int, Hidden] = {}
    for size in np.unique(sizes).tolist():
        some = np.flatnonzero(sizes == size).tolist()
        lost = lost_of_each(adjustment, [informed[i][1:] for i in some], size)
        these = [hypotheses[i] for i in some]
        found = _hidden_alike(these, [informed[i] for i in some], lost, lambda0)
        made.update(zip(some, found, strict=True))
    return [made[i] for i in range(len(hypotheses))]


def _hidden_alike(
    hypotheses: Sequence[Hypothesis],
    informed: Sequence[Informed],
    lost: Floats,
    lambda0: float,
) -> list[Hidden]:
    """Return what does not show of blunders of one size, checked in all directions.

    Those of which something is not checked are looked at one by one.
    """
    own = np.stack([one[0] for one in informed])
    noise = np.stack([one.noise for one in hypotheses])
    matrix = own - lost
    half, plain = _just_alike(own, matrix, noise)
    just = half * np.sqrt(lambda0)
    across = np.swapaxes(just, 1, 2)
    smallest = np.sqrt(_tops(across @ just))
    ratio = np.sqrt(_tops(across @ lost @ just))
    least = np.sqrt(lambda0 / np.abs(np.einsum("npp->np", matrix)))
    free = np.zeros((own.shape[1], 0))
    made = []
    for k, one in enumerate(hypotheses):
        if not plain[k]:
            made.append(_hidden(one, informed[k], lost[k], lambda0))
            continue
        along = np.full(3, np.nan)
        if one.kind != "session":
            along[[PLACE[axis] for axis in one.axes]] = least[k]
        sizes = float(smallest[k]), along, float(ratio[k])
        made.append(Hidden(*sizes, just[k], free, *informed[k][1:]))
    return made


def _just_alike(own: Floats, matrix: Floats, noise: Floats) -> tuple[Floats, Bools]:
    """Return half-axes as ``just_unseen`` has them, and where all directions have one.

    Elsewhere they are of no use.
    """
    folded = np.linalg.solve(np.eye(own.shape[1]) + own @ noise, own)
    values, ways = np.linalg.eigh((folded + np.swapaxes(folded, 1, 2)) / 2)
    most = np.maximum(values.max(axis=1, keepdims=True), 1e-300)
    real = (values > SEEN * most).all(axis=1)
    root = ways / np.sqrt(np.where(real[:, None], values, 1.0))[:, None]
    shares, turned = np.linalg.eigh(np.swapaxes(root, 1, 2) @ matrix @ root)
    plain: Bools = real & (shares >= UNCHECKED).all(axis=1)
    return root @ turned / np.sqrt(np.where(plain[:, None], shares, 1.0))[
        :, None
    ], plain


def _hidden(
    hypothesis: Hypothesis,
    informed: Informed,
    lost: Floats,
    lambda0: float,
) -> Hidden:
    own, at, coupling = informed
    matrix = own - lost
    just, free = just_unseen(own, matrix, hypothesis.noise)
    just = just * np.sqrt(lambda0)
    along = np.full(3, np.nan)
    smallest, ratio = float("nan"), float("inf")
    if not free.shape[1]:
        smallest = float(np.linalg.norm(just, 2)) if just.size else float("nan")
        ratio = float(np.sqrt(_top(just.T @ lost @ just)))
        if hypothesis.kind != "session":
            place = [PLACE[axis] for axis in hypothesis.axes]
            along[place] = np.sqrt(lambda0 / np.diagonal(matrix))
    return Hidden(smallest, along, ratio, just, free, at, coupling)


def pull_of(hypothesis: Hypothesis) -> Floats:
    """Return −CᵀPv, (p,): how the residuals pull towards booked too large."""
    pull = np.zeros(len(hypothesis.axes))
    for batch, c, column in hypothesis.pieces:
        pull += column.T @ batch.misclosure[c]
    return pull


def information_of(hypothesis: Hypothesis) -> Informed:
    """Return CᵀPC, (p, p), and the columns that C couples to with their AᵀPC."""
    size = len(hypothesis.axes)
    own = np.zeros((size, size))
    at, coupling = [np.zeros(0, dtype=np.int64)], [np.zeros((0, size))]
    for batch, c, column in hypothesis.pieces:
        own += column.T @ column
        at.append(batch.columns[c])
        coupling.append(batch.design[c].T @ column)
    return own, np.concatenate(at), np.concatenate(coupling)


def lost_of(adjustment: Adjustment, at: Ints, coupling: Floats) -> Floats:
    """Return CᵀPAQAᵀPC, (p, p), of a hypothesis' columns and its AᵀPC."""
    lost: Floats = lost_of_each(adjustment, [(at, coupling)], coupling.shape[1])[0]
    return lost


def lost_of_each(
    adjustment: Adjustment, coupled: Sequence[tuple[Ints, Floats]], size: int
) -> Floats:
    """Return (n, p, p) CᵀPAQAᵀPC of hypotheses of p components each.

    Parameters
    ----------
    adjustment : Adjustment
    coupled : sequence of (ndarray of int, ndarray)
        Columns of each and its AᵀPC.
    size : int
        p.
    """
    count = len(coupled)
    number = np.repeat(np.arange(count), [len(at) for at, _ in coupled])
    column = np.concatenate([at for at, _ in coupled])
    keep = column >= 0
    order = np.lexsort((column[keep], number[keep]))
    number, column = number[keep][order], column[keep][order]
    if not len(column):
        return np.zeros((count, size, size))
    value = np.concatenate([coupling for _, coupling in coupled])[keep][order]
    new = np.append(True, (np.diff(number) != 0) | (np.diff(column) != 0))
    total = np.add.reduceat(value, np.flatnonzero(new), axis=0)
    return taken(adjustment, number[new], column[new], total, count)


def just_unseen(
    own: Floats, matrix: Floats, noise: Floats, least: float = UNCHECKED
) -> tuple[Floats, Floats]:
    """Return the half-axes of ∇ᵀM∇ = 1, (p, c), and the unchecked directions (p, d).

    Measured against the information of the rows themselves with the noise of the
    set-ups folded in; a direction that no row sees is in neither.

    Parameters
    ----------
    own, matrix, noise : ndarray, shape (p, p)
        CᵀPC, M, and the variance of the set-ups.
    least : float, optional
        Share below which a direction is unchecked.
    """
    folded = np.linalg.solve(np.eye(len(own)) + own @ noise, own)
    values, ways = np.linalg.eigh((folded + folded.T) / 2)
    real = values > SEEN * max(float(values.max(initial=0.0)), 1e-300)
    root = ways[:, real] / np.sqrt(values[real])
    shares, turned = np.linalg.eigh(root.T @ matrix @ root)
    null = shares < least
    directions = root @ turned
    return directions[:, ~null] / np.sqrt(shares[~null]), directions[:, null]


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


def _tops(matrices: Floats) -> Floats:
    """Return the largest eigenvalue of each of n symmetric matrices, 0 or more."""
    return np.maximum(np.linalg.eigvalsh(matrices)[:, -1], 0.0)


def _top(matrix: Floats) -> float:
    return max(float(np.linalg.eigvalsh(matrix)[-1]), 0.0) if matrix.size else 0.0
