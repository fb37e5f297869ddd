"""Terrestrial observations, evaluated in space: no reduction to a plane.

d = R_at (X_to + t u_to − X_at − h u_at) is the line of sight in the local axes of the
instrument; each kind is a function of d (Leick, GPS Satellite Surveying; Vanicek and
Krakiwsky, Geodesy: the concepts; from memory). Partials include the turn of the
local axes as a mark moves.
"""

from collections.abc import Callable

import numpy as np

from ...networks import Network, Sights
from ...networks.covariances import Floats, Ints, keep, single
from ..nodes import Nodes
from .equations import Equations

_EARTH = 6371000.0
"""m; mean radius, for the curvature of a ray of light: refraction itself is known to
a tenth at best, so no better radius is needed."""

_Made = tuple[Floats, Floats]
"""A value (n,) and its partials with respect to d (n, 3)."""


def equations(network: Network, nodes: Nodes, sights: Sights) -> Equations:
    """Return the equations of one kind of sight, one row each.

    Node slots: instrument, target, back target of an angle, then two parameters.
    """
    line, of_at, of_to = _line(nodes, sights.at, sights.to, sights)
    value, by_line = _KINDS[sights.kind](line)
    design = np.zeros((len(sights), 1, 5, 3))
    design[:, 0, 0] = np.einsum("ni,nij->nj", by_line, of_at)
    design[:, 0, 1] = np.einsum("ni,nij->nj", by_line, of_to)
    if sights.kind == "angle":
        value = _add_back(nodes, sights, value, design)
    value = _with_parameters(nodes, sights, value, line, design)
    difference = sights.value - value
    if sights.kind not in ("slope distance", "horizontal distance"):
        difference = np.mod(difference + np.pi, 2 * np.pi) - np.pi
    back = sights.back if sights.kind == "angle" else np.full(len(sights), -1)
    places = len(nodes.xyz)
    extra = np.where(sights.parameter >= 0, places + sights.parameter, -1)
    return Equations(
        sights.kind,
        difference[:, None],
        design,
        np.concatenate([np.stack([sights.at, sights.to, back], axis=1), extra], axis=1),
        np.ones((len(sights), 1), dtype=bool),
        keep(single(sights.sd[:, None, None] ** 2), sights.used, 1),
    )


def line_of_sight(nodes: Nodes, sights: Sights) -> Floats:
    """Return (n, 3) the lines of sight, east, north, up at the instrument, m."""
    return _line(nodes, sights.at, sights.to, sights)[0]


def _line(
    nodes: Nodes, at: Ints, to: Ints, sights: Sights, back: bool = False
) -> tuple[Floats, Floats, Floats]:
    """Return d (n, 3) and its partials by the instrument and the target (n, 3, 3)."""
    h = sights.at_height[:, None]
    t = (sights.back_height if back else sights.to_height)[:, None]
    axes, there = nodes.axes[at], nodes.axes[to]
    reach = nodes.xyz[to] + t * there[:, 2] - nodes.xyz[at] - h * axes[:, 2]
    line = np.einsum("nij,nj->ni", axes, reach)
    of_at = np.broadcast_to(-np.eye(3), (len(at), 3, 3)).copy()
    of_to = axes @ np.swapaxes(there, 1, 2)
    for k in (0, 1):
        turn, turn_there = nodes.turn[at, k], nodes.turn[to, k]
        leaning = np.einsum("nij,nj->ni", turn, reach)
        of_at[:, :, k] += leaning - h * np.einsum("nij,nj->ni", axes, turn[:, 2])
        of_to[:, :, k] += t * np.einsum("nij,nj->ni", axes, turn_there[:, 2])
    if nodes.plumb is None:
        return line, of_at, of_to
    # An instrument stands on the plumb line: its axes lean by the deflection.
    leaned = np.eye(3) - np.swapaxes(
        np.cross(nodes.plumb[at][:, None], np.eye(3)), 1, 2
    )
    return np.einsum("nij,nj->ni", leaned, line), leaned @ of_at, leaned @ of_to


def _slope(line: Floats) -> _Made:
    slope = np.linalg.norm(line, axis=1)
    return slope, line / slope[:, None]


def _horizontal(line: Floats) -> _Made:
    level = np.hypot(line[:, 0], line[:, 1])
    partial = np.zeros_like(line)
    partial[:, :2] = line[:, :2] / level[:, None]
    return level, partial


def _azimuth(line: Floats) -> _Made:
    square = line[:, 0] ** 2 + line[:, 1] ** 2
    zero = np.zeros(len(line))
    partial = np.stack([line[:, 1] / square, -line[:, 0] / square, zero], axis=1)
    return np.arctan2(line[:, 0], line[:, 1]), partial


def _zenith(line: Floats) -> _Made:
    level = np.hypot(line[:, 0], line[:, 1])
    square = np.sum(line**2, axis=1)
    partial = np.empty_like(line)
    partial[:, :2] = line[:, :2] * (line[:, 2] / (square * level))[:, None]
    partial[:, 2] = -level / square
    return np.arctan2(level, line[:, 2]), partial


_KINDS: dict[str, Callable[[Floats], _Made]] = {
    "slope distance": _slope,
    "horizontal distance": _horizontal,
    "direction": _azimuth,
    "angle": _azimuth,
    "azimuth": _azimuth,
    "zenith angle": _zenith,
}


def _add_back(nodes: Nodes, sights: Sights, value: Floats, design: Floats) -> Floats:
    """Return foresight minus backsight azimuth, the partials completed."""
    line, of_at, of_back = _line(nodes, sights.at, sights.back, sights, back=True)
    azimuth, by_line = _azimuth(line)
    design[:, 0, 0] -= np.einsum("ni,nij->nj", by_line, of_at)
    design[:, 0, 2] = -np.einsum("ni,nij->nj", by_line, of_back)
    return np.asarray(value - azimuth)


def _with_parameters(
    nodes: Nodes, sights: Sights, value: Floats, line: Floats, design: Floats
) -> Floats:
    """Return the value with orientation, constant and scale, or refraction.

    Direction = azimuth − orientation. Distance = length·(1 + scale) + constant.
    Refraction lifts the ray: zenith angle − k s / 2R.
    """
    first, second = sights.parameter.T
    padded = np.concatenate([nodes.values, [0.0]])
    if sights.kind == "direction":
        design[:, 0, 3, 0] = np.where(first >= 0, -1.0, 0.0)
        return np.asarray(value - padded[first])
    if sights.kind in ("slope distance", "horizontal distance"):
        scale = padded[second]
        design[:, 0, :3] *= (1 + scale)[:, None, None]
        design[:, 0, 3, 0] = np.where(first >= 0, 1.0, 0.0)
        design[:, 0, 4, 0] = np.where(second >= 0, value, 0.0)
        return np.asarray(value * (1 + scale) + padded[first])
    if sights.kind == "zenith angle":
        coefficient = np.where(first >= 0, padded[first], sights.refraction)
        slope, by_line = _slope(line)
        bend = coefficient / (2 * _EARTH)
        turned = by_line * bend[:, None]
        _, of_at, of_to = _line(nodes, sights.at, sights.to, sights)
        design[:, 0, 0] -= np.einsum("ni,nij->nj", turned, of_at)
        design[:, 0, 1] -= np.einsum("ni,nij->nj", turned, of_to)
        design[:, 0, 3, 0] = np.where(first >= 0, -slope / (2 * _EARTH), 0.0)
        return np.asarray(value - slope * bend)
    return np.asarray(value)
