"""Polar shots: direction, zenith angle and distance from adjusted, oriented control.

The instrument's place and the circle zero of its round come from the adjustment, with
their covariance; a free station is a mark like any other. Evaluated in space, so that
the grid's scale and turn take no part until the point is there.
"""

from dataclasses import dataclass

import numpy as np

from ...networks.covariances import Floats, Ints
from ...networks.map_scale import turn_and_scale, turned
from ...networks.shots import PolarShots
from ..adjustment import Adjustment
from ..precision.heights import orthometric_heights

_EARTH = 6371000.0
"""m; mean radius, for the curvature of a ray of light."""
_CARRIED = 4


@dataclass(frozen=True, slots=True)
class Polar:
    """Polar shots, computed."""

    shots: PolarShots
    coordinates: Floats
    """(p, 3) grid east, grid north, height, m."""
    own: Floats
    """(p, 3, 3) of readings, refraction and pole, grid axes, m²."""
    carrier: Ints
    """(p,) oriented instrument."""
    carried: Floats
    """(p, 3, 4) how place and orientation of the instrument move the point."""
    carriers: Floats
    """(4h, 4h) covariance of the oriented instruments."""
    nodes: Ints
    """(h,) node of each oriented instrument."""
    turns: Ints
    """(h,) its orientation as a node of the adjustment."""


def polar_shots(
    shots: PolarShots, adjustment: Adjustment, *, above_geoid: bool
) -> Polar:
    """Return polar shots as points, with their covariance.

    Parameters
    ----------
    shots : PolarShots
    adjustment : Adjustment
        Of the control network, with the orientations.
    above_geoid : bool
        Whether heights are wanted above the geoid: by the undulation at the mark
        under the instrument.
    """
    network, nodes = adjustment.network, adjustment.nodes
    line, partials = _lines(shots, adjustment)
    axes = nodes.axes[shots.at]
    start = nodes.xyz[shots.at] + shots.at_height[:, None] * axes[:, 2]
    top = start + np.einsum("nji,nj->ni", axes, line)
    ground = top - shots.target_height[:, None] * network.frame.axes(top)[:, 2]
    coordinates = network.frame.grid(ground)[:, [1, 0, 2]]
    mark = network.mark_of(shots.at)
    heights = orthometric_heights(adjustment) if above_geoid else None
    if heights is not None:
        coordinates[:, 2] -= heights.undulation[mark]
    marks = np.unique(mark)
    turn_of = np.zeros(len(network.marks))
    if len(marks):
        turn_of[marks] = turn_and_scale(network.frame, nodes.xyz[marks])[0]
    own = np.einsum("nij,nj,nkj->nik", partials, shots.sd**2, partials)
    own += _held(shots) + _refracted(shots)
    pairs = np.stack([shots.at, len(nodes.xyz) + shots.orientation], axis=1)
    each, carrier = np.unique(pairs, axis=0, return_inverse=True)
    carrier = carrier.ravel()
    carried = np.zeros((len(shots), 3, _CARRIED))
    carried[:, [0, 1, 2], [0, 1, 2]] = 1.0
    carried[:, :, 3] = _rotated(partials[:, :, 0], turn_of[mark])
    return Polar(
        shots,
        coordinates,
        turned(own, turn_of[mark]),
        carrier,
        carried,
        _covariance(adjustment, each, turn_of[network.mark_of(each[:, 0])]),
        each[:, 0],
        each[:, 1],
    )


def _lines(shots: PolarShots, adjustment: Adjustment) -> tuple[Floats, Floats]:
    """Return lines of sight, east, north, up at the instrument, and their partials.

    By direction, zenith angle and slope distance, (p, 3, 3). Azimuth = direction +
    orientation; the ray comes in higher than the target lies, by k s / 2R.
    """
    nodes = adjustment.nodes
    values = np.append(nodes.values, 0.0)
    constant, scale = values[shots.constants[:, 0]], values[shots.constants[:, 1]]
    slope = (shots.slope - constant) / (1 + scale)
    azimuth = shots.direction + values[shots.orientation]
    zenith = shots.zenith + shots.refraction * slope / (2 * _EARTH)
    sine, cosine = np.sin(azimuth), np.cos(azimuth)
    level, rise = np.sin(zenith), np.cos(zenith)
    unit = np.stack([level * sine, level * cosine, rise], axis=1)
    by_direction = slope[:, None] * np.stack(
        [level * cosine, -level * sine, np.zeros_like(sine)], axis=1
    )
    by_zenith = slope[:, None] * np.stack([rise * sine, rise * cosine, -level], axis=1)
    line = slope[:, None] * unit
    if nodes.plumb is not None:
        # The instrument stands on the plumb line: its axes lean by the deflection.
        line = line + np.cross(nodes.plumb[shots.at], line)
    return line, np.stack([by_direction, by_zenith, unit], axis=2)


def _held(shots: PolarShots) -> Floats:
    made = np.zeros((len(shots), 3, 3))
    made[:, 0, 0] = made[:, 1, 1] = shots.sd_hold[:, 0] ** 2
    made[:, 2, 2] = shots.sd_hold[:, 1] ** 2
    return made


def _refracted(shots: PolarShots) -> Floats:
    """Return what the sd of refraction adds, in height: s² σk / 2R."""
    made = np.zeros((len(shots), 3, 3))
    lift = shots.sd_refraction * shots.slope**2 / (2 * _EARTH)
    made[:, 2, 2] = lift**2
    return made


def _rotated(ways: Floats, turn: Floats) -> Floats:
    """Return ways in geodetic east, north, up turned to grid axes."""
    cosine, sine = np.cos(turn), np.sin(turn)
    east, north = ways[:, 0], ways[:, 1]
    return np.stack(
        [cosine * east - sine * north, sine * east + cosine * north, ways[:, 2]], axis=1
    )


def _covariance(adjustment: Adjustment, each: Ints, turn: Floats) -> Floats:
    """Return (4h, 4h) covariance of places and orientations, grid axes."""
    h = len(each)
    left, right = (grid.ravel() for grid in np.meshgrid(*(np.arange(h),) * 2))
    place, circle = each[:, 0], each[:, 1]
    made = np.zeros((h, _CARRIED, h, _CARRIED))
    blocks = adjustment.covariance(place[left], place[right])
    # Rows and columns turn with one angle: convergence varies little over a site.
    made[left, :3, right, :3] = turned(blocks, turn[left])
    mixed = adjustment.covariance(place[left], circle[right])[:, :, 0]
    mixed = _rotated(mixed, turn[left])
    made[left, :3, right, 3] = mixed
    made[right, 3, left, :3] = mixed
    made[left, 3, right, 3] = adjustment.covariance(circle[left], circle[right])[
        :, 0, 0
    ]
    return made.reshape(_CARRIED * h, _CARRIED * h)
