"""Terrestrial observations, evaluated in space: no reduction to a plane.

d = R_at (X_to + t u_to − X_at − h u_at) is the line of sight in the local axes of the
instrument; each kind is a function of d (Leick, GPS Satellite Surveying; Vanicek and
Krakiwsky, Geodesy: the concepts; from memory). Partials include the turn of the
local axes as a mark moves.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from ...networks import Network, Sights
from ...networks.covariances import Floats, Ints, keep, single
from ..nodes import Nodes, last_first, taken
from .equations import Equations

_EARTH = 6371000.0
"""m; mean radius, for the curvature of a ray of light: refraction itself is known to
a tenth at best, so no better radius is needed."""

_Made = tuple[Floats, Floats]
"""A value (n,) and its partials with respect to the line of sight (3, n)."""


def equations(network: Network, nodes: Nodes, sights: Sights) -> Equations:
    """Return the equations of one kind of sight, one row each.

    Node slots: instrument, target, back target of an angle, then the parameters.
    """
    count, places = len(sights), len(nodes.xyz)
    slots = [sights.at, sights.to]
    if sights.kind == "angle":
        slots.append(sights.back)
    entering = [k for k in (0, 1) if (sights.parameter[:, k] >= 0).any()]
    for number in sights.parameter.T[entering]:
        slots.append(np.where(number >= 0, places + number, -1))
    design = np.zeros((len(slots), 3, count))
    value = _fill(nodes, sights, design, entering)
    difference = sights.value - value
    if sights.kind not in ("slope distance", "horizontal distance"):
        difference -= 2 * np.pi * np.rint(difference / (2 * np.pi))
    return Equations(
        sights.kind,
        difference[:, None],
        last_first(design)[:, None],
        last_first(np.stack(slots)),
        np.ones((count, 1), dtype=bool),
        keep(single(sights.sd[:, None, None] ** 2), sights.used, 1),
    )


def _fill(nodes: Nodes, sights: Sights, design: Floats, entering: list[int]) -> Floats:
    """Return the values of the sights, and put their partials into (slots, 3, n)."""
    line = _line(nodes, sights.at, sights.to, sights.at_height, sights.to_height)
    value, by_line = _KINDS[sights.kind](line.seen)
    value, by_line, by_parameters = _with_parameters(
        nodes, sights, value, by_line, line.seen
    )
    design[0], design[1] = line.partials(by_line)
    if sights.kind == "angle":
        back = _line(
            nodes, sights.at, sights.back, sights.at_height, sights.back_height
        )
        behind, by_back = _azimuth(back.seen)
        at_too, design[2] = back.partials(-by_back)
        value = value - behind
        design[0] += at_too
    for slot, k in enumerate(entering, start=len(design) - len(entering)):
        design[slot, 0] = np.where(sights.parameter[:, k] >= 0, by_parameters[k], 0.0)
    return value


def line_of_sight(nodes: Nodes, sights: Sights) -> Floats:
    """Return (n, 3) the lines of sight, east, north, up at the instrument, m."""
    made = _line(nodes, sights.at, sights.to, sights.at_height, sights.to_height)
    return last_first(made.seen)


@dataclass(frozen=True, slots=True)
class _Line:
    """Lines of sight, columns in memory, and what their partials need."""

    seen: Floats
    """(3, n) d, in the axes of the instrument's plumb line, m."""
    level: Floats
    """(3, n) d, east, north, up."""
    axes: Floats
    """(3, 3, n) rows east, north, up at the instrument."""
    there: Floats
    """(3, 3, n) and at the target."""
    turn: Floats
    """(2, 3, n) how they turn, see ``Nodes``."""
    turn_there: Floats
    plumb: Floats | None
    at_height: Floats
    to_height: Floats

    def partials(self, by_line: Floats) -> tuple[Floats, Floats]:
        """Return partials by instrument and target, from those by d, all (3, n)."""
        pull = by_line
        if self.plumb is not None:
            pull = pull + np.cross(self.plumb, pull, axis=0)
        across = np.einsum("ji...,j...->i...", self.axes, pull)
        of_to = np.einsum("ij...,j...->i...", self.there, across)
        east, north, up = pull
        e, n, u = self.level
        of_at = -pull
        lean = self.to_height * of_to[:2]
        above = u + self.at_height
        about = east * n - north * e
        tilt_east, tilt_north = up * e - east * above, up * n - north * above
        for k in (0, 1):
            turning, east_up, north_up = self.turn[k]
            of_at[k] += turning * about + east_up * tilt_east + north_up * tilt_north
            _, east_up, north_up = self.turn_there[k]
            of_to[k] += east_up * lean[0] + north_up * lean[1]
        return of_at, of_to


def _line(nodes: Nodes, at: Ints, to: Ints, h: Floats, t: Floats) -> _Line:
    """Return the lines from h above the instruments to t above the targets."""
    axes, there = taken(nodes.axes, at), taken(nodes.axes, to)
    reach = taken(nodes.xyz, to) - taken(nodes.xyz, at) + t * there[2]
    level = np.einsum("ij...,j...->i...", axes, reach)
    level[2] -= h
    turn, turn_there = taken(nodes.turn, at), taken(nodes.turn, to)
    seen, plumb = level, None
    if nodes.plumb is not None:
        # An instrument stands on the plumb line: its axes lean by the deflection.
        plumb = taken(nodes.plumb, at)
        seen = level - np.cross(plumb, level, axis=0)
    return _Line(seen, level, axes, there, turn, turn_there, plumb, h, t)


def _slope(line: Floats) -> _Made:
    slope = np.sqrt(np.einsum("i...,i...->...", line, line))
    return slope, line / slope


def _horizontal(line: Floats) -> _Made:
    level = np.hypot(line[0], line[1])
    return level, np.stack([line[0] / level, line[1] / level, np.zeros_like(level)])


def _azimuth(line: Floats) -> _Made:
    east, north = line[:2]
    square = east**2 + north**2
    partial = np.stack([north / square, -east / square, np.zeros_like(square)])
    return np.arctan2(east, north), partial


def _zenith(line: Floats) -> _Made:
    east, north, up = line
    square = east**2 + north**2
    level = np.sqrt(square)
    slope = square + up**2
    tilt = up / (slope * level)
    partial = np.stack([east * tilt, north * tilt, -level / slope])
    return np.arctan2(level, up), partial


_KINDS: dict[str, Callable[[Floats], _Made]] = {
    "slope distance": _slope,
    "horizontal distance": _horizontal,
    "direction": _azimuth,
    "angle": _azimuth,
    "azimuth": _azimuth,
    "zenith angle": _zenith,
}


def _with_parameters(
    nodes: Nodes, sights: Sights, value: Floats, by_line: Floats, line: Floats
) -> tuple[Floats, Floats, list[Floats]]:
    """Return value and partials with orientation, constant and scale, or refraction.

    Direction = azimuth − orientation. Distance = length·(1 + scale) + constant.
    Refraction lifts the ray: zenith angle − k s / 2R. The partials by the parameters
    come last.
    """
    first, second = sights.parameter.T
    padded = np.append(nodes.values, 0.0)
    one = np.ones_like(value)
    if sights.kind == "direction":
        return value - padded[first], by_line, [-one]
    if sights.kind in ("slope distance", "horizontal distance"):
        factor = 1 + padded[second]
        return value * factor + padded[first], by_line * factor, [one, value]
    if sights.kind == "zenith angle":
        coefficient = np.where(first >= 0, padded[first], sights.refraction)
        slope, along = _slope(line)
        bend = coefficient / (2 * _EARTH)
        turned = by_line - along * bend
        return value - slope * bend, turned, [-slope / (2 * _EARTH)]
    return value, by_line, []
