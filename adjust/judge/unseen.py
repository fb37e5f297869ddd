"""What of a blunder does not show: its information, and what unknowns take of it."""

from collections.abc import Sequence

import numpy as np

from ...networks.covariances import Bools, Floats, Ints
from ..adjustment import Adjustment
from .effects import PLACE, Hidden
from .hypotheses import Hypothesis
from .shifts import SEEN
from .touching import taken
from .verdicts import UNCHECKED

Informed = tuple[Floats, Ints, Floats]
"""CᵀPC, the columns that C couples to, and AᵀPC there."""


def hidden_of(
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
    smallest = np.sqrt(_tops(across @ just)) if just.size else np.full(len(own), np.nan)
    ratio = np.sqrt(_tops(across @ lost @ just))
    diagonal = np.einsum("npp->np", matrix)
    least = np.sqrt(lambda0 / np.where(plain[:, None], diagonal, 1.0))
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
    """Return half-axes as ``just_unseen`` has them, and where all are checked.

    Elsewhere they are of no use.
    """
    folded = np.linalg.solve(np.eye(own.shape[1]) + own @ noise, own)
    values, ways = np.linalg.eigh((folded + np.swapaxes(folded, 1, 2)) / 2)
    most = np.maximum(values.max(axis=1, keepdims=True, initial=0.0), 1e-300)
    real = (values > SEEN * most).all(axis=1)
    root = ways / np.sqrt(np.where(real[:, None], values, 1.0))[:, None]
    shares, turned = np.linalg.eigh(np.swapaxes(root, 1, 2) @ matrix @ root)
    plain: Bools = real & (shares >= UNCHECKED).all(axis=1)
    length = np.sqrt(np.where(plain[:, None], shares, 1.0))[:, None]
    return root @ turned / length, plain


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


def _tops(matrices: Floats) -> Floats:
    """Return the largest eigenvalue of each of n symmetric matrices, 0 or more."""
    most: Floats = np.linalg.eigvalsh(matrices).max(axis=1, initial=0.0)
    return most


def _top(matrix: Floats) -> float:
    return max(float(np.linalg.eigvalsh(matrix)[-1]), 0.0) if matrix.size else 0.0
