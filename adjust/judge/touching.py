"""What observations see of groups of nodes that move together, as whole arrays.

A node that stood off by ∇ shifts all that was observed from it; the whitened columns
of that shift are −A, summed over the nodes of the group.
"""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from ...networks.covariances import Bools, Floats, Ints
from ..adjustment import Adjustment
from ..cliques import WIDE
from ..normal import Whitened, present_columns
from .hats import hats, parts

_AT_ONCE = 100_000
"""Groups that are worked through together; bounds the memory."""
_VALUES = 1 << 18
"""Covariances that are read together: 2 MB, which a processor keeps near."""
_SOLVED = 384
"""Equations solved together …"""
_NUMBERS = 1 << 25
"""… with no more numbers than these: 256 MB."""


@dataclass(frozen=True, slots=True)
class Touched:
    """Where the observations of one batch see groups."""

    batch: Whitened
    cluster: Ints
    """(P,) in their order"""
    group: Ints
    """(P,)"""
    column: Floats
    """(P, q, 3) whitened partials by the group as a whole."""

    def some(self, which: Bools) -> "Touched":
        """Return some of the places, in the same order."""
        return Touched(
            self.batch, self.cluster[which], self.group[which], self.column[which]
        )


@dataclass(frozen=True, slots=True)
class Groups:
    """What all observations see of k groups, in the groups' axes east, north, up."""

    own: Floats
    """(k, 3, 3) CᵀPC."""
    pull: Floats
    """(k, 3) −CᵀPv: towards booked too large."""
    lost: Floats
    """(k, 3, 3) CᵀPAQAᵀPC: what the unknowns take of it."""


def seen_of_groups(adjustment: Adjustment, group: Ints, count: int) -> Groups:
    """Return what the observations say of groups of nodes.

    Parameters
    ----------
    adjustment : Adjustment
    group : ndarray of int, shape (N + q + 1,)
        Group of each node, −1 for none; one more for node −1.
    count : int
    """
    own, lost = np.zeros((2, count, 3, 3))
    pull = np.zeros((count, 3))
    for low in range(0, count, _AT_ONCE):
        inside = (group >= low) & (group < low + _AT_ONCE)
        some = np.where(inside, group - low, -1)
        here = slice(low, low + _AT_ONCE)
        size = len(own[here])
        found = list(touched(adjustment, some))
        for one in found:
            column = one.column
            square = np.swapaxes(column, 1, 2) @ column
            np.add.at(own[here], one.group, square)
            left = one.batch.misclosure[one.cluster]
            # Booked too large by ∇ means that the node stood ∇ lower: C = −A.
            np.add.at(pull[here], one.group, -np.einsum("pqr,pq->pr", column, left))
        found = _alone(adjustment, found, lost[here])
        if found:
            lost[here] += taken(adjustment, *couplings(found, size), size)
    return Groups(own, pull, lost)


def _alone(adjustment: Adjustment, found: list[Touched], lost: Floats) -> list[Touched]:
    """Fill in what unknowns take of groups that one cluster alone sees.

    They take of it what they take of the cluster, as of a set-up of one session.

    Returns
    -------
    list of Touched
        Where the others are seen.
    """
    times = np.zeros(len(lost), dtype=np.int64)
    for one in found:
        times += np.bincount(one.group, minlength=len(lost))
    rest = []
    for one in found:
        alone = times[one.group] == 1
        if alone.any():
            mine = one.some(alone)
            lost[mine.group] = _of_cluster(adjustment, mine)
        if not alone.all():
            rest.append(one.some(~alone))
    return rest


def _of_cluster(adjustment: Adjustment, seen: Touched) -> Floats:
    """Return CᵀPAQAᵀPC of columns, each in its own cluster, (P, 3, 3)."""
    made = np.empty((len(seen.group), 3, 3))
    present = present_columns(seen.batch)
    (number,) = (k for k, b in enumerate(adjustment.whitened) if b is seen.batch)
    for start, part in parts(seen.batch):
        ends = [start, start + len(part.members)]
        here = slice(*np.searchsorted(seen.cluster, ends).tolist())
        if here.start == here.stop:
            continue
        hat = hats(adjustment, part, present, (number, start))
        column = np.ascontiguousarray(seen.column[here])
        along = hat[seen.cluster[here] - start] @ column
        made[here] = np.swapaxes(column, 1, 2) @ along
    return made


def seen_of_nodes(adjustment: Adjustment, nodes: Ints) -> tuple[Floats, Floats]:
    """Return CᵀPC (3, 3, k) and −CᵀPv (3, k) of each of some nodes, as ``Groups``.

    Parameters
    ----------
    adjustment : Adjustment
    nodes : ndarray of int, shape (k,)
        None twice.
    """
    place = np.full(len(adjustment.columns) + 1, -1)
    place[nodes] = np.arange(len(nodes))
    count = len(nodes) + 1
    made, pull = np.zeros((3, 3, count)), np.zeros((3, count))
    for batch, own in _slots(adjustment, place):
        for of, columns, left in _by_slot(batch, own):
            for i in range(3):
                along = np.einsum("qn,qn->n", columns[:, i], left)
                pull[i] -= np.bincount(of + 1, along, count)
            for i, j in _TRIANGLE:
                square = np.einsum("qn,qn->n", columns[:, i], columns[:, j])
                made[i, j] += np.bincount(of + 1, square, count)
    for i, j in _TRIANGLE:
        made[j, i] = made[i, j]
    return made[:, :, 1:], pull[:, 1:]


_TRIANGLE = tuple((i, j) for i in range(3) for j in range(i + 1))


def _slots(adjustment: Adjustment, group: Ints) -> Iterator[tuple[Whitened, Ints]]:
    """Yield batches, other than set-ups, and the group in each slot of a cluster."""
    kinds = {some.kind: some for some in adjustment.equations}
    for batch in adjustment.whitened:
        if batch.kind != "set-up":
            nodes = kinds[batch.kind].node[batch.members]
            yield batch, group[nodes.reshape(len(batch.members), -1)]


def _by_slot(batch: Whitened, own: Ints) -> Iterator[tuple[Ints, Floats, Floats]]:
    """Yield groups (n,), their columns (q, 3, n) and misclosures (q, n) of clusters."""
    if batch.members.shape[1] > 1:
        # A group may stand at several ends of a cluster: it moves them together.
        found = _touched(batch, own)
        left = batch.misclosure[found.cluster]
        yield found.group, np.moveaxis(found.column, 0, -1), left.T
        return
    design = batch.design.reshape(len(own), batch.design.shape[1], -1, 3)
    for slot, of in enumerate(own.T):
        if (of >= 0).any():
            yield of, np.moveaxis(design[:, :, slot], 0, -1), batch.misclosure.T


def touched(adjustment: Adjustment, group: Ints) -> Iterator[Touched]:
    """Yield where observations, other than set-ups, touch groups of nodes."""
    for batch, own in _slots(adjustment, group):
        if (own >= 0).any():
            yield _touched(batch, own)


def _touched(batch: Whitened, own: Ints) -> Touched:
    """Return where the clusters of a batch touch groups, given by slot."""
    c, slot = np.nonzero(own >= 0)
    # Whitened partials, free of which components are unknown: (c, q, k·s, 3).
    design = batch.design.reshape(len(own), batch.design.shape[1], -1, 3)
    of = own[c, slot]
    # A group may stand at several ends of a cluster: it moves them together.
    order = np.lexsort((of, c))
    c, slot, of = c[order], slot[order], of[order]
    new = np.append(
        np.ones(min(len(c), 1), bool), (np.diff(c) != 0) | (np.diff(of) != 0)
    )
    column = design[c, :, slot]
    if not new.all():
        column = np.add.reduceat(column, np.flatnonzero(new), axis=0)
    return Touched(batch, c[new], of[new], column)


def couplings(found: list[Touched], count: int) -> tuple[Ints, Ints, Floats]:
    """Return group, column and −AᵀPC (e, 3) of what groups share with unknowns.

    Sorted by group, each column once.
    """
    groups, columns, values = [], [], []
    for one in found:
        at = one.batch.columns[one.cluster]
        value = np.einsum("pqw,pqr->pwr", one.batch.design[one.cluster], one.column)
        keep = at >= 0
        groups.append(np.broadcast_to(one.group[:, None], at.shape)[keep])
        columns.append(at[keep])
        values.append(value[keep])
    none = np.zeros(0, dtype=np.int64)
    group = np.concatenate([none, *groups])
    column = np.concatenate([none, *columns])
    value = np.concatenate([np.zeros((0, 3)), *values])
    order = np.lexsort((column, group))
    group, column, value = group[order], column[order], value[order]
    if not len(group):
        return group, column, value
    new = np.append(True, (np.diff(group) != 0) | (np.diff(column) != 0))
    total = np.add.reduceat(value, np.flatnonzero(new), axis=0)
    return group[new], column[new], total


def taken(
    adjustment: Adjustment, group: Ints, column: Ints, value: Floats, count: int
) -> Floats:
    """Return gᵀQg of each group, (count, p, p).

    Parameters
    ----------
    adjustment : Adjustment
    group, column : ndarray of int, shape (e,)
        Sorted by group.
    value : ndarray, shape (e, p)
        g.
    count : int
    """
    parts = value.shape[1]
    made = np.zeros((count, parts, parts))
    size = np.bincount(group, minlength=count)
    first = np.cumsum(size) - size
    blocks = adjustment.factor.blocks
    low = 0
    for high in (6, 12, 18, 24, 36, 54, WIDE):
        some = np.flatnonzero((size > low) & (size <= high))
        step = max(1, _VALUES // high**2)
        for start in range(0, len(some), step):
            few = some[start : start + step]
            at = first[few][:, None] + np.arange(high)
            there = np.arange(high) < size[few][:, None]
            at = np.where(there, at, 0)
            columns = np.where(there, column[at], -1)
            g = np.where(there[:, :, None], value[at], 0.0)
            made[few] = np.swapaxes(g, 1, 2) @ blocks(columns, columns) @ g
        low = high
    wide = np.flatnonzero(size > WIDE)
    most = min(_SOLVED, _NUMBERS // max(1, int(adjustment.columns.max(initial=0))))
    step = max(1, most // parts)
    for start in range(0, len(wide), step):
        few = wide[start : start + step]
        number = np.full(count, -1)
        number[few] = np.arange(len(few))
        here = number[group] >= 0
        right = np.zeros((adjustment.columns.max() + 1, len(few), parts))
        right[column[here], number[group[here]]] = value[here]
        moved = adjustment.factor.solve(right.reshape(len(right), -1))
        made[few] = np.einsum("ukp,ukq->kpq", right, moved.reshape(right.shape))
    return made
