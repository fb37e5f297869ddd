"""From which other known marks one cannot be told.

With J half-axes of what is known of a mark alone (JᵀMJ = 1), two marks have the matrix
1 with X = JᵢᵀMᵢⱼJⱼ beside it. Its singular values say whether one adds anything to the
other, and (a − Xb)ᵀ(1 − XXᵀ)⁻¹(a − Xb) what it adds to the statistic (derived here). A
direction can only be lost where 1 − σ is below the least share over the smallest of
the two marks' own (Ostrowski's theorem, from memory): these pairs are looked at one by
one, and those that a cluster sees together.
"""

from dataclasses import dataclass

import numpy as np

from ...networks.covariances import Bools, Floats, Ints
from .control_joint import Jointly, LetGo
from .limits import chi_square_quantile
from .unseen import just_unseen

_ADDS = 0.99
"""A mark adds to another, as an explanation, what chance does in 1 of 100 cases."""


@dataclass(frozen=True, slots=True)
class Alone:
    """Each of k known marks let go by itself, in p components at most."""

    joint: Jointly
    found: tuple[LetGo, ...]
    at: Ints
    """(k, p) components of each; −1 where it has fewer."""
    half: Floats
    """(k, p, p) J; zeros where there are fewer directions."""
    along: Floats
    """(k, p) Jᵀ of the pull."""
    share: Floats
    """(k,) the least share of its own information that others check."""
    rank: Ints
    """(k,)"""

    def twins(self, one: int, *, over: bool) -> list[int]:
        """Return the marks from which one cannot be told.

        Under which it could add nothing, whatever the figures; and where it is over its
        limit, those under which it adds no more than chance.
        """
        if self.found[one].free or not self.rank[one]:
            return []
        across = self._across(one)
        close = self._close(one, across)
        twin = np.zeros(len(close), dtype=bool)
        if over:
            adds = self._adds(one, across, close)
            twin = adds < chi_square_quantile(_ADDS, int(self.rank[one]))
        twin &= self.rank > 0
        for other in np.flatnonzero(close & (self.rank > 0)).tolist():
            twin[other] = other != one and self._same(one, other, over=over)
        twin[one] = False
        return np.flatnonzero(twin).tolist()

    def _across(self, one: int) -> Floats:
        """Return (k, p, p) X of one mark with each."""
        rows = self.joint.matrix[self.at[one][:, None, None], self.at[None]]
        # (p, k, p): the half-axes of what is missing are zero.
        left = np.einsum("pi,pkq->kiq", self.half[one], rows)
        return np.asarray(left @ self.half)

    def _close(self, one: int, across: Floats) -> Bools:
        """Return which marks are to be looked at singly."""
        least = self.joint.least / np.minimum(self.share, self.share[one])
        # The root of the sum of squares is no less than the largest singular value.
        close: Bools = 1 - np.sqrt((across**2).sum(axis=(1, 2))) < least
        some = np.flatnonzero(close)
        close[some] = 1 - np.linalg.norm(across[some], 2, axis=(1, 2)) < least[some]
        seen = np.zeros(int(self.joint.first[-1]) + 1, dtype=bool)
        seen[:-1] = self.joint.own[self.joint.columns([one])].any(axis=0)
        return np.asarray(close | seen[self.at].any(axis=1))

    def _adds(self, one: int, across: Floats, close: Bools) -> Floats:
        """Return (k,) what one adds to the statistic of others; ∞ for close ones."""
        rest = self.along[one] - np.einsum("kij,kj->ki", across, self.along)
        inner = np.eye(across.shape[1]) - across @ np.swapaxes(across, 1, 2)
        inner[close] = np.eye(across.shape[1])
        solved = np.linalg.solve(inner, rest[:, :, None])[:, :, 0]
        return np.where(close, np.inf, (rest * solved).sum(axis=1))

    def _same(self, one: int, other: int, *, over: bool) -> bool:
        both = self.joint.let_go([one, other])
        more = both.rank - self.found[other].rank
        adds = both.statistic - self.found[other].statistic
        return more < 1 or (over and adds < chi_square_quantile(_ADDS, more))


def alone(joint: Jointly) -> Alone:
    """Return each mark let go by itself.

    Parameters
    ----------
    joint : Jointly
    """
    every = range(len(joint.hypotheses))
    sizes = np.diff(joint.first)
    width = int(sizes.max())
    at = joint.first[:-1, None] + np.arange(width)
    at = np.where(np.arange(width) < sizes[:, None], at, -1)
    half = np.zeros((len(sizes), width, width))
    share = np.ones(len(sizes))
    found = []
    for k in every:
        here = at[k, : sizes[k]]
        own, matrix = (one[np.ix_(here, here)] for one in (joint.own, joint.matrix))
        just, free = just_unseen(own, matrix, np.zeros_like(own), joint.least)
        half[k, : sizes[k], : just.shape[1]] = just
        if just.shape[1]:
            share[k] = 1 / np.einsum("ij,ik,kj->j", just, own, just).max()
        pulled = just.T @ joint.pull[here]
        size = float(pulled @ pulled), just.shape[1]
        found.append(LetGo(*size, just @ pulled, just @ just.T, free.shape[1]))
    pull = np.where(at >= 0, joint.pull[at], 0.0)
    return Alone(
        joint,
        tuple(found),
        at,
        half,
        np.einsum("kpj,kp->kj", half, pull),
        share,
        np.array([one.rank for one in found]),
    )
