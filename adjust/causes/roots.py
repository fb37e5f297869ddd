"""How each cause is scaled to a unit block: a root of M⁺, many causes at a time."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy import sparse

from ...networks.covariances import Bools, Floats, Ints
from ..judge.shifts import SEEN
from ..judge.verdicts import UNCHECKED
from .cause import Cause


@dataclass(frozen=True, slots=True)
class Roots:
    """One row a cause."""

    roots: tuple[Floats, ...]
    """For each cause (p, r): amounts = root · scaled amounts."""
    unchecked: Bools
    """Which causes, or a part of them, nothing checks."""
    unseen: Bools
    """Which causes change nothing that was observed."""

    @property
    def first(self) -> Ints:
        """Return where the scaled columns of each cause start, (k + 1,)."""
        widths = [root.shape[1] for root in self.roots]
        return np.cumsum([0, *widths]).astype(np.int64)

    def matrix(self) -> "sparse.csc_array":
        """Return all of them along the diagonal of one matrix, (Σp, Σr)."""
        heights = np.array([len(root) for root in self.roots], dtype=np.int64)
        widths = np.diff(self.first)
        ends = np.cumsum(heights)
        length = np.repeat(heights, widths)
        pointer = np.concatenate([[0], np.cumsum(length)]).astype(np.int64)
        start = np.repeat(ends - heights, widths) - pointer[:-1]
        row = np.arange(pointer[-1]) + np.repeat(start, length)
        values = [np.zeros(0), *(root.T.ravel() for root in self.roots)]
        shape = (int(heights.sum()), int(widths.sum()))
        made = sparse.csc_array((np.concatenate(values), row, pointer), shape=shape)
        made.eliminate_zeros()
        return made


def roots_of(
    own: Floats, checks: Floats, first: Ints, causes: Sequence[Cause]
) -> Roots:
    """Return the roots of all causes.

    Parameters
    ----------
    own, checks : ndarray, shape (Σp, Σp)
        CᵀC, and what of it the rest checks.
    first : ndarray of int, shape (k + 1,)
        Where the columns of each cause start.
    causes : sequence of Cause, length k
    """
    count, widths = len(causes), np.diff(first)
    roots: list[Floats] = [np.zeros((0, 0))] * count
    unchecked, unseen = np.ones(count, dtype=bool), np.ones(count, dtype=bool)
    least = np.array([cause.least for cause in causes])
    common = np.array([bool(cause.measure) for cause in causes], dtype=bool)
    for width in np.unique(widths[widths > 0]).tolist():
        of = np.flatnonzero(widths == width)
        at = first[of][:, None] + np.arange(width)
        blocks = [some[at[:, :, None], at[:, None, :]] for some in (own, checks)]
        needed = np.maximum(UNCHECKED, least[of])
        found = _alike(blocks[0], blocks[1], needed, common[of])
        for i, (root, blind, nothing) in zip(of.tolist(), found, strict=True):
            roots[i], unchecked[i], unseen[i] = root, blind, nothing
    return Roots(tuple(roots), unchecked, unseen)


def _alike(
    own: Floats, checks: Floats, needed: Floats, common: Bools
) -> list[tuple[Floats, bool, bool]]:
    """Return root, unchecked, unseen of causes of as many amounts each, (k, p, p)."""
    values, ways = np.linalg.eigh(own)
    real = (values > SEEN * values[:, -1:]) & (values > 0)
    root = ways / np.sqrt(np.where(real, values, 1.0))[:, None, :]
    inside = np.swapaxes(root, 1, 2) @ checks @ root
    shares, vectors = np.linalg.eigh(inside)
    checked = shares >= needed[:, None]
    sound = np.all(real & checked, axis=1).tolist()
    full = (root @ vectors) / np.sqrt(np.where(checked, shares, 1.0))[:, None, :]
    found: list[tuple[Floats, bool, bool]] = []
    for k in range(len(own)):
        if sound[k]:
            found.append((full[k], False, False))
        elif not real[k].any():
            found.append((np.zeros((len(own[k]), 0)), True, True))
        else:
            some = root[k][:, real[k]]
            found.append(_partly(some, checks[k], float(needed[k]), bool(common[k])))
    return found


def _partly(
    root: Floats, checks: Floats, needed: float, common: bool
) -> tuple[Floats, bool, bool]:
    """Return the same of a cause of which not everything is seen and checked.

    Where no common amount is meant, the part that is checked is judged.
    """
    shares, vectors = np.linalg.eigh(root.T @ checks @ root)
    checked = shares >= needed
    if not checked.all() and common:
        checked = np.zeros_like(checked)
    turned = (root @ vectors)[:, checked]
    return turned / np.sqrt(shares[checked]), not bool(checked.any()), False
