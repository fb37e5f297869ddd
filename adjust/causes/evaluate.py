"""What the residuals say about any list of causes, and about one given another.

With whitened rows M = CᵀC − (AᵀC)ᵀ Q (AᵀC) is how well the rest checks a cause, CᵀPv
how the residuals pull on it; T = (CᵀPv)ᵀ M⁺ (CᵀPv) (Teunissen, Testing Theory; from
memory). Joint matrices M_ij make the statistic of one cause given others pure algebra:
a Schur complement, no second adjustment.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from scipy import sparse

from ...networks.covariances import Bools, Floats, Ints
from ..adjustment import Adjustment
from ..elimination import Factor
from ..products import products
from .cause import Cause, shift_matrix
from .roots import roots_of
from .rows import Rows, rows_of

LEFT = 1e-7
"""Share of what is known of a cause that others leave; below it they explain all."""


@dataclass(frozen=True, slots=True)
class Joint:
    """k causes together, each scaled so that its own block is the unit matrix.

    A cause that nothing checks has no columns.
    """

    matrix: Floats
    """(R, R)."""
    pull: Floats
    """(R,) with unit variance and independent within a cause."""
    first: Ints
    """(k + 1,) where the columns of each cause start."""
    common: Bools
    """(k,) whether a cause is common amounts, not a lot of things to be doubted."""
    dropped: int = 0
    """Causes that were judged too, and had too little support to be taken along."""

    def columns(self, causes: Sequence[int]) -> Ints:
        """Return the columns of some causes."""
        made = [np.arange(self.first[i], self.first[i + 1]) for i in causes]
        return np.concatenate([np.zeros(0, np.int64), *made]).astype(np.int64)

    def given(self, causes: Sequence[int]) -> "Joint":
        """Return what is left of all causes when some are in the model already."""
        at = self.columns(causes)
        if not len(at):
            return self
        inverse = pseudo_inverse(self.matrix[np.ix_(at, at)])
        coupling = self.matrix[:, at] @ inverse
        return Joint(
            self.matrix - coupling @ self.matrix[at],
            self.pull - coupling @ self.pull[at],
            self.first,
            self.common,
            self.dropped,
        )

    def ways(self, columns: Ints) -> Floats:
        """Return some columns of the matrix, (R, n)."""
        return self.matrix.take(columns, axis=1)

    def shared(self, small: Ints, large: Ints) -> Floats:
        """Return (n,) Σ cos² of the angles between causes, pair by pair."""
        total, widths = np.zeros(len(small)), np.diff(self.first)
        for p, q, some in pairs_alike(widths[small], widths[large]):
            at = self.first[small[some]][:, None] + np.arange(p)
            to = self.first[large[some]][:, None] + np.arange(q)
            block = self.matrix[at[:, :, None], to[:, None, :]]
            total[some] = (block**2).sum(axis=(1, 2))
        return total

    def statistics(self) -> tuple[Floats, Ints]:
        """Return T of every cause and how many components of it are left."""
        count = len(self.first) - 1
        statistic, rank = np.zeros(count), np.zeros(count, dtype=np.int64)
        widths = np.diff(self.first)
        for width in set(widths[widths > 0].tolist()):
            of = np.flatnonzero(widths == width)
            at = self.first[of][:, None] + np.arange(width)
            blocks = self.matrix[at[:, :, None], at[:, None, :]]
            values, vectors = np.linalg.eigh(blocks)
            along = np.einsum("kij,ki->kj", vectors, self.pull[at])
            left = values > LEFT
            safe = np.where(left, values, 1.0)
            statistic[of] = np.where(left, along**2 / safe, 0.0).sum(axis=1)
            rank[of] = left.sum(axis=1)
        return statistic, rank

    def statistic(self, causes: Sequence[int]) -> tuple[float, int]:
        """Return T of several causes together, and its components."""
        at = self.columns(causes)
        if not len(at):
            return 0.0, 0
        values, vectors = np.linalg.eigh(self.matrix[np.ix_(at, at)])
        left = values > LEFT
        along = (vectors.T @ self.pull[at])[left]
        return float(np.sum(along**2 / values[left])), int(left.sum())

    def added(self, first: int, second: int) -> tuple[float, int]:
        """Return what a cause adds to what another explains: statistic, components."""
        i, j = self.columns([first]), self.columns([second])
        across = self.matrix[np.ix_(i, j)]
        inverse = pseudo_inverse(self.matrix[np.ix_(j, j)])
        own = self.matrix[np.ix_(i, i)] - across @ inverse @ across.T
        values, vectors = np.linalg.eigh(own)
        left = values > LEFT
        rest = vectors.T @ (self.pull[i] - across @ inverse @ self.pull[j])
        return float(np.sum(rest[left] ** 2 / values[left])), int(left.sum())


def pairs_alike(one: Ints, other: Ints) -> Iterator[tuple[int, int, Ints]]:
    """Yield every two widths of pairs of causes, and which pairs have them.

    Examples
    --------
    >>> found = pairs_alike(np.array([3, 1, 3]), np.array([3, 3, 3]))
    >>> [(p, q, some.tolist()) for p, q, some in found]
    [(1, 3, [1]), (3, 3, [0, 2])]
    """
    for p in np.unique(one).tolist():
        for q in np.unique(other[one == p]).tolist():
            yield p, q, np.flatnonzero((one == p) & (other == q))


def pseudo_inverse(matrix: Floats) -> Floats:
    """Return M⁺ of a matrix with unit diagonal or less.

    Examples
    --------
    >>> pseudo_inverse(np.diag([0.5, 0.0])).tolist()
    [[2.0, 0.0], [0.0, 0.0]]
    """
    values, vectors = np.linalg.eigh(matrix)
    left = values > LEFT
    kept: Floats = vectors[:, left]
    return np.asarray((kept / values[left]) @ kept.T)


@dataclass(frozen=True, slots=True)
class Hypotheses:
    """Causes with all that depends on the design and not on what was observed."""

    rows: Rows
    causes: tuple[Cause, ...]
    scaled: "sparse.csc_array"
    """(n, R) whitened columns, each cause scaled to a unit block of M."""
    factor: Factor
    coupling: "sparse.csc_array"
    """(u, R) Aᵀ of the scaled columns: what they add to the right side."""
    matrix: Floats
    """(R, R) joint M of the scaled columns."""
    first: Ints
    roots: tuple[Floats, ...]
    """For each cause (p, r): amounts = root · scaled amounts."""
    unchecked: Bools
    """Which causes, or a part of them, nothing checks."""
    unseen: Bools
    """Which causes change nothing that was observed."""
    dropped: int = 0
    """Causes that were judged too, and had too little support to be taken along."""

    def joint(self, misclosure: Floats) -> Joint:
        """Return the causes with the pull of some residuals on them.

        Parameters
        ----------
        misclosure : ndarray, shape (n,)
            Minus the whitened residuals of an adjustment of this design.
        """
        common = np.array([bool(cause.measure) for cause in self.causes], dtype=bool)
        pull = self.scaled.T @ misclosure
        return Joint(self.matrix, pull, self.first, common, self.dropped)

    def only(self, kept: Sequence[int]) -> "Hypotheses":
        """Return some of the causes."""
        widths = np.diff(self.first)
        at = np.concatenate(
            [np.zeros(0, np.int64)]
            + [np.arange(self.first[i], self.first[i + 1]) for i in kept]
        ).astype(np.int64)
        return Hypotheses(
            self.rows,
            tuple(self.causes[i] for i in kept),
            self.scaled[:, at],
            self.factor,
            self.coupling[:, at],
            self.matrix[np.ix_(at, at)],
            np.cumsum([0, *(int(widths[i]) for i in kept)]).astype(np.int64),
            tuple(self.roots[i] for i in kept),
            self.unchecked[list(kept)],
            self.unseen[list(kept)],
            self.dropped,
        )

    def amounts(self, joint: Joint, cause: int) -> tuple[Floats, Floats]:
        """Return the amounts of a cause, booked minus what the rest says, and their sd.

        NaN where nothing checks it.
        """
        p = self.causes[cause].components
        root = self.roots[cause]
        if self.unchecked[cause] or not root.shape[1]:
            return np.full(p, np.nan), np.full(p, np.nan)
        at = np.arange(joint.first[cause], joint.first[cause + 1])
        block = joint.matrix[at[0] : at[-1] + 1, at[0] : at[-1] + 1]
        inverse = pseudo_inverse(block) if len(at) > 1 else 1 / block
        size = root @ (inverse @ joint.pull[at])
        variance = np.einsum("pi,ij,pj->p", root, inverse, root)
        seen = (root**2).sum(axis=1) > 0
        sd = np.sqrt(np.maximum(variance, 0.0))
        return np.where(seen, size, np.nan), np.where(seen, sd, np.nan)

    def spread(self, columns: Ints) -> Floats:
        """Return Q Aᵀ of some scaled columns, (u, k): what they do to the unknowns."""
        return self.factor.solve(self.coupling[:, columns].toarray())

    def corrected(
        self, joint: Joint, causes: Sequence[int], misclosure: Floats
    ) -> tuple[Floats, Floats]:
        """Return residuals and unknowns with some causes in the model.

        Returns
        -------
        misclosure : ndarray, shape (n,)
            Minus the whitened residuals that are left.
        moved : ndarray, shape (u,)
            How far the unknowns move from the adjustment's.
        """
        at = joint.columns(causes)
        amount = pseudo_inverse(joint.matrix[np.ix_(at, at)]) @ joint.pull[at]
        moved: Floats = -self.factor.solve(self.coupling[:, at] @ amount)
        shift = self.scaled[:, at] @ amount
        return misclosure - shift - self.rows.design @ moved, moved


def hypotheses(
    adjustment: Adjustment, causes: Sequence[Cause], rows: Rows | None = None
) -> Hypotheses:
    """Return a list of causes made ready for the residuals.

    Parameters
    ----------
    adjustment : Adjustment
    causes : sequence of Cause
    rows : Rows, optional
        Of the adjustment, where they are at hand.

    Returns
    -------
    Hypotheses
    """
    rows = rows_of(adjustment) if rows is None else rows
    matrix, first = shift_matrix(causes, rows.base)
    coupling = sparse.csc_array(rows.design.T @ matrix)
    own = (matrix.T @ matrix).toarray()
    checks = own - products(adjustment.factor, coupling)
    made = roots_of(own, checks, first, causes)
    scale = made.matrix()
    # Both products are of rows, which is how numbers lie in memory.
    turned = sparse.csr_array(scale.T)
    scaled_checks = turned @ np.ascontiguousarray((turned @ checks).T)
    return Hypotheses(
        rows,
        tuple(causes),
        sparse.csc_array(matrix @ scale),
        adjustment.factor,
        sparse.csc_array(coupling @ scale),
        np.asarray((scaled_checks + scaled_checks.T) / 2),
        made.first,
        made.roots,
        made.unchecked,
        made.unseen,
    )
