"""Small networks side by side: where their nodes are, and their rows there."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np

from ..networks import Network
from ..networks.covariances import Bools, Floats, Ints
from ..networks.side_by_side import SideBySide, side_by_side
from .datum import Datum
from .equations import equations
from .moves import moved_by, on_held
from .nodes import Nodes, nodes_at
from .normal import Whitened, summed, whiten
from .parted import by_network, nodes_of
from .unknowns import unknown_columns


class Group(NamedTuple):
    """Networks that are taken together."""

    numbers: tuple[int, ...]
    """Of the networks as they were given."""
    networks: tuple[Network, ...]
    holds: tuple[Datum, ...]


@dataclass(frozen=True, slots=True)
class Open:
    """Networks under way, and where their nodes are."""

    group: Group
    whole: SideBySide
    hold: Datum
    columns: Ints
    """(N + q, 3) column of each component, network by network."""
    first: Ints
    """(k + 1,) where each network's columns begin."""
    nodes: Nodes

    def moved(self, shift: Floats) -> "Open":
        """Return them moved by a shift of all unknowns, and back to where held."""
        network = self.whole.network
        nodes = moved_by(network, self.nodes, self.columns, shift)
        return replace(self, nodes=on_held(network, self.hold, nodes))

    def rows(self) -> "Rows":
        """Return the whitened rows where the nodes are."""
        rows, owners = [], []
        for some in equations(self.whole.network, self.hold, self.nodes):
            rows += whiten(some, self.columns)
            whose = self.whole.owner[some.node[:, 0]]
            owners += [whose[batch.members[:, 0]] for batch in some.covariances]
        return Rows(rows, owners, self.whole.count)


@dataclass(frozen=True, slots=True)
class Rows:
    """Whitened rows of all networks side by side."""

    batches: list[Whitened]
    owners: list[Ints]
    """(c,) network of each cluster of a batch."""
    count: int

    def square_sums(self) -> Floats:
        """Return (k,) vᵀPv of each network."""
        made = np.zeros(self.count)
        for batch, owner in zip(self.batches, self.owners, strict=True):
            squares = np.einsum("cq,cq->c", batch.misclosure, batch.misclosure)
            made += np.bincount(owner, squares, self.count)
        return made

    def matrices(self, first: Ints) -> list[Floats]:
        """Return the normal matrix of each network, (u, u)."""
        counts = np.diff(first)
        ends = np.cumsum(counts**2)
        flat = [np.zeros(0, dtype=np.int64)]
        for batch, owner in zip(self.batches, self.owners, strict=True):
            row, column = batch.columns[:, :, None], batch.columns[:, None]
            own = owner[:, None, None]
            begin = (ends - counts**2)[own] - first[own]
            at = begin + (row - first[own]) * counts[own] + column
            flat.append(np.where((row < 0) | (column < 0), ends[-1], at).ravel())
        values = summed(self.batches, np.concatenate(flat), int(ends[-1]))
        parts = np.split(values, ends[:-1])
        return [v.reshape(u, u) for v, u in zip(parts, counts.tolist(), strict=True)]


def laid(
    group: Group,
    marks: Floats,
    set_ups: Floats | None = None,
    values: Floats | None = None,
) -> Open:
    """Return networks side by side, their nodes at some places.

    Parameters
    ----------
    group : Group
        Networks that are alike, as ``networks.side_by_side.alike`` says.
    marks, set_ups, values : ndarray
        As for ``nodes_at``, one network after another.
    """
    whole, holds = side_by_side(group.networks), group.holds
    hold = replace(
        holds[0],
        held_rows=np.concatenate([one.held_rows for one in holds]),
        weighted=np.concatenate([one.weighted for one in holds]),
        azimuth=None,
    )
    columns, first = by_network(whole, unknown_columns(whole.network, hold))
    nodes = nodes_at(whole.network, marks, set_ups, values)
    return Open(group, whole, hold, columns, first, nodes)


def laid_at(group: Group, nodes: Sequence[Nodes]) -> Open:
    """Return networks side by side, with the nodes of each, in the axes they have."""
    marks = [len(network.marks) for network in group.networks]
    each = list(zip(nodes, marks, strict=True))
    first = [(own.xyz[:n], own.axes[:n], own.turn[:n]) for own, n in each]
    rest = [(own.xyz[n:], own.axes[n:], own.turn[n:]) for own, n in each]
    xyz, axes, turn = (
        np.concatenate(parts) for parts in zip(*first, *rest, strict=True)
    )
    values, count = np.concatenate([own.values for own in nodes]), sum(marks)
    made = laid(group, xyz[:count], xyz[count:], values)
    return replace(made, nodes=replace(made.nodes, axes=axes, turn=turn))


def some_of(made: Open, which: Bools) -> Open | None:
    """Return some of the networks where they are; None where there are none."""
    if which.all():
        return made
    chosen = np.flatnonzero(which).tolist()
    if not chosen:
        return None
    nodes = nodes_of(made.whole, made.nodes)
    less = Group(
        tuple(made.group.numbers[k] for k in chosen),
        tuple(made.group.networks[k] for k in chosen),
        tuple(made.group.holds[k] for k in chosen),
    )
    return laid_at(less, [nodes[k] for k in chosen])
