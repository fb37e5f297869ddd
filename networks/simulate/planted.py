"""Blunders to plant: what really was is changed, what was booked stays."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from ..errors import CommandError
from ..observations import Names
from .field import Field

FOOT = 0.3048
"""m; international foot, exact (1959 agreement)."""


@dataclass(frozen=True, slots=True)
class Blunder:
    """A blunder to plant.

    Examples
    --------
    A height read as 1.671 m where 1.617 m was on the tape:

    >>> Blunder("set-up height", "S3-2", (0.0, 0.0, 0.054)).shift[2]
    0.054
    """

    kind: str
    """One of ``BLUNDERS``."""
    about: str
    """Name of the set-up (of an antenna, an instrument or a target), baseline,
    position, known mark, pointing or levelled run."""
    shift: tuple[float, float, float] = (0.0, 0.0, 0.0)
    """East, north, up, m: booked minus true, + is booked too large. Of a reading its
    own value comes first, m or rad, and the others are not used."""
    other: str = ""
    """The second name, where the kind needs one."""


def plant(field: Field, blunder: Blunder) -> Field:
    """Return the field with a blunder in it.

    Parameters
    ----------
    field : Field
    blunder : Blunder

    Returns
    -------
    Field

    Raises
    ------
    CommandError
        Its kind or its name is not known.
    """
    if blunder.kind not in BLUNDERS:
        raise CommandError(
            f"unknown kind of blunder '{blunder.kind}'; known: {', '.join(BLUNDERS)}"
        )
    return BLUNDERS[blunder.kind](field, blunder)


def _row(names: Names, name: str, what: str) -> int:
    if name not in names:
        raise CommandError(f"no {what} '{name}'; there are {', '.join(names)}")
    return names.index(name)


def _set_up(field: Field, name: str) -> int:
    """Return the node of a set-up."""
    row = _row(field.network.set_ups.name, name, "set-up")
    return len(field.network.marks) + row


def _moved(field: Field, node: int, enu: Sequence[float]) -> Field:
    nodes = field.nodes.copy()
    nodes[node] += np.asarray(enu) @ field.network.frame.axes(nodes[node : node + 1])[0]
    return replace(field, nodes=nodes)


def _set_up_height(field: Field, blunder: Blunder) -> Field:
    """Let the antenna stand lower than booked by the up shift."""
    node = _set_up(field, blunder.about)
    return _moved(field, node, (0.0, 0.0, -blunder.shift[2]))


def _set_up_plan(field: Field, blunder: Blunder) -> Field:
    """Let the set-up stand off its mark: booked minus true is the other way."""
    east, north, _ = blunder.shift
    return _moved(field, _set_up(field, blunder.about), (-east, -north, 0.0))


def _height_in_feet(field: Field, blunder: Blunder) -> Field:
    """Let the height be one read in feet: true is 0.3048 of booked."""
    node = _set_up(field, blunder.about)
    booked = field.network.set_ups.height[node - len(field.network.marks)]
    return _moved(field, node, (0.0, 0.0, booked * (FOOT - 1.0)))


def _wrong_mark(field: Field, blunder: Blunder) -> Field:
    """Let the set-up stand over the other mark, with its own centring error."""
    node = _set_up(field, blunder.about)
    mark = int(field.network.mark_of(np.array([node]))[0])
    other = _row(field.network.marks.name, blunder.other, "mark")
    nodes = field.nodes.copy()
    axes = field.network.frame.axes(nodes[[mark, other]])
    nodes[node] = nodes[other] + (axes[0] @ (nodes[node] - nodes[mark])) @ axes[1]
    return replace(field, nodes=nodes)


def _exchanged(field: Field, blunder: Blunder) -> Field:
    """Let two set-ups be booked under each other's names."""
    pair = [_set_up(field, blunder.about), _set_up(field, blunder.other)]
    nodes = field.nodes.copy()
    nodes[pair] = nodes[pair[::-1]]
    return replace(field, nodes=nodes)


def _known_mark(field: Field, blunder: Blunder) -> Field:
    """Let every known row of the mark be off the truth by the shift."""
    names = field.network.marks.name
    mark = _row(names, blunder.about, "mark")
    rows = field.network.known.mark == mark
    if not rows.any():
        raise CommandError(f"mark '{blunder.about}' has no known coordinates")
    shift = field.known_shift + rows[:, None] * np.asarray(blunder.shift)
    return replace(field, known_shift=shift)


def _baseline(field: Field, blunder: Blunder) -> Field:
    """Let the vector be too large by the shift, in the axes of its start."""
    vectors = field.network.vectors
    row = _row(vectors.name, blunder.about, "baseline")
    start = vectors.start[row]
    axes = field.network.frame.axes(field.nodes[start : start + 1])[0]
    shift = field.vector_shift.copy()
    shift[row] += np.asarray(blunder.shift) @ axes
    return replace(field, vector_shift=shift)


def _position(field: Field, blunder: Blunder) -> Field:
    """Let the position be off the truth by the shift."""
    row = _row(field.network.positions.name, blunder.about, "position")
    shift = field.position_shift.copy()
    shift[row] += blunder.shift
    return replace(field, position_shift=shift)


def _reading(field: Field, blunder: Blunder) -> Field:
    """Let one reading be too large: a wrong pointing, a distance."""
    kinds = [sights.kind for sights in field.network.sights]
    if blunder.kind not in kinds:
        raise CommandError(f"there is no {blunder.kind} in the network")
    number = kinds.index(blunder.kind)
    name = field.network.sights[number].name
    shifts = [shift.copy() for shift in field.sight_shift]
    shifts[number][_row(name, blunder.about, blunder.kind)] += blunder.shift[0]
    return replace(field, sight_shift=tuple(shifts))


def _prism_constant(field: Field, blunder: Blunder) -> Field:
    """Let every distance to the prism of a set-up be too long."""
    node = _set_up(field, blunder.about)
    shifts = [
        shift + (sights.to == node) * blunder.shift[0]
        if sights.kind in _DISTANCES
        else shift
        for sights, shift in zip(field.network.sights, field.sight_shift, strict=True)
    ]
    return replace(field, sight_shift=tuple(shifts))


def _levelled(field: Field, blunder: Blunder) -> Field:
    """Let the rise of a levelled run be too large."""
    levels = field.network.levels
    names = () if levels is None else levels.name
    shift = field.level_shift.copy()
    shift[_row(names, blunder.about, "levelled run")] += blunder.shift[0]
    return replace(field, level_shift=shift)


_DISTANCES = ("slope distance", "horizontal distance")
_READINGS = (*_DISTANCES, "direction", "angle", "azimuth", "zenith angle")

BLUNDERS: Mapping[str, Callable[[Field, Blunder], Field]] = {
    "set-up height": _set_up_height,
    "set-up plan": _set_up_plan,
    "set-up height in feet": _height_in_feet,
    "set-up on wrong mark": _wrong_mark,
    "set-ups exchanged": _exchanged,
    "baseline": _baseline,
    "position": _position,
    "known mark": _known_mark,
    "prism constant": _prism_constant,
    "level difference": _levelled,
    **dict.fromkeys(_READINGS, _reading),
}
"""Every kind of blunder that can be planted."""
