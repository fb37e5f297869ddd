"""Many networks as one: side by side, nothing joining them.

Whatever takes a network's columns as whole arrays then does so for all of them.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, fields, replace
from itertools import chain
from typing import Any, TypeVar

import numpy as np

from .covariances import Ints, stacked
from .network import Network
from .observations import (
    KnownMarks,
    Levels,
    Marks,
    Names,
    Parameters,
    Positions,
    SetUps,
    Sights,
    Vectors,
)

Columns = TypeVar(
    "Columns",
    Marks,
    SetUps,
    Vectors,
    Positions,
    KnownMarks,
    Sights,
    Levels,
    Parameters,
)
_NODES = ("start", "end", "node", "at", "to", "back")
"""Columns that hold numbers of nodes, where they are whole numbers."""


@dataclass(frozen=True, slots=True)
class SideBySide:
    """Networks as one network, and whose each of its nodes is."""

    network: Network
    owner: Ints
    """(N + q,) number of the network that a mark, set-up or parameter is of."""
    own: Ints
    """(N + q,) its number there, parameters counted after marks and set-ups."""
    count: int
    """How many networks there are."""


def alike(network: Network) -> tuple[object, ...]:
    """Return what networks must have in common to be laid side by side.

    Axes, and which kinds of observations and parameters there are; their numbers may
    differ. What belongs to a network as a whole (a geoid's shift, the middle about
    which groups of vectors are turned) is not among it.
    """
    levels, positions = network.levels, network.positions
    return (
        network.frame,
        network.dimension,
        tuple((some.kind, *_in_use(some.parameter)) for some in network.sights),
        None if levels is None else _in_use(levels.parameter),
        positions.parameter is None,
        network.vectors.parameter is None,
        network.known.orthometric is None,
        network.marks.deflection is None,
    )


def _in_use(parameter: Ints) -> tuple[bool, ...]:
    return tuple(np.any(parameter >= 0, axis=0).tolist())


def side_by_side(networks: Sequence[Network]) -> SideBySide:
    """Return networks that are alike as one.

    Parameters
    ----------
    networks : sequence of Network
        One at least, alike as ``alike`` says.

    Returns
    -------
    SideBySide
        Marks of all, then set-ups of all, then parameters of all.
    """
    at = _Places(
        np.array([len(one.marks) for one in networks]),
        np.array([len(one.set_ups) for one in networks]),
        np.array([len(one.parameters) for one in networks]),
    )
    first = networks[0]
    kinds = range(len(first.sights))
    levels = [one.levels for one in networks if one.levels is not None]
    whole = replace(
        first,
        marks=_joined([one.marks for one in networks], at),
        set_ups=_joined([one.set_ups for one in networks], at),
        vectors=_joined([one.vectors for one in networks], at),
        positions=_joined([one.positions for one in networks], at),
        known=_joined([one.known for one in networks], at),
        sights=tuple(_joined([one.sights[k] for one in networks], at) for k in kinds),
        levels=_joined(levels, at) if levels else None,
        parameters=_joined([one.parameters for one in networks], at),
        undulations=None,
    )
    numbers = (at.marks, at.set_ups, at.parameters)
    before = (np.zeros_like(at.marks), at.marks, at.marks + at.set_ups)
    each = np.arange(len(networks))
    return SideBySide(
        whole,
        np.concatenate([np.repeat(each, count) for count in numbers]),
        np.concatenate(
            [
                _counted(count) + np.repeat(start, count)
                for count, start in zip(numbers, before, strict=True)
            ]
        ),
        len(networks),
    )


def _counted(counts: Ints) -> Ints:
    """Return 0, 1, … of each, one after the other."""
    return np.arange(counts.sum()) - np.repeat(_before(counts), counts)


def _before(counts: Ints) -> Ints:
    return np.cumsum(counts) - counts


@dataclass(frozen=True, slots=True)
class _Places:
    """How many there are of each in each network, (k,)."""

    marks: Ints
    set_ups: Ints
    parameters: Ints

    def nodes(self, number: Ints, which: Ints) -> Ints:
        """Return numbers of nodes as they are side by side; −1 stays."""
        marks, set_ups = _before(self.marks), _before(self.set_ups)
        of_mark = number < self.marks[which]
        stood = self.marks.sum() + set_ups[which] - self.marks[which]
        return np.where(number < 0, -1, number + np.where(of_mark, marks[which], stood))

    def of_marks(self, number: Ints, which: Ints) -> Ints:
        """Return numbers of marks as they are side by side."""
        return number + _before(self.marks)[which]

    def of_parameters(self, number: Ints, which: Ints) -> Ints:
        """Return numbers of parameters as they are side by side; −1 stays."""
        return np.where(number < 0, -1, number + _before(self.parameters)[which, None])

    def renumbering(self, column: str) -> Callable[[Ints, Ints], Ints] | None:
        """Return what renumbers a column; None where it holds no such numbers."""
        if column in _NODES:
            return self.nodes
        return {"mark": self.of_marks, "parameter": self.of_parameters}.get(column)


def _joined(parts: Sequence[Columns], at: _Places) -> Columns:
    """Return the columns one network after another, what they number renumbered."""
    counts = np.array([len(part) for part in parts])
    which = np.repeat(np.arange(len(parts)), counts)
    made: dict[str, Any] = {}
    for column in (field.name for field in fields(parts[0])):
        values = [getattr(part, column) for part in parts]
        if column == "covariances":
            made[column] = stacked(
                replace(batch, members=batch.members + start)
                for batches, start in zip(values, _before(counts), strict=True)
                for batch in batches
            )
        elif isinstance(values[0], tuple):
            made[column] = _named(values)
        elif any(value is None for value in values):
            made[column] = None
        elif not isinstance(values[0], str):
            together = np.concatenate(values)
            change = at.renumbering(column)
            if change is not None and together.dtype == np.int64:
                together = change(together, which)
            made[column] = together
    return replace(parts[0], **made)


def _named(values: Sequence[Names]) -> Names:
    return tuple(chain.from_iterable(values))
