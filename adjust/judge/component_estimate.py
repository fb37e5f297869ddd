"""Restricted maximum likelihood of multipliers of standard deviations.

Rows of a component k share an unknown multiplier f: the covariance is D Q D, with f on
the diagonal of D. The likelihood of what the unknowns leave over (Patterson and
Thompson 1971; Koch; from memory) is greatest where vᵀPv of every component equals its
redundancy, which is also where Förstner's and Helmert's iterations come to rest. What
the residuals know of log f² is ½ tr(P dQ P dQ).
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy import sparse

from ...networks.covariances import Bools, Floats, Ints
from .. import dense
from ..adjustment import Adjustment
from ..constraint import azimuth_constraint
from ..normal import Whitened, normal_matrix, right_side

SETTLED = 1e-9
"""Change of log f² at which the iteration ends."""
_MOST_STEPS = 60
_RATIOS = 2
"""First steps go by the ratios of vᵀPv to redundancy, which may be far from 1."""
_CAP = 1.5
_LEAST, _LARGEST = -14.0, 46.0
"""log f²: f from a thousandth to ten thousand million."""
_CHUNK = 256


@dataclass(frozen=True, slots=True)
class Stack:
    """Clusters of equal size that have the same components in the same rows."""

    label: Ints
    """(q,) component of each row in its own axes; −1 where nothing is estimated."""
    root: Floats
    """(c, q, q) from rows in their own axes to whitened rows."""
    back: Floats
    """(c, q, q) its inverse."""
    rows: Whitened
    """With the covariances as stated."""


@dataclass(frozen=True, slots=True)
class State:
    """How residuals stand with given multipliers."""

    square_sum: Floats
    """(K,) vᵀPv of each component, with these multipliers."""
    redundancy: Floats
    """(K,) trace of QvP over its rows; all rows together: the degrees of freedom."""
    information: Floats
    """(K, K) of log f²."""
    criterion: float
    """−2 log of the restricted likelihood, but for what no multiplier changes."""


@dataclass(frozen=True, slots=True)
class Estimated:
    """The multipliers at which every vᵀPv equals its redundancy."""

    log_variance: Floats
    """(K,) log f²; 0 where it was not estimated."""
    state: State
    settled: bool
    steps: int


def basis_of(adjustment: Adjustment) -> Floats:
    """Return T of an exact condition among the unknowns; empty without one."""
    factor = adjustment.factor
    if isinstance(factor, dense.DenseFactor):
        return factor.basis
    at = (adjustment.network, adjustment.datum, adjustment.nodes, adjustment.columns)
    bound = azimuth_constraint(*at)
    return bound.basis() if bound else np.zeros((0, 0))


def state_of(
    stacks: Sequence[Stack],
    log_variance: Floats,
    unknowns: int,
    basis: Floats | None = None,
) -> State:
    """Return square sums, redundancies and information with given multipliers.

    Parameters
    ----------
    stacks : sequence of Stack
    log_variance : ndarray, shape (K,)
        log f² of each component.
    unknowns : int
        u, columns of the stacks' rows.
    basis : ndarray, shape (u, y), optional
        As of ``dense.factor``.
    """
    inverse_root = np.append(np.exp(-log_variance / 2), 1.0)
    scaled = [_scaled(one, inverse_root) for one in stacks]
    matrix = normal_matrix(scaled, unknowns)
    factor = dense.factor(matrix, basis if basis is not None and basis.size else None)
    shift = np.append(factor.solve(right_side(scaled, unknowns)), 0.0)
    count = len(log_variance)
    square, redundancy = np.zeros(count + 1), np.zeros(count + 1)
    criterion = 2 * float(np.log(np.diagonal(factor.lower)).sum())
    known = _Information(count, unknowns)
    for one, rows in zip(stacks, scaled, strict=True):
        local = factor.blocks(rows.columns, rows.columns)
        left = rows.misclosure - np.einsum(
            "cqw,cw->cq", rows.design, shift[rows.columns]
        )
        size = float(np.append(log_variance, 0.0)[one.label].sum())
        criterion += len(left) * size + float(np.sum(left**2))
        pulled = np.einsum("cqr,cq->cr", one.root, left)
        turned = np.einsum("crq,cq->cr", one.back, left)
        np.add.at(square, one.label, (pulled * turned).sum(axis=0))
        hat = rows.design @ local @ np.swapaxes(rows.design, 1, 2)
        free = one.back @ (np.eye(hat.shape[1]) - hat) @ one.root
        np.add.at(redundancy, one.label, np.einsum("cqq->q", free))
        known.add(one, rows.design, rows.columns, local)
    information = known.total(factor.inverse[:-1, :-1])
    return State(square[:-1], redundancy[:-1], information, criterion)


def _scaled(one: Stack, inverse_root: Floats) -> Whitened:
    """Return the rows of a stack whitened by multiplied covariances."""
    turn = (one.root * inverse_root[one.label]) @ one.back
    rows = one.rows
    return Whitened(
        rows.kind,
        rows.members,
        rows.lower,
        turn @ rows.design,
        np.einsum("cqr,cr->cq", turn, rows.misclosure),
        rows.columns,
    )


class _Information:
    """½ tr(P dQ_k P dQ_l), gathered from the stacks."""

    def __init__(self, components: int, unknowns: int) -> None:
        self.own = np.zeros((components, components))
        self.unknowns = unknowns
        self.entries: list[list[tuple[Ints, Ints, Floats]]] = [
            [] for _ in range(components)
        ]

    def add(self, one: Stack, design: Floats, columns: Ints, local: Floats) -> None:
        """Add what the rows of a stack have by themselves, and their normals."""
        here = [k for k in sorted(set(one.label.tolist())) if k >= 0]
        share, spread = [], []
        for k in here:
            at = one.label == k
            part = one.root[:, :, at] @ one.back[:, at]
            part = (part + np.swapaxes(part, 1, 2)) / 2
            share.append(part)
            spread.append(part @ design)
            normal = np.swapaxes(design, 1, 2) @ spread[-1]
            shape = normal.shape
            row = np.broadcast_to(columns[:, :, None], shape)
            column = np.broadcast_to(columns[:, None, :], shape)
            keep = (row >= 0) & (column >= 0)
            self.entries[k].append((row[keep], column[keep], normal[keep]))
        for i, k in enumerate(here):
            through = spread[i] @ local
            for j, other in enumerate(here):
                self.own[k, other] += np.sum(share[i] * share[j])
                self.own[k, other] -= 2 * np.sum(through * spread[j])

    def total(self, inverse: Floats) -> Floats:
        """Return the information, with the covariance of the unknowns."""
        normals = [self._normal(k) for k in range(len(self.own))]
        whole = self.own.copy()
        some = [k for k, one in enumerate(normals) if one.nnz]
        for start in range(0, self.unknowns, _CHUNK):
            at = slice(start, min(start + _CHUNK, self.unknowns))
            down = {k: normals[k] @ inverse[:, at] for k in some}
            across = {k: normals[k][at] @ inverse for k in some}
            for k in some:
                for other in some:
                    whole[k, other] += np.sum(across[k] * down[other].T)
        return (whole + whole.T) / 4

    def _normal(self, k: int) -> "sparse.csr_array":
        none = (np.zeros(0, np.int64), np.zeros(0, np.int64), np.zeros(0))
        row, column, value = (
            np.concatenate(some) for some in zip(none, *self.entries[k], strict=True)
        )
        shape = (self.unknowns, self.unknowns)
        return sparse.csr_array(sparse.coo_array((value, (row, column)), shape=shape))


def estimated(
    stacks: Sequence[Stack],
    asked: Bools,
    unknowns: int,
    basis: Floats | None = None,
    start: Floats | None = None,
    near: float = SETTLED,
    most: int = _MOST_STEPS,
) -> Estimated:
    """Return the multipliers of some components, the others as stated.

    Parameters
    ----------
    stacks : sequence of Stack
    asked : ndarray of bool, shape (K,)
    unknowns : int
    basis : ndarray, optional
    start : ndarray, shape (K,), optional
        log f² to start from.
    near : float, optional
        Change of log f² at which the iteration ends.
    most : int, optional
        Steps.
    """
    log_variance = np.where(asked, 0.0 if start is None else start, 0.0)
    for step in range(most):
        state = state_of(stacks, log_variance, unknowns, basis)
        if not asked.any():
            return Estimated(log_variance, state, True, 0)
        change = _change(state, asked, by_ratio=step < _RATIOS and start is None)
        after = np.clip(log_variance + change, _LEAST, _LARGEST)
        moved = np.abs(after - log_variance).max()
        if moved < near:
            return Estimated(log_variance, state, True, step)
        log_variance = after
    return Estimated(log_variance, state, False, most)


def _change(state: State, asked: Bools, *, by_ratio: bool) -> Floats:
    """Return the next step of log f²; 0 where nothing is asked."""
    change = np.zeros(len(asked))
    square = np.maximum(state.square_sum[asked], 1e-300)
    redundancy = np.maximum(state.redundancy[asked], 1e-300)
    if by_ratio:
        change[asked] = np.log(square) - np.log(redundancy)
        return change
    at = np.flatnonzero(asked)
    values, ways = np.linalg.eigh(state.information[np.ix_(at, at)])
    sound = np.maximum(values, 1e-9 * max(values.max(), 1e-300))
    step = ways @ ((ways.T @ (square - redundancy) / 2) / sound)
    change[asked] = np.clip(step, -_CAP, _CAP)
    return change
