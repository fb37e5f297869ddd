"""What instruments read in a field, without noise: sights, levels, vectors.

Written from the geometry of each reading and apart from the equations of the
adjustment, so that the two can be held against each other.
"""

import numpy as np

from ..covariances import Floats, Ints
from ..observations import Levels, Sights
from .field import Field

_EARTH = 6371000.0
"""m; mean radius, for the curvature of a ray of light."""


def vectors_read(field: Field) -> Floats:
    """Return (n, 3) the vectors, each from its start's point up to its end's, m.

    A group with a scale and a turn about the vertical of the job's middle (of a site
    grid: of its centre) sees them larger and turned.
    """
    vectors, network = field.network.vectors, field.network
    delta = _raised(field, vectors.end, vectors.end_offset)
    delta -= _raised(field, vectors.start, vectors.start_offset)
    if vectors.parameter is None:
        return delta
    scale, angle = _values(field, vectors.parameter).T
    east, north, up = np.eye(3)
    if network.frame.kind == "geodetic":
        middle = field.nodes[: len(network.marks)].mean(axis=0)
        east, north, up = network.frame.axes(middle[None])[0]
    along = np.stack([delta @ east, delta @ north, delta @ up], axis=1)
    sine, cosine = np.sin(angle), np.cos(angle)
    turned = np.outer(along[:, 0] * cosine - along[:, 1] * sine, east)
    turned += np.outer(along[:, 0] * sine + along[:, 1] * cosine, north)
    turned += np.outer(along[:, 2], up)
    return np.asarray((1 + scale)[:, None] * turned)


def position_shifts(field: Field) -> Floats:
    """Return (n, 3) the shifts of the positions' groups, east, north, up, m."""
    positions = field.network.positions
    if positions.parameter is None:
        return np.zeros((len(positions), 3))
    return _values(field, positions.parameter)


def sights_read(field: Field, sights: Sights) -> Floats:
    """Return (n,) the readings of one kind of sight, m or rad."""
    east, north, up = _line(field, sights, sights.to, sights.to_height)
    level = np.hypot(east, north)
    slope = np.hypot(level, up)
    azimuth = np.arctan2(east, north)
    first, second = _values(field, sights.parameter).T
    kind = sights.kind
    if kind in ("slope distance", "horizontal distance"):
        length = slope if kind == "slope distance" else level
        return np.asarray(length * (1 + second) + first)
    if kind == "zenith angle":
        fixed = sights.parameter[:, 0] < 0
        bend = np.where(fixed, sights.refraction, first)
        # Air bends the ray down to the ground, so the target is seen too high.
        return np.asarray(np.arctan2(level, up) - bend * slope / (2 * _EARTH))
    if kind == "direction":
        azimuth = azimuth - first
    elif kind == "angle":
        back = _line(field, sights, sights.back, sights.back_height)
        azimuth = azimuth - np.arctan2(back[0], back[1])
    return np.asarray(np.mod(azimuth, 2 * np.pi))


def levels_read(field: Field, levels: Levels) -> Floats:
    """Return (l,) the rises above the geoid, or of the site, end minus start, m."""
    heights = field.network.frame.heights(field.nodes)
    modelled = _values(field, levels.parameter)
    fixed = np.stack([levels.start_undulation, levels.end_undulation], axis=1)
    undulation = np.where(levels.parameter >= 0, modelled, fixed)
    common = common_undulation(field)
    undulation = undulation + np.stack([common[levels.start], common[levels.end]], 1)
    start = heights[levels.start] - undulation[:, 0]
    return np.asarray(heights[levels.end] - undulation[:, 1] - start)


def common_undulation(field: Field) -> Floats:
    """Return (m + s,) the shift and tilt that the undulations really have, m."""
    stated = field.network.undulations
    if stated is None:
        return np.zeros(len(field.nodes))
    shift, to_east, to_north = np.append(field.values, 0.0)[list(stated.common)]
    east, north = stated.from_middle(field.nodes).T
    return np.asarray(shift + to_east * east + to_north * north)


def _values(field: Field, parameter: Ints) -> Floats:
    """Return the true values of parameters, 0 for none."""
    return np.asarray(np.append(field.values, 0.0)[parameter])


def _raised(field: Field, nodes: Ints, height: Floats) -> Floats:
    """Return (n, 3) the points above nodes."""
    places = field.nodes[nodes]
    return places + height[:, None] * field.network.frame.axes(places)[:, 2]


def _line(field: Field, sights: Sights, to: Ints, height: Floats) -> Floats:
    """Return (3, n): east, north, up of the sight in the instrument's axes, m."""
    reach = _raised(field, to, height) - _raised(field, sights.at, sights.at_height)
    return np.asarray(np.einsum("nij,nj->in", _plumb_axes(field, sights.at), reach))


def _plumb_axes(field: Field, nodes: Ints) -> Floats:
    """Return (n, 3, 3) east, north, up of instruments that stand on the plumb line.

    Its zenith is up + ξ·north + η·east; north is where the earth's axis points when
    seen from there, so that azimuths turn by η·tan φ.
    """
    axes = field.network.frame.axes(field.nodes[nodes])
    deflection = field.network.marks.deflection
    if deflection is None:
        return axes
    lean_north, lean_east = deflection[field.network.mark_of(nodes)].T[:, :, None]
    zenith = axes[:, 2] + lean_north * axes[:, 1] + lean_east * axes[:, 0]
    pole = np.array([0.0, 0.0, 1.0])
    if field.network.frame.kind == "local":
        pole = np.array([0.0, 1.0, 0.0])
    east = np.cross(pole, zenith)
    made = np.stack([east, np.cross(zenith, east), zenith], axis=1)
    return np.asarray(made / np.linalg.norm(made, axis=2, keepdims=True))
