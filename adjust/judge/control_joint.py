"""All known marks of a part at once: what letting any of them go says, by algebra.

One set of equations serves all: with C the whitened columns of all shifts and
G = AᵀPC, M = CᵀPC − GᵀQG is what is known of them together, and a principal part of it
what is known of some. So a mark, a pair and a subset cost no solving.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy import linalg, sparse
from scipy.sparse.csgraph import connected_components

from ...networks import GeodeticFrame, Network
from ...networks.covariances import Floats, Ints
from ..adjustment import Adjustment
from ..products import products
from .hypotheses import Hypothesis
from .shifts import SEEN
from .unseen import information_of, just_unseen, pull_of
from .verdicts import UNCHECKED

_WHOLE = 400
"""Components up to which all eigenvalues are worked out."""
_RADIUS = 6.371e6
"""m; of the earth."""


@dataclass(frozen=True, slots=True)
class LetGo:
    """Marks let go at once."""

    statistic: float
    rank: int
    shift: Floats
    covariance: Floats
    free: int
    """Directions in which nothing checks them."""


@dataclass(frozen=True, slots=True)
class Jointly:
    """What the observations know of shifts of k known marks, K components in all."""

    hypotheses: tuple[Hypothesis, ...]
    first: Ints
    """(k + 1,) where the components of each start."""
    own: Floats
    """(K, K) CᵀPC."""
    matrix: Floats
    """(K, K) M."""
    pull: Floats
    """(K,) −CᵀPv."""
    coupling: "sparse.csc_array"
    """(u, K) G."""
    least: float
    """Share of its own information below which a direction is unchecked."""

    def columns(self, some: Sequence[int]) -> Ints:
        """Return the components of some marks."""
        spans = [np.arange(self.first[i], self.first[i + 1]) for i in some]
        return np.concatenate([np.zeros(0, np.int64), *spans])

    def let_go(self, some: Sequence[int]) -> LetGo:
        """Return what letting some marks go takes off vᵀPv, and where they then are."""
        at = self.columns(some)
        own, matrix = (one[np.ix_(at, at)] for one in (self.own, self.matrix))
        just, free = just_unseen(own, matrix, np.zeros_like(own), self.least)
        along = just.T @ self.pull[at]
        shift, covariance = just @ along, just @ just.T
        size = float(along @ along), just.shape[1]
        return LetGo(*size, shift, covariance, free.shape[1])

    def taken_off(self, some: Sequence[int]) -> tuple[float, int]:
        """Return what letting some marks go takes off vᵀPv, and of how many directions.

        Of very many, the few unchecked directions alone are sought:
        with N these, pᵀS⁺p = pᵀ(S + NNᵀ)⁻¹p − Σ (nᵀp)² / (1 + λ).
        """
        at = self.columns(some)
        if len(at) <= _WHOLE:
            found = self.let_go(some)
            return found.statistic, found.rank
        root = _root(self.own[np.ix_(at, at)])
        shares = np.asarray(root.T @ (root.T @ self.matrix[np.ix_(at, at)]).T)
        shares = (shares + shares.T) / 2
        pull = root.T @ self.pull[at]
        # The eigenvalues in the interval that is closed on the right.
        below = np.nextafter(self.least, 0.0)
        values, null = linalg.eigh(shares, subset_by_value=(-np.inf, below))
        whole = linalg.cho_solve(linalg.cho_factor(shares + null @ null.T), pull)
        off = (null.T @ pull) ** 2 / (1 + values)
        return float(pull @ whole - off.sum()), len(pull) - len(values)


def jointly(adjustment: Adjustment, hypotheses: Sequence[Hypothesis]) -> Jointly:
    """Return what the observations know of all of some shifts.

    Parameters
    ----------
    adjustment : Adjustment
    hypotheses : sequence of Hypothesis
        Known marks of one part, plan or height; one at the least.
    """
    sizes = [len(one.axes) for one in hypotheses]
    first = np.cumsum([0, *sizes])
    own = _own(adjustment, hypotheses, first)
    coupling = _coupling(adjustment, hypotheses, first)
    return Jointly(
        tuple(hypotheses),
        first,
        own,
        own - products(adjustment.factor, coupling),
        np.concatenate([pull_of(one) for one in hypotheses]),
        coupling,
        bent(adjustment.network, adjustment.nodes.xyz),
    )


def _own(
    adjustment: Adjustment, hypotheses: Sequence[Hypothesis], first: Ints
) -> Floats:
    """Return CᵀPC: marks that one cluster sees have a part in common."""
    start, whole = {}, 0
    for batch in adjustment.whitened:
        start[id(batch)] = whole
        whole += batch.misclosure.size
    entries: list[tuple[Ints, Ints, Floats]] = []
    for one, at in zip(hypotheses, first.tolist(), strict=False):
        for batch, c, column in one.pieces:
            rows = start[id(batch)] + c * len(column) + np.arange(len(column))
            row, k = np.nonzero(column)
            entries.append((rows[row], at + k, column[row, k]))
    row, k, value = (np.concatenate(some) for some in zip(*entries, strict=True))
    shape = (whole, int(first[-1]))
    columns = sparse.csc_array(sparse.coo_array((value, (row, k)), shape=shape))
    return np.asarray((columns.T @ columns).toarray())


def _coupling(
    adjustment: Adjustment, hypotheses: Sequence[Hypothesis], first: Ints
) -> "sparse.csc_array":
    entries: list[tuple[Ints, Ints, Floats]] = []
    for one, at in zip(hypotheses, first.tolist(), strict=False):
        _, columns, coupling = information_of(one)
        row, k = np.nonzero(coupling * (columns >= 0)[:, None])
        entries.append((columns[row], at + k, coupling[row, k]))
    row, k, value = (np.concatenate(some) for some in zip(*entries, strict=True))
    shape = (int(adjustment.columns.max()) + 1, int(first[-1]))
    return sparse.csc_array(sparse.coo_array((value, (row, k)), shape=shape))


def _root(own: Floats) -> "sparse.csr_array":
    """Return B with Bᵀ(CᵀPC)B = 1 among what rows see; block by block."""
    pieces, piece = connected_components(sparse.csr_array(own), directed=False)
    order = np.argsort(piece, kind="stable")
    parts = np.split(order, np.cumsum(np.bincount(piece, minlength=pieces))[:-1])
    found = [np.linalg.eigh(own[np.ix_(at, at)]) for at in parts]
    most = max(float(values[-1]) for values, _ in found)
    blocks = []
    for values, ways in found:
        real = values > SEEN * max(most, 1e-300)
        blocks.append(ways[:, real] / np.sqrt(values[real]))
    made = sparse.csr_array(sparse.block_diag(blocks))
    return made[np.argsort(order)]


def bent(network: Network, xyz: Floats) -> float:
    """Return the share of information that the earth's curve alone lends a shift.

    Known marks that all move alike in plan tilt the network by their shift over the
    earth's radius R; over an extent D that is D/R of the shift in height, and the
    square of it in information. It checks nothing that a survey could use.
    """
    if not isinstance(network.frame, GeodeticFrame):
        return UNCHECKED
    marks = xyz[: len(network.marks)]
    extent = float(np.linalg.norm(np.ptp(marks, axis=0)))
    return float(np.clip(10 * (extent / _RADIUS) ** 2, UNCHECKED, 1e-3))
