"""Which cause comes first, and which causes cannot be told from it.

A larger cause that holds a smaller one must add significantly to what the smaller
explains (1 % over all that hold it); else the simplest that explains wins. If it does
add so much, the smaller does not explain the misfit and the larger goes before it.
Causes under which the best adds nothing significant form one group with it.
"""

from dataclasses import dataclass

import numpy as np
from scipy import sparse, special

from ...networks.covariances import Bools, Floats, Ints
from ..judge.limits import chi_square_quantile
from .evaluate import LEFT, Joint
from .left import Left

ADDS = 0.99
"""What a cause adds is significant above this quantile of chance (1 %)."""
_AFTER = 1e-8
_SAME = 1e-6
"""Share of a cause that another does not hold, below which it holds all of it."""


@dataclass(frozen=True, slots=True)
class Nesting:
    """Which causes hold which: of a design, whatever was observed."""

    holds: Bools
    """(k, k) [i, j] whether j holds all of i, and more."""
    same: Bools
    """(k, k) whether two causes are one and the same shift of the residuals."""
    small: Ints
    """(n,) of every pair of a cause and one that holds it, the smaller; in order of
    the components of the larger."""
    large: Ints
    first: Ints
    """Where the pairs of each number of components of the larger start."""
    adds: Floats
    """(n,) what the larger explains more is significant above this: 1 % over all that
    hold the smaller, so that their number overtakes nobody."""


@dataclass(frozen=True, slots=True)
class Order:
    """Causes from the best supported to the least."""

    order: Ints
    """Numbers of the causes that can be judged, best first."""
    holds: Bools
    """(k, k) [i, j] whether j holds all of i, and more."""
    same: Bools
    """(k, k) whether two causes are one and the same shift of the residuals."""
    wider: Bools
    """(k,) whether a smaller cause inside explains all that this one does."""


def nesting(joint: Joint | Left) -> Nesting:
    """Return which causes hold which.

    Parameters
    ----------
    joint : Joint or Left
        With unit blocks.
    """
    widths = np.diff(joint.first)
    held = _held(joint)
    same, holds = held & (widths[:, None] == widths), held & (widths[:, None] < widths)
    np.fill_diagonal(same, False)
    small, large = np.nonzero(holds)
    at = np.argsort(widths[large], kind="stable")
    small, large = small[at], large[at]
    more = (widths[large] - widths[small]).astype(float)
    holders = holds.sum(axis=1)[small]
    first = np.unique(widths[large], return_index=True)[1]
    return Nesting(
        holds,
        same,
        small,
        large,
        np.append(first, len(large)).astype(np.int64),
        np.asarray(special.chdtri(more, 1 - ADDS ** (1 / np.maximum(holders, 1)))),
    )


def ordered(joint: Joint | Left, test: Floats, nested: Nesting | None = None) -> Order:
    """Return the causes in order of their tests, the simplest that explains first.

    A larger cause that adds nothing significant stands behind the best of those inside
    that explain as much. A cause that is no common amount (a whole session) holds
    whatever else is wrong nearby; it goes before its parts by its test alone.

    Parameters
    ----------
    joint : Joint or Left
        With unit blocks.
    test : ndarray, shape (k,)
        √(T / limit) of each cause; NaN where it cannot be judged.
    nested : Nesting, optional
        Of the joint, where it is at hand.

    Returns
    -------
    Order
    """
    nested = nesting(joint) if nested is None else nested
    statistic = sums(joint.pull**2, joint.first)
    effective = np.where(np.isfinite(test), test, -np.inf)
    over = np.nan_to_num(test) > 1
    added = statistic[nested.large] - statistic[nested.small]
    # Within its limit a cause explains nothing, and no larger one stands behind it.
    explains = over[nested.small] | ~over[nested.large]
    weak = explains & np.isfinite(test)[nested.small] & (added < nested.adds)
    strong = over[nested.small] & (added >= nested.adds) & joint.common[nested.large]
    for start, end in zip(nested.first[:-1], nested.first[1:], strict=True):
        small, large = nested.small[start:end], nested.large[start:end]
        before = effective[small]
        most, least = np.full(len(test), -np.inf), np.full(len(test), -np.inf)
        some = strong[start:end]
        np.maximum.at(most, large[some], before[some] + _AFTER)
        some = weak[start:end]
        np.maximum.at(least, large[some], before[some] - _AFTER)
        least[np.isneginf(least)] = np.inf
        effective = np.minimum(np.maximum(effective, most), least)
    wider = np.zeros(len(test), dtype=bool)
    wider[nested.large[weak & over[nested.small]]] = True
    widths = np.diff(joint.first)
    order = np.lexsort((np.arange(len(test)), widths, -np.round(effective, 9)))
    order = order[np.isfinite(test[order])]
    return Order(order, nested.holds, nested.same, wider)


def group_of(joint: Joint | Left, order: Order, best: int) -> list[int]:
    """Return the causes that cannot be told from a cause, itself first.

    Every cause not nested with it under which it adds nothing significant (1 % over
    all those that come as near), in their order.

    Parameters
    ----------
    joint : Joint or Left
    order : Order
    best : int
    """
    statistic, width = sums(joint.pull**2, joint.first), np.diff(joint.first)[best]
    apart = ~(order.holds[best] | order.holds[:, best])[order.order]
    rivals = order.order[apart & (order.order != best)]
    # Both together explain at least what the best does alone.
    behind = statistic[best] - statistic[rivals]
    level = ADDS ** (1 / max(1, int((behind < _limit(ADDS, width)).sum())))
    near = rivals[behind < _limit(level, width)]
    told = order.same[best, near] | ~_adds_to(joint, best, near, level)
    return [best, *near[told].tolist()]


def _adds_to(joint: Joint | Left, first: int, others: Ints, level: float) -> Bools:
    """Return (n,) whether a cause adds significantly to each of some others.

    The same as ``adds``, for blocks that are unit matrices.
    """
    own, widths = np.arange(*joint.first[first : first + 2]), np.diff(joint.first)
    ways = joint.ways(own)
    adding = np.zeros(len(others), dtype=bool)
    for width in np.unique(widths[others]).tolist():
        of = np.flatnonzero(widths[others] == width)
        at = joint.first[others[of]][:, None] + np.arange(width)
        across = np.swapaxes(ways[at], 1, 2)
        rest = joint.pull[own] - np.einsum("npw,nw->np", across, joint.pull[at])
        left = np.eye(len(own)) - across @ np.swapaxes(across, 1, 2)
        values, turn = np.linalg.eigh(left)
        real = values > LEFT
        along = np.einsum("npk,np->nk", turn, rest)
        more = np.where(real, along**2 / np.where(real, values, 1.0), 0.0).sum(axis=1)
        count = real.sum(axis=1)
        limit = special.chdtri(np.maximum(count, 1), 1 - level)
        adding[of] = (count > 0) & (more > limit)
    return adding


def adds(joint: Joint, first: int, second: int, level: float = ADDS) -> bool:
    """Return whether a cause adds significantly to what another explains.

    Parameters
    ----------
    joint : Joint
    first, second : int
        The one that may add, and the other.
    level : float
        Share of what chance adds that is not significant.
    """
    added, components = joint.added(first, second)
    return components > 0 and added > _limit(level, components)


def _limit(level: float, components: int) -> float:
    return chi_square_quantile(level, max(int(components), 1))


def sums(values: Floats, first: Ints) -> Floats:
    """Return (k,) sums over the columns of each cause.

    Examples
    --------
    >>> sums(np.array([1.0, 2.0, 4.0]), np.array([0, 2, 2, 3])).tolist()
    [3.0, 0.0, 4.0]
    """
    total = np.zeros(len(first) - 1)
    real = np.flatnonzero(np.diff(first))
    if len(real):
        total[real] = np.add.reduceat(values, first[real])
    return total


def _held(joint: Joint | Left) -> Bools:
    """Return (k, k): whether cause j holds all of cause i (their angles are zero).

    Of each cause one direction is laid upon all others; few hold that one, and these
    pairs are compared in full.
    """
    widths = np.diff(joint.first)
    held = np.zeros((len(widths), len(widths)), dtype=bool)
    real = np.flatnonzero(widths)
    if not len(real):
        return held
    share = joint.ways(joint.first[real + 1] - 1)
    share *= share
    pointer = np.append(joint.first[real], len(share))
    ones, columns = np.ones(len(share)), np.arange(len(share))
    summed = sparse.csr_array((ones, columns, pointer), shape=(len(real), len(share)))
    least = 1 - widths[real] * _SAME * 1.001 - 1e-12
    large, small = (real[some] for some in np.nonzero(summed @ share > least))
    apart = small != large
    small, large = small[apart], large[apart]
    whole = joint.shared(small, large) > widths[small] * (1 - _SAME)
    held[small[whole], large[whole]] = True
    return held
