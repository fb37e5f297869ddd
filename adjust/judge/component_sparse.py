"""How residuals stand with given multipliers: of many unknowns, by a sparse factor.

The same figures as of few (``component_dense``), without the whole covariance of the
unknowns: redundancies need it on the pattern of the normal matrix alone, and so does
the information, since with N_k what the rows of a component add to that matrix
tr(N_k Q N_l Q) = −Σ N_k ∘ dQ for dQ = −Q N_l Q, the derivative of the inverse where
the matrix has entries (derived here). Exact: nothing is drawn.

An exact condition and causes that are taken as true touch any number of unknowns. They
change A Q Aᵀ by R M Rᵀ of low rank, with a column of R each (``component_low``).
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from ...networks.covariances import Floats
from ..adjustment import Adjustment
from ..constraint import Constraint, azimuth_constraint
from ..normal import Whitened, chosen, local_columns, present_columns
from ..on_condition import BoundFactor
from ..sparse import Plan, SparseFactor, derivative
from .component_low import Solved, solved
from .component_state import Stack, State

_VALUES = 1 << 19
"""Covariances that are read together: 4 MB."""


@dataclass(frozen=True, slots=True)
class SparseSystem:
    """Rows of many unknowns."""

    stacks: Sequence[Stack]
    plan: Plan
    bound: Constraint | None
    shifts: Sequence[Floats]
    """(c, q, p) of each stack, as stated: causes that are taken as true."""

    def state(self, log_variance: Floats, like: State | None = None) -> State:
        """Return how the residuals stand."""
        rows = [one.rescaled(log_variance) for one in self.stacks]
        shifts = [
            one.turn(log_variance) @ more if more.shape[2] else more
            for one, more in zip(self.stacks, self.shifts, strict=True)
        ]
        made = solved(self.plan, rows, shifts, self.bound)
        count = len(log_variance)
        square, redundancy = np.zeros(count + 1), np.zeros(count + 1)
        criterion = made.log_determinant
        own = np.zeros((count, count))
        for number, one in enumerate(self.stacks):
            size = float(np.append(log_variance, 0.0)[one.label].sum())
            left = made.left[number]
            criterion += len(left) * size + float(np.sum(left**2))
            np.add.at(square, one.label, one.squares(left))
            for some, hat in _hats(made, number, rows[number]):
                part = _part(one, some)
                free = part.back @ (np.eye(hat.shape[1]) - hat)
                np.add.at(
                    redundancy, part.label, np.einsum("cqr,crq->q", free, part.root)
                )
                if like is None:
                    _add_own(own, part, hat)
        if like is not None:
            at = like.information, criterion, like.informed_at
            return State(square[:-1], redundancy[:-1], *at)
        whole = own + _across(self.stacks, made, rows, count)
        information = (whole + whole.T) / 4
        return State(square[:-1], redundancy[:-1], information, criterion, log_variance)


def sparse_system(
    adjustment: Adjustment, stacks: Sequence[Stack], shifts: Sequence[Floats]
) -> SparseSystem:
    """Return the rows of an adjustment whose factor is sparse, by its own plan.

    Parameters
    ----------
    adjustment : Adjustment
    stacks : sequence of Stack
        Its rows.
    shifts : sequence of ndarray, shape (c, q, p)
        Of each stack.
    """
    factor = adjustment.factor
    whole = factor.whole if isinstance(factor, BoundFactor) else factor
    assert isinstance(whole, SparseFactor)
    at = (adjustment.network, adjustment.datum, adjustment.nodes, adjustment.columns)
    # Stacks are other parts than the adjustment's batches: places of its own. Every
    # step looks at the tables again, so these are not let go.
    plan = replace(whole.plan, known={}, stacks=list(whole.plan.stacks))
    return SparseSystem(stacks, plan, azimuth_constraint(*at), shifts)


def _part(one: Stack, some: slice) -> Stack:
    """Return some clusters; their rows are not looked at."""
    return Stack(one.label, one.root[some], one.back[some], one.rows)


def _hats(made: Solved, number: int, rows: Whitened) -> Iterator[tuple[slice, Floats]]:
    """Yield (c, q, q) what the unknowns take of clusters, a few at a time."""
    present = present_columns(rows)
    columns, design = chosen(rows.columns, present), chosen(rows.design, present)
    step = max(1, _VALUES // max(*design.shape[1:], 1) ** 2)
    for start in range(0, len(design), step):
        some = slice(start, start + step)
        own = np.ascontiguousarray(design[some])
        local = np.ascontiguousarray(
            made.factor.cliques(columns[some], (number, start))
        )
        hat = own @ local @ np.swapaxes(own, 1, 2)
        low = made.low[number][some]
        yield some, np.asarray(hat + low @ made.weight @ np.swapaxes(low, 1, 2))


def _add_own(own: Floats, part: Stack, hat: Floats) -> None:
    """Add what rows of clusters have by themselves: tr W_k W_l − 2 tr W_k H W_l."""
    here = part.components
    share = [part.share(k) for k in here]
    for i, k in enumerate(here):
        rest = share[i] - 2 * share[i] @ hat
        for j, other in enumerate(here):
            own[k, other] += np.sum(rest * share[j])


@dataclass(frozen=True, slots=True)
class _Component:
    """What the rows of one component add to the normal matrix, and to it beside R."""

    normal: Floats
    """(entries,) N_k."""
    beside: Floats
    """(u, r) AᵀW_kR."""
    low: Floats
    """(r, r) RᵀW_kR."""


def _across(
    stacks: Sequence[Stack], made: Solved, rows: Sequence[Whitened], count: int
) -> Floats:
    """Return (K, K) tr(W_k H W_l H) with H = A Z Aᵀ + R M Rᵀ."""
    plan, weight = made.factor.plan, made.weight
    some = [_component(k, stacks, made, rows) for k in range(count)]
    twice = np.full(len(plan.pattern), 2.0)
    twice[plan.pattern.on_diagonal] = 1.0
    across = np.zeros((count, count))
    for k, other in enumerate(some):
        _, change = derivative(plan, made.factor.eliminated, other.normal)
        change *= twice
        solution = made.factor.solve(other.beside) if weight.size else other.beside
        for j, one in enumerate(some):
            across[j, k] -= float(one.normal @ change)
            across[j, k] += 2 * float(np.sum(weight * (one.beside.T @ solution)))
            across[j, k] += float(np.sum((weight @ one.low @ weight) * other.low))
    return across


def _component(
    component: int, stacks: Sequence[Stack], made: Solved, rows: Sequence[Whitened]
) -> _Component:
    plan, rank = made.factor.plan, len(made.weight)
    beside = np.zeros((len(plan.piece) + 1, rank))
    low = np.zeros((rank, rank))
    parts = []
    for one, batch, taken in zip(stacks, rows, made.low, strict=True):
        columns, design = (
            local_columns(batch),
            chosen(batch.design, present_columns(batch)),
        )
        first, second = np.tril_indices(columns.shape[1])
        if component not in one.components:
            # The places of a part are known by its number among all.
            parts.append((columns, np.zeros((len(columns), len(first)))))
            continue
        share = one.share(component)
        square = np.swapaxes(design, 1, 2) @ (share @ design)
        parts.append((columns, square[:, first, second]))
        pulled = share @ taken
        np.add.at(beside, columns, np.swapaxes(design, 1, 2) @ pulled)
        low += np.einsum("cqr,cqs->rs", taken, pulled)
    return _Component(plan.assemble(parts).values, beside[:-1], low)
