"""What is left of all causes when some are in the model, scaled anew to unit blocks.

Of R columns the joint matrix has R², and a model of few amounts changes it by as few
columns: M − UUᵀ. So the matrix of what is left is never formed; rows of it are.
"""

from dataclasses import dataclass

import numpy as np
from scipy import sparse

from ...networks.covariances import Bools, Floats, Ints
from .evaluate import LEFT, Joint, pairs_alike

Stack = tuple[Ints, Floats]
"""Numbers of causes of as many columns each, and their roots (k, w, w)."""


@dataclass(frozen=True, slots=True)
class Left:
    """Causes beside a model; what of a cause is not left has no column here."""

    joint: Joint
    """Of all causes, with none in the model."""
    taken: Floats
    """(R, q) U: what the model takes is UUᵀ."""
    roots: dict[int, Stack]
    """By the columns that a cause has in the joint matrix; a column of zeros for what
    is not left."""
    turned: "sparse.csr_array"
    """(R', R) the roots along the diagonal, transposed, without these zeros."""
    pull: Floats
    """(R',) with unit variance and independent within a cause."""
    first: Ints
    """(k + 1,) where the columns of each cause start."""

    @property
    def common(self) -> Bools:
        """(k,) whether a cause is common amounts."""
        return self.joint.common

    @property
    def dropped(self) -> int:
        """Causes that were judged too and not taken along."""
        return self.joint.dropped

    def ways(self, columns: Ints) -> Floats:
        """Return some columns of the matrix of what is left, (R', n)."""
        some = self.turned[columns]
        whole = some @ self.joint.matrix - (some @ self.taken) @ self.taken.T
        return np.asarray(self.turned @ np.ascontiguousarray(whole.T))

    def shared(self, small: Ints, large: Ints) -> Floats:
        """Return (n,) Σ cos² of the angles between causes, pair by pair."""
        start, widths = self.joint.first, np.diff(self.joint.first)
        place, total = np.zeros(len(widths), dtype=np.int64), np.zeros(len(small))
        for of, _ in self.roots.values():
            place[of] = np.arange(len(of))
        for p, q, some in pairs_alike(widths[small], widths[large]):
            i, j = small[some], large[some]
            at, to = start[i][:, None] + np.arange(p), start[j][:, None] + np.arange(q)
            block = self.joint.matrix[at[:, :, None], to[:, None, :]]
            block -= self.taken[at] @ np.swapaxes(self.taken[to], 1, 2)
            one, other = self.roots[p][1][place[i]], self.roots[q][1][place[j]]
            turned = np.swapaxes(one, 1, 2) @ block @ other
            total[some] = (turned**2).sum(axis=(1, 2))
        return total


def left_of(joint: Joint, model: Ints) -> Left:
    """Return what is left of all causes beside those of a model.

    Parameters
    ----------
    joint : Joint
    model : ndarray of int
        Numbers of causes.
    """
    at = joint.columns(model.tolist())
    values, vectors = np.linalg.eigh(joint.matrix[np.ix_(at, at)])
    real = values > LEFT
    root = vectors[:, real] / np.sqrt(values[real])
    taken = joint.matrix[:, at] @ root
    pull = joint.pull - taken @ (root.T @ joint.pull[at])
    roots = _roots(joint, taken)
    turned, kept = _along(joint, roots)
    first = np.concatenate([[0], np.cumsum(kept)])[joint.first].astype(np.int64)
    return Left(joint, taken, roots, turned, turned @ pull, first)


def _roots(joint: Joint, taken: Floats) -> dict[int, Stack]:
    """Return the roots of M⁺ of what is left of each cause, the best seen last."""
    widths, roots = np.diff(joint.first), {}
    for width in np.unique(widths[widths > 0]).tolist():
        of = np.flatnonzero(widths == width)
        at = joint.first[of][:, None] + np.arange(width)
        blocks = joint.matrix[at[:, :, None], at[:, None, :]]
        blocks -= taken[at] @ np.swapaxes(taken[at], 1, 2)
        share, ways = (blocks[:, 0], np.ones_like(blocks))
        if width > 1:
            share, ways = np.linalg.eigh(blocks)
        left = share > LEFT
        scale = np.where(left, 1 / np.sqrt(np.where(left, share, 1.0)), 0.0)
        roots[width] = (of, ways * scale[:, None, :])
    return roots


def _along(joint: Joint, roots: dict[int, Stack]) -> tuple["sparse.csr_array", Bools]:
    """Return the roots along a diagonal, transposed, and which columns are left."""
    widths, count = np.diff(joint.first), len(joint.pull)
    length = np.repeat(widths, widths)
    start = np.concatenate([[0], np.cumsum(length)]).astype(np.int64)
    column = np.arange(start[-1]) - np.repeat(start[:-1], length)
    column += np.repeat(np.repeat(joint.first[:-1], widths), length)
    value, kept = np.zeros(start[-1]), np.zeros(count, dtype=bool)
    for width, (of, root) in roots.items():
        at = joint.first[of][:, None] + np.arange(width)
        kept[at] = root.any(axis=1)
        value[start[at][:, :, None] + np.arange(width)] = np.swapaxes(root, 1, 2)
    here = np.repeat(kept, length)
    pointer = np.concatenate([[0], np.cumsum(length[kept])])
    shape = (int(kept.sum()), count)
    entries = (value[here], column[here], pointer)
    return sparse.csr_array(entries, shape=shape), kept
