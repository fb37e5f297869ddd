"""Robust estimates: to find suspects, never to be the result.

Blocks of observations (a vector, a session with its covariances, a set-up) that do not
fit are given less weight until the others agree. What is left of them points at faults
that hide each other in the residuals of least squares. Weights: Huber (1964), then the
third of the IGG family (Yang 1999; both from memory).
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from ...networks.covariances import Floats, Ints
from .. import dense
from ..adjustment import Adjustment
from ..normal import Whitened, dense_places
from .component_dense import basis_of
from .limits import chi_square_quantile, normal_limit

HUBER = 1.5
_KEEP, _DROP = 2.0, 4.5
"""Of a normal variable: full weight up to the first, none from the second on."""
_LEAST = 1e-6
"""Weight of what has none: the equations keep their rank."""
_CONVEX, _STEPS = 6, 20
_SETTLED = 1e-3
_CHECKED = 1e-7
_SEEN = 1e-13
_MAD = 0.6744897501960817
"""Median of the absolute value of a normal variable, in its sd."""


@dataclass(frozen=True, slots=True)
class RobustBlocks:
    """Weights of whole blocks; rows of an adjustment in their order."""

    first: Ints
    """(B + 1,) where the rows of each block start."""
    weight: Floats
    """(B,) from 0 (does not fit) to 1."""
    deviation: Floats
    """(B,) of each from what the others say, as a normal variable; 0 where nothing
    checks it."""

    def rows(self, below: float) -> Ints:
        """Return the rows of the blocks whose weight is less."""
        light = np.repeat(self.weight < below, np.diff(self.first))
        return np.flatnonzero(light)


def robust_blocks(
    adjustment: Adjustment, misclosure: Floats | None = None
) -> RobustBlocks:
    """Return which blocks of observations do not fit the others.

    Parameters
    ----------
    adjustment : Adjustment
    misclosure : ndarray, shape (n,), optional
        Minus the whitened residuals, in the order of the adjustment's rows; its own
        when not given.

    Returns
    -------
    RobustBlocks
        Every cluster of the covariances is a block. A block that nothing checks keeps
        its weight, whatever is wrong with it.
    """
    blocks = _blocks_of(adjustment, misclosure)
    weights = [np.ones(len(batch.members)) for batch in blocks.batches]
    for step in range(_STEPS):
        deviations = _deviations(blocks, weights)
        rule = _huber if step < _CONVEX else _redescending
        after = [rule(deviation) for deviation in deviations]
        pairs = zip(weights, after, strict=True)
        moved = max((np.abs(a - b).max(initial=0.0) for a, b in pairs), default=0.0)
        weights = after
        if step >= _CONVEX and moved < _SETTLED:
            break
    sizes = [np.full(len(b.members), b.misclosure.shape[1]) for b in blocks.batches]
    none = [np.zeros(0)]
    return RobustBlocks(
        np.cumsum(np.concatenate([[0], *sizes])).astype(np.int64),
        np.concatenate([*none, *weights]),
        np.concatenate([*none, *deviations]),
    )


@dataclass(frozen=True, slots=True)
class _Blocks:
    """Blocks with what of their equations no weight changes."""

    batches: list[Whitened]
    unknowns: int
    basis: Floats
    place: Ints
    """Where the products go in the normal matrix, row after row."""
    products: list[Floats]
    """AᵀA of the blocks of each batch."""
    pulls: list[Floats]
    """Aᵀl."""

    def normal(self, weights: list[Floats]) -> Floats:
        """Return the normal matrix at some weights, (u, u)."""
        pairs = zip(self.products, weights, strict=True)
        values = [np.zeros(0), *((p * w[:, None, None]).ravel() for p, w in pairs)]
        least = self.unknowns**2
        total = np.bincount(self.place, np.concatenate(values), least + 1)
        square = total[:-1].reshape(self.unknowns, self.unknowns)
        return np.asarray(square, dtype=np.float64)

    def right_side(self, weights: list[Floats]) -> Floats:
        """Return the right side at some weights, (u,)."""
        total = np.zeros(self.unknowns + 1)
        for batch, pull, w in zip(self.batches, self.pulls, weights, strict=True):
            total += np.bincount(
                (batch.columns % len(total)).ravel(),
                (pull * w[:, None]).ravel(),
                len(total),
            )
        return total[:-1]


def _blocks_of(adjustment: Adjustment, misclosure: Floats | None) -> _Blocks:
    batches = list(_with_misclosure(adjustment, misclosure))
    unknowns = int(adjustment.columns.max(initial=-1)) + 1
    return _Blocks(
        batches,
        unknowns,
        basis_of(adjustment),
        dense_places(batches, unknowns).flat,
        [np.swapaxes(b.design, 1, 2) @ b.design for b in batches],
        [np.einsum("cqw,cq->cw", b.design, b.misclosure) for b in batches],
    )


def _with_misclosure(
    adjustment: Adjustment, misclosure: Floats | None
) -> Iterator[Whitened]:
    first = 0
    for batch in adjustment.whitened:
        size = batch.misclosure.size
        if misclosure is None:
            yield batch
        else:
            own = misclosure[first : first + size].reshape(batch.misclosure.shape)
            yield replace(batch, misclosure=own)
        first += size


def _deviations(blocks: _Blocks, weights: list[Floats]) -> list[Floats]:
    """Return how far each block lies from what the others say, as weighted now.

    With h the eigenvalues of the block's A Q Aᵀ and w its weight, what the others
    say of it has variance 1 + (1 − w) h over 1 − w h along each.
    """
    basis = blocks.basis
    factor = dense.factor(blocks.normal(weights), basis if basis.size else None)
    shift = np.append(factor.solve(blocks.right_side(weights)), 0.0)
    found = []
    for batch, w in zip(blocks.batches, weights, strict=True):
        left = batch.misclosure - np.einsum(
            "cqw,cw->cq", batch.design, shift[batch.columns]
        )
        local = factor.blocks(batch.columns, batch.columns)
        hat = batch.design @ local @ np.swapaxes(batch.design, 1, 2)
        size, along = hat[:, 0], left
        if hat.shape[1] > 1:
            size, ways = np.linalg.eigh(hat)
            along = np.einsum("cqk,cq->ck", ways, left)
        free = 1 - w[:, None] * size
        checked = (free > _CHECKED) & (size > _SEEN)
        variance = np.where(checked, free * (1 + (1 - w)[:, None] * size), 1.0)
        statistic = np.where(checked, along**2 / variance, 0.0).sum(axis=1)
        found.append(_as_normal(statistic, checked.sum(axis=1)))
    return found


def _as_normal(statistic: Floats, components: Ints) -> Floats:
    """Return √T brought to one component by its 95 % limit."""
    scale = np.zeros(len(components))
    for p in set(components[components > 0].tolist()):
        limit = np.sqrt(chi_square_quantile(0.95, p))
        scale[components == p] = normal_limit(0.05) / limit
    return np.asarray(np.sqrt(statistic) * scale)


def _huber(deviation: Floats) -> Floats:
    return np.asarray(HUBER / np.maximum(deviation, HUBER))


def _redescending(deviation: Floats) -> Floats:
    """Return weights that fall to nothing for what lies far off."""
    u = np.maximum(deviation, _KEEP)
    fall = np.clip((_DROP - u) / (_DROP - _KEEP), 0.0, 1.0)
    return np.asarray(np.maximum(_KEEP / u * fall**2, _LEAST))


def huber(
    design: Floats, observed: Floats, k: float = HUBER, scale: float | None = None
) -> tuple[Floats, float]:
    """Return Huber's estimate of plain data of equal weight.

    Parameters
    ----------
    design : ndarray, shape (n, u)
    observed : ndarray, shape (n,)
    k : float, optional
        Residuals over k times the scale pull no harder than these.
    scale : float, optional
        sd of a sound observation, held fixed; when not given, the median of the
        absolute residuals about the least absolute deviations, over 0.6745.

    Returns
    -------
    estimate : ndarray, shape (u,)
    scale : float

    Examples
    --------
    >>> estimate, _ = huber(np.ones((3, 1)), np.array([0.0, 1.0, 101.0]), scale=1.0)
    >>> estimate.round(6).tolist()
    [1.25]
    """
    start = least_absolute(design, observed)
    if scale is None:
        scale = float(np.median(np.abs(observed - design @ start))) / _MAD
    x = start
    for _ in range(500):
        left = np.abs(observed - design @ x)
        weight = np.minimum(1.0, k * scale / np.maximum(left, 1e-300))
        after = _weighted(design, observed, weight)
        if np.abs(after - x).max() <= 1e-13 * max(1.0, float(np.abs(after).max())):
            return after, scale
        x = after
    return x, scale


def least_absolute(design: Floats, observed: Floats) -> Floats:
    """Return the estimate with the least sum of absolute residuals.

    Where several have it, as the median of an even number, the middle of them along
    each unknown.

    Parameters
    ----------
    design : ndarray, shape (n, u)
    observed : ndarray, shape (n,)

    Examples
    --------
    >>> least_absolute(np.ones((4, 1)), np.array([1.0, 2.0, 3.0, 40.0])).tolist()
    [2.5]
    """
    from scipy import optimize, sparse

    n, u = design.shape
    cost = np.concatenate([np.zeros(u), np.ones(2 * n)])
    equal = sparse.hstack([design, sparse.eye_array(n), -sparse.eye_array(n)])
    bounds = [(None, None)] * u + [(0, None)] * (2 * n)
    best = optimize.linprog(cost, A_eq=equal, b_eq=observed, bounds=bounds)
    most = sparse.csr_array(cost[None, :])
    sum_of = best.fun * (1 + 1e-12) + 1e-300
    ends = []
    for sign in (1.0, -1.0):
        for k in range(u):
            along = np.zeros(len(cost))
            along[k] = sign
            found = optimize.linprog(
                along, A_ub=most, b_ub=[sum_of], A_eq=equal, b_eq=observed,
                bounds=bounds,
            )  # fmt: skip
            ends.append(found.x[k] if found.x is not None else best.x[k])
    return np.asarray(np.array(ends).reshape(2, u).mean(axis=0))


def _weighted(design: Floats, observed: Floats, weight: Floats) -> Floats:
    root = np.sqrt(weight)
    found = np.linalg.lstsq(design * root[:, None], observed * root)[0]
    return np.asarray(found, dtype=np.float64)
