"""Which rows of the observations share a multiplier of their standard deviations.

A component is a kind of observation in a group, plan and height apart: vectors of a
processing group, set-ups by what carried them, directions, levelled runs. It is what
a decision on a multiplier can change.
"""

from collections.abc import Iterable
from dataclasses import dataclass, replace

import numpy as np

from ...networks import Network
from ...networks.covariances import Bools, Floats, Ints
from ..adjustment import Adjustment
from ..normal import Whitened
from .component_estimate import Stack
from .turned import turn_of

_TABLES = {"baseline": "baselines", "position": "positions"}
_SAID = {
    "baseline": "vectors",
    "position": "positions",
    "set-up": "set-ups",
    "known mark": "weighted known marks",
    "level difference": "levelled runs",
}
_STATED = ("parameter",)
"""Kinds that stay as stated: priors say what was known before."""


@dataclass(frozen=True, slots=True)
class Component:
    """Rows that share a multiplier."""

    kind: str
    """Of observation, as a blunder test calls it."""
    group: str
    """Of processing; of set-ups what carried them; empty for none."""
    part: str
    """``plan``, ``height`` or ``distance``: what a decision calls it."""

    @property
    def words(self) -> str:
        """As it is said.

        Examples
        --------
        >>> Component("baseline", "day 2", "height").words
        'vectors of group day 2, height'
        >>> Component("slope distance", "", "distance").words
        'slope distances'
        """
        said = _SAID.get(self.kind, f"{self.kind}s")
        if self.kind == "set-up":
            said += f" on {self.group}" if self.group else ""
            return f"{said}, {'centring' if self.part == 'plan' else 'height'}"
        if self.group:
            said += f" of group {self.group}"
        parts = self.kind in ("baseline", "position", "known mark")
        return f"{said}, {self.part}" if parts else said

    @property
    def decided_as(self) -> tuple[str, str]:
        """Kind and name that ``decide multiplier`` takes; empty where it has none.

        Rows without a group go by their table's name.

        Examples
        --------
        >>> Component("direction", "", "plan").decided_as
        ('group', 'total_station')
        """
        if self.kind == "known mark" or (self.kind == "set-up" and not self.group):
            return "", ""
        if self.kind == "set-up":
            return "support", self.group
        if self.kind == "level difference":
            return "group", self.group or "levels"
        return "group", self.group or _TABLES.get(self.kind, "total_station")


def labelled(
    adjustment: Adjustment,
) -> tuple[tuple[Component, ...], dict[str, Ints]]:
    """Return the components, and for each kind (m, r) which one a row is of.

    Rows are taken in east, north, up; −1 where a row is not observed or stays as it
    was stated.
    """
    found: dict[Component, int] = {}
    labels = {}
    for some in adjustment.equations:
        active = some.active & some.used[:, None]
        label = np.full(active.shape, -1, dtype=np.int64)
        if some.kind not in _STATED:
            for edge in np.flatnonzero(active.any(axis=1)).tolist():
                group = _group(adjustment.network, some.kind, edge)
                for row in np.flatnonzero(active[edge]).tolist():
                    one = Component(some.kind, group, _part(some.kind, row))
                    label[edge, row] = found.setdefault(one, len(found))
        labels[some.kind] = label
    return tuple(found), labels


def _part(kind: str, row: int) -> str:
    if kind in ("baseline", "position", "set-up", "known mark"):
        return "height" if row == 2 else "plan"
    if kind in ("level difference", "zenith angle"):
        return "height"
    return "distance" if kind.endswith("distance") else "plan"


def _group(network: Network, kind: str, edge: int) -> str:
    if kind == "set-up":
        return network.set_ups.support[edge]
    group: Ints | None = None
    if kind == "baseline":
        group = network.vectors.group
    elif kind == "position":
        group = network.positions.group
    elif kind == "level difference" and network.levels is not None:
        group = network.levels.group
    else:
        group = next((s.group for s in network.sights if s.kind == kind), None)
    if group is None or group[edge] < 0:
        return ""
    return network.groups[int(group[edge])]


def stacks_of(
    adjustment: Adjustment, labels: dict[str, Ints], shifts: Floats | None = None
) -> list[Stack]:
    """Return the whitened rows, those with the same components side by side.

    Parameters
    ----------
    adjustment : Adjustment
    labels : dict of str to ndarray of int
    shifts : ndarray, shape (n, p), optional
        Whitened columns of causes that are taken as true: p more unknowns.
    """
    kinds = {some.kind: some for some in adjustment.equations}
    unknowns = int(adjustment.columns.max(initial=-1)) + 1
    made: list[Stack] = []
    first = 0
    for batch in adjustment.whitened:
        clusters, size = batch.misclosure.shape
        some = kinds[batch.kind]
        if shifts is not None:
            more = shifts[first : first + clusters * size].reshape(clusters, size, -1)
            batch = _widened(batch, more, unknowns)
        first += clusters * size
        root = _in_own_axes(batch, turn_of(adjustment, some))
        back = np.asarray(np.linalg.inv(root), dtype=np.float64)
        label = labels[batch.kind][batch.members].reshape(clusters, size)
        for pattern, own in _alike(label):
            made.append(Stack(pattern, root[own], back[own], _some(batch, own)))
    return made


def _widened(batch: Whitened, more: Floats, unknowns: int) -> Whitened:
    """Return a batch with columns for causes; all clusters have all of them."""
    p = more.shape[2]
    columns = np.broadcast_to(unknowns + np.arange(p), (len(batch.columns), p))
    return replace(
        batch,
        design=np.concatenate([batch.design, more], axis=2),
        columns=np.concatenate([batch.columns, columns], axis=1),
    )


def _in_own_axes(batch: Whitened, turn: Floats) -> Floats:
    """Return (c, q, q) what whitens rows in east, north, up."""
    clusters, size = batch.members.shape
    rows = turn.shape[1]
    inverse = np.linalg.inv(batch.lower).reshape(clusters, size * rows, size, rows)
    turned = np.einsum("cqsr,csrk->cqsk", inverse, turn[batch.members])
    return np.asarray(turned.reshape(clusters, size * rows, size * rows))


def _alike(label: Ints) -> Iterable[tuple[Ints, Bools]]:
    patterns, number = np.unique(label, axis=0, return_inverse=True)
    for k, pattern in enumerate(patterns):
        yield pattern, np.asarray(number.ravel() == k)


def _some(batch: Whitened, own: Bools) -> Whitened:
    return Whitened(
        batch.kind,
        batch.members[own],
        batch.lower[own],
        batch.design[own],
        batch.misclosure[own],
        batch.columns[own],
    )
