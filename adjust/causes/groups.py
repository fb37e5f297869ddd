"""Which cause comes first, and which causes cannot be told from it.

A larger cause that holds a smaller one must add significantly to what the smaller
explains; else the simplest that explains wins. If one of those that hold it does add so
much (1 % over all of them), the smaller does not explain the misfit and the larger goes
before it. Causes under which the best adds nothing
significant form one group with it.
"""

from dataclasses import dataclass

import numpy as np
from scipy import sparse

from ...networks.covariances import Bools, Floats, Ints
from ..judge.limits import chi_square_quantile
from .evaluate import Joint

ADDS = 0.99
"""What a cause adds is significant above this quantile of chance (1 %)."""
_AFTER = 1e-8
_SAME = 1e-6
"""Share of a cause that another does not hold, below which it holds all of it."""


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


def unit(joint: Joint) -> Joint:
    """Return the causes scaled anew to unit blocks; what is not left is dropped."""
    widths = np.diff(joint.first)
    roots, first = [], [0]
    for i, width in enumerate(widths.tolist()):
        at = np.arange(joint.first[i], joint.first[i] + width)
        values, vectors = np.linalg.eigh(joint.matrix[np.ix_(at, at)])
        left = values > 1e-7
        roots.append(vectors[:, left] / np.sqrt(values[left]))
        first.append(first[-1] + int(left.sum()))
    scale = sparse.csr_array(sparse.block_diag(roots, format="csr"))
    scaled = scale.T @ (scale.T @ joint.matrix.T).T
    first_of = np.array(first, dtype=np.int64)
    pull = scale.T @ joint.pull
    return Joint(scaled, pull, first_of, joint.common, joint.dropped)


def ordered(joint: Joint, test: Floats) -> Order:
    """Return the causes in order of their tests, the simplest that explains first.

    A cause that is no common amount (a whole session) holds whatever else is wrong
    nearby; it goes before its parts by its test alone.

    Parameters
    ----------
    joint : Joint
        With unit blocks.
    test : ndarray, shape (k,)
        √(T / limit) of each cause; NaN where it cannot be judged.

    Returns
    -------
    Order
    """
    widths = np.diff(joint.first)
    statistic = _sums(joint.pull**2, joint.first)
    held = _held(joint)
    equal = widths[:, None] == widths
    same, holds = held & equal, held & (widths[:, None] < widths)
    np.fill_diagonal(same, False)
    effective = np.where(np.isfinite(test), test, -np.inf)
    wider = np.zeros(len(test), dtype=bool)
    common = joint.common
    holders = (holds & common).sum(axis=1)
    for j in np.argsort(widths, kind="stable"):
        inside = np.flatnonzero(holds[:, j] & np.isfinite(test)).tolist()
        most, least = -np.inf, np.inf
        for i in inside:
            added, more = statistic[j] - statistic[i], int(widths[j] - widths[i])
            if added < chi_square_quantile(ADDS, more):
                wider[j] |= test[i] > 1
                least = min(least, effective[i] - _AFTER)
            elif (
                common[j]
                and test[i] > 1
                and added > chi_square_quantile(ADDS ** (1 / holders[i]), more)
            ):
                most = max(most, effective[i] + _AFTER)
        effective[j] = min(max(effective[j], most), least)
    rounded = np.round(effective, 9)
    order = np.lexsort((np.arange(len(test)), widths, -rounded))
    return Order(order[np.isfinite(test[order])], holds, same, wider)


def group_of(joint: Joint, order: Order, best: int) -> list[int]:
    """Return the causes that cannot be told from a cause, itself first.

    Every cause not nested with it under which it adds nothing significant, in their
    order.

    Parameters
    ----------
    joint : Joint
    order : Order
    best : int
    """
    members = [best]
    for j in order.order.tolist():
        if j == best or order.holds[best, j] or order.holds[j, best]:
            continue
        if order.same[best, j] or not adds(joint, best, j):
            members.append(j)
    return members


def adds(joint: Joint, first: int, second: int) -> bool:
    """Return whether a cause adds significantly to what another explains."""
    added, components = joint.added(first, second)
    return components > 0 and added > chi_square_quantile(ADDS, components)


def _sums(values: Floats, first: Ints) -> Floats:
    total = np.concatenate([[0.0], np.cumsum(values)])
    return np.asarray(total[first[1:]] - total[first[:-1]])


def _held(joint: Joint) -> Bools:
    """Return (k, k): whether cause j holds all of cause i (their angles are zero)."""
    count = len(joint.first) - 1
    member = np.repeat(np.arange(count), np.diff(joint.first))
    across = np.zeros((count, len(member)))
    np.add.at(across, member, joint.matrix**2)
    shared = np.zeros((count, count))
    np.add.at(shared.T, member, across.T)
    widths = np.diff(joint.first)
    return np.asarray((shared > widths[:, None] * (1 - _SAME)) & (widths > 0)[:, None])
