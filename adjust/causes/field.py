"""What the kinds of cause are made from: an adjustment, its rows, and names."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

import numpy as np

from ...networks import Network
from ...networks.covariances import Bools, Ints
from ..adjustment import Adjustment
from ..equations import Equations
from .cause import Cause, together
from .rows import ROLES, Rows


@dataclass(frozen=True, slots=True)
class Labels:
    """Names that the network does not keep; what is missing gives no cause."""

    instrument: Mapping[str, str] = field(default_factory=dict)
    """Name of a pointing: the instrument that it was read with."""
    prism: Mapping[str, str] = field(default_factory=dict)
    """Name of a pointing: the prism that it was read to."""
    staff: Mapping[str, str] = field(default_factory=dict)
    """Name of a levelled run: its pair of staffs."""


@dataclass(frozen=True, slots=True)
class Field:
    """An adjustment and its rows, as the kinds of cause look at them."""

    adjustment: Adjustment
    rows: Rows
    labels: Labels
    kinds: dict[str, Equations]
    touched: frozenset[tuple[str, int]]
    """Role and number of each node that something was observed from or to."""
    short: Mapping[str, frozenset[int]] | None = None
    """Of very many edges those of each kind that are worth a look; None for all."""

    @property
    def network(self) -> Network:
        """The network that was adjusted."""
        return self.adjustment.network

    def used(self, kind: str) -> Bools:
        """Return which edges of a kind are in use."""
        if kind not in self.kinds:
            return np.zeros(0, dtype=bool)
        return self.kinds[kind].used

    def looked_at(self, kind: str) -> frozenset[int]:
        """Return the edges of a kind, or set-ups, that are looked at one by one."""
        if self.short is not None:
            return self.short.get(kind, frozenset())
        if kind == "set-up":
            return frozenset(range(len(self.network.set_ups)))
        return frozenset(np.flatnonzero(self.used(kind)).tolist())

    def of_nodes(
        self, nodes: Iterable[int], at: Ints, roles: tuple[str, ...] = ROLES
    ) -> list[Ints]:
        """Return base columns of nodes that move together, along the axes ``at``."""
        return [
            self.rows.node(int(node), role)[at]
            for node in nodes
            for role in roles
            if (role, int(node)) in self.touched
        ]

    def moved(
        self,
        kind: str,
        about: tuple[str, ...],
        words: str,
        nodes: Iterable[int],
        measure: str = "enu",
        roles: tuple[str, ...] = ROLES,
    ) -> list[Cause]:
        """Return the cause that nodes were booked off by common amounts, if any.

        Booked too large by ∇ means that the node stood ∇ lower: C = −A.
        """
        chosen = tuple(int(node) for node in nodes)
        at = np.array(["enu".index(letter) for letter in measure])
        groups = self.of_nodes(chosen, at, roles)
        if not groups:
            return []
        marks = tuple(self.network.mark_of(np.array(chosen)).tolist())
        parts = together(groups, -np.ones(len(groups)))
        return [Cause(kind, about, words, measure, *parts, chosen, marks)]

    def set_up(self, row: int) -> int:
        """Return the node of a set-up."""
        return len(self.network.marks) + row


def field_of(
    adjustment: Adjustment,
    rows: Rows,
    labels: Labels | None = None,
    short: Mapping[str, frozenset[int]] | None = None,
) -> Field:
    """Return the field of an adjustment.

    Parameters
    ----------
    adjustment : Adjustment
    rows : Rows
    labels : Labels, optional
    short : mapping, optional
        Edges of each kind that are looked at one by one; all when not given.
    """
    nodes = len(adjustment.columns)
    counts = np.diff(rows.base.indptr)
    touched = set()
    for role in ROLES:
        start = rows.first_of_role[role]
        some = counts[start : start + 3 * nodes].reshape(-1, 3).sum(axis=1)
        touched |= {(role, int(node)) for node in np.flatnonzero(some)}
    kinds = {some.kind: some for some in adjustment.equations}
    known = labels or Labels()
    return Field(adjustment, rows, known, kinds, frozenset(touched), short)
