"""How residuals stand with given multipliers: with the whole covariance of unknowns."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from scipy import sparse

from ...networks.covariances import Floats, Ints
from .. import dense
from ..adjustment import Adjustment
from ..constraint import azimuth_constraint
from ..normal import Whitened, normal_matrix, right_side
from .component_state import Stack, State

_CHUNK = 256


def basis_of(adjustment: Adjustment) -> Floats:
    """Return T of an exact condition among the unknowns; empty without one."""
    factor = adjustment.factor
    if isinstance(factor, dense.DenseFactor):
        return factor.basis
    at = (adjustment.network, adjustment.datum, adjustment.nodes, adjustment.columns)
    bound = azimuth_constraint(*at)
    return bound.basis() if bound else np.zeros((0, 0))


@dataclass(frozen=True, slots=True)
class DenseSystem:
    """Rows of few unknowns."""

    stacks: Sequence[Stack]
    unknowns: int
    """u, columns of the stacks' rows."""
    basis: Floats
    """(u, y) as of ``dense.factor``; empty without an exact condition."""

    def state(self, log_variance: Floats, like: State | None = None) -> State:
        """Return how the residuals stand; the information is always made anew."""
        return state_of(self.stacks, log_variance, self.unknowns, self.basis)


def dense_system(
    adjustment: Adjustment, stacks: Sequence[Stack], shifts: Sequence[Floats]
) -> DenseSystem:
    """Return the rows of an adjustment, with an unknown more for each cause.

    Parameters
    ----------
    adjustment : Adjustment
    stacks : sequence of Stack
        Its rows.
    shifts : sequence of ndarray, shape (c, q, p)
        Of each stack: whitened columns of causes that are taken as true.
    """
    unknowns = int(adjustment.columns.max(initial=-1)) + 1
    more = shifts[0].shape[2] if shifts else 0
    wide = [
        replace(one, rows=_widened(one.rows, own, unknowns))
        for one, own in zip(stacks, shifts, strict=True)
    ]
    basis = _with_shifts(basis_of(adjustment), more)
    return DenseSystem(wide if more else stacks, unknowns + more, basis)


def _with_shifts(basis: Floats, more: int) -> Floats:
    """Return the basis with unknowns that no condition binds."""
    if not basis.size or not more:
        return basis
    u, y = basis.shape
    whole = np.zeros((u + more, y + more))
    whole[:u, :y] = basis
    whole[u:, y:] = np.eye(more)
    return whole


def _widened(batch: Whitened, more: Floats, unknowns: int) -> Whitened:
    """Return a batch with columns for causes; all clusters have all of them."""
    p = more.shape[2]
    columns = np.broadcast_to(unknowns + np.arange(p), (len(batch.columns), p))
    return replace(
        batch,
        design=np.concatenate([batch.design, more], axis=2),
        columns=np.concatenate([batch.columns, columns], axis=1),
    )


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
    scaled = [one.rescaled(log_variance) for one in stacks]
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
        np.add.at(square, one.label, one.squares(left))
        hat = rows.design @ local @ np.swapaxes(rows.design, 1, 2)
        free = one.back @ (np.eye(hat.shape[1]) - hat) @ one.root
        np.add.at(redundancy, one.label, np.einsum("cqq->q", free))
        known.add(one, rows.design, rows.columns, local)
    information = known.total(factor.inverse[:-1, :-1])
    return State(square[:-1], redundancy[:-1], information, criterion, log_variance)


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
        here = one.components
        share = [one.share(k) for k in here]
        spread = [part @ design for part in share]
        for k, part in zip(here, spread, strict=True):
            normal = np.swapaxes(design, 1, 2) @ part
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
