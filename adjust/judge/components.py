"""Which rows of the observations share a multiplier of their standard deviations.

A component is a kind of observation in a group, plan and height apart: vectors of a
processing group, set-ups by what carried them, directions, levelled runs. It is what
a decision on a multiplier can change.
"""

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from ...networks import Network
from ...networks.covariances import Bools, Floats, Ints
from ..adjustment import Adjustment
from ..equations import Equations
from ..normal import Whitened
from .component_state import Stack
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
        if some.kind not in _STATED and active.any():
            groups, group = _groups(adjustment.network, some)
            parts = [_part(some.kind, row) for row in range(active.shape[1])]
            names = sorted(set(parts))
            part = np.array([names.index(one) for one in parts])
            code = group[:, None] * len(names) + part
            # Numbered as they are met, row after row.
            seen, first = np.unique(code[active], return_index=True)
            number = np.full(len(groups) * len(names), -1)
            for one in seen[np.argsort(first)].tolist():
                made = Component(
                    some.kind, groups[one // len(names)], names[one % len(names)]
                )
                number[one] = found.setdefault(made, len(found))
            label[active] = number[code[active]]
        labels[some.kind] = label
    return tuple(found), labels


def _part(kind: str, row: int) -> str:
    if kind in ("baseline", "position", "set-up", "known mark"):
        return "height" if row == 2 else "plan"
    if kind in ("level difference", "zenith angle"):
        return "height"
    return "distance" if kind.endswith("distance") else "plan"


def _groups(network: Network, some: Equations) -> tuple[list[str], Ints]:
    """Return the names of groups, and (n,) which of them each edge is of."""
    if some.kind == "set-up":
        names = list(dict.fromkeys(network.set_ups.support))
        place = {name: k for k, name in enumerate(names)}
        return names, np.array([place[one] for one in network.set_ups.support])
    group: Ints | None = None
    if some.kind == "baseline":
        group = network.vectors.group
    elif some.kind == "position":
        group = network.positions.group
    elif some.kind == "level difference" and network.levels is not None:
        group = network.levels.group
    else:
        group = next((s.group for s in network.sights if s.kind == some.kind), None)
    if group is None:
        group = np.full(len(some.used), -1)
    return [*network.groups, ""], np.where(group < 0, len(network.groups), group)


def stacks_of(
    adjustment: Adjustment, labels: dict[str, Ints], shifts: Floats | None = None
) -> tuple[list[Stack], list[Floats]]:
    """Return the whitened rows, those with the same components side by side.

    Parameters
    ----------
    adjustment : Adjustment
    labels : dict of str to ndarray of int
    shifts : ndarray, shape (n, p), optional
        Whitened columns of causes that are taken as true.

    Returns
    -------
    stacks : list of Stack
    shifts : list of ndarray, shape (c, q, p)
        Of each stack.
    """
    kinds = {some.kind: some for some in adjustment.equations}
    whole = sum(batch.misclosure.size for batch in adjustment.whitened)
    given = np.zeros((whole, 0)) if shifts is None else shifts
    made: list[Stack] = []
    causes: list[Floats] = []
    first = 0
    for batch in adjustment.whitened:
        clusters, size = batch.misclosure.shape
        some = kinds[batch.kind]
        more = given[first : first + clusters * size]
        more = more.reshape(clusters, size, given.shape[1])
        first += clusters * size
        root = _in_own_axes(batch, turn_of(adjustment, some))
        back = np.asarray(np.linalg.inv(root), dtype=np.float64)
        label = labels[batch.kind][batch.members].reshape(clusters, size)
        for pattern, own in _alike(label):
            made.append(Stack(pattern, root[own], back[own], _some(batch, own)))
            causes.append(more[own])
    return made, causes


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
