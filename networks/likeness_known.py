"""Names for what is wrong with a known mark: feet, frames, epochs, geoid heights."""

import numpy as np

from .covariances import Floats
from .frames import GeodeticFrame, crs
from .likeness import Named
from .likeness_frames import FrameEpoch, epoch_names, frame_names
from .likeness_names import (
    exchanged_digits,
    known_height_names,
    survey_foot_names,
)
from .network import Network

MOVING = (7912, 9989)
"""ITRF2014 and ITRF2020, in which marks move."""
NATIONAL = (6319, 4937, 7843, 4939, 4959, 4955)
"""NAD83(2011), ETRS89, GDA2020, GDA94, NZGD2000, NAD83(CSRS): geographic codes, tried
where their area of use holds the mark."""
EPOCHS = (1997.0, 2000.0, 2005.0, 2010.0, 2015.0, 2020.0)
"""Reference epochs of realizations in use (common practice)."""


def known_mark_names(network: Network, row: int, part: str) -> list[Named]:
    """Return the sizes that a wrong known coordinate has a name for.

    Parameters
    ----------
    network : Network
    row : int
        Of the known marks.
    part : "plan" or "height"

    Returns
    -------
    list of Named
        East and north, or up: booked minus true, m.
    """
    frame, xyz = network.frame, network.known.xyz[row]
    both = _frames(network, xyz) if isinstance(frame, GeodeticFrame) else []
    if part == "height":
        mark = network.known.mark[row]
        height = float(frame.heights(xyz[None])[0])
        undulation = _undulation(network, network.marks.name[mark])
        made = known_height_names(height - np.nan_to_num(undulation), undulation)
        made += exchanged_digits(f"{height - np.nan_to_num(undulation):.3f}")
        return made + [Named(one.words, one.size[2:], one.sd) for one in both]
    made = [Named(one.words, one.size[:2], one.sd) for one in both]
    return made + (_feet(network, xyz) if frame.has_grid else [])


def _undulation(network: Network, name: str) -> float:
    """Return the undulation of a mark, m; NaN where the network has none."""
    parameters = network.parameters
    for called, start in zip(parameters.name, parameters.start, strict=True):
        if called == f"undulation at {name}":
            return float(start)
    return float("nan")


def _feet(network: Network, xyz: Floats) -> list[Named]:
    """Return what one foot for the other does to grid coordinates, east and north.

    In the mark's own axes: the grid is turned against them by the convergence.
    """
    frame = network.frame
    north, east, height = frame.grid(xyz[None])[0]
    made = []
    for one in survey_foot_names(float(east), float(north)):
        true = np.array([north - one.size[1], east - one.size[0], height])
        there = frame.place(*(true[k : k + 1] for k in range(3)))[0]
        made.append(Named(one.words, (frame.axes(xyz[None])[0] @ (xyz - there))[:2]))
    return made


def _frames(network: Network, xyz: Floats) -> list[Named]:
    """Return what other frames and epochs make, east, north, up."""
    frame = network.frame
    if not isinstance(frame, GeodeticFrame):
        return []
    (place,) = frame.geodetic(xyz[None])
    code, epoch = frame.geographic_epsg, frame.epoch
    national = [code for code in NATIONAL if _holds(code, place)]
    job = FrameEpoch(code, epoch)
    others = [
        FrameEpoch(other, epoch, str(crs(other).name))
        for other in (*MOVING, *national)
        if other != code
    ]
    made = frame_names(place, job, others)
    if code in MOVING and national:
        others_than = [other for other in EPOCHS if abs(other - epoch) > 0.5]
        made += epoch_names(place, job, others_than, national[0])
    return made


def _holds(code: int, place: Floats) -> bool:
    """Return whether a frame's area of use holds a place, across 180° as well."""
    west, south, east, north = crs(code).area_of_use.bounds
    lat, lon = float(place[0]), float(place[1])
    inside = west <= lon <= east if west <= east else lon >= west or lon <= east
    return bool(south <= lat <= north and inside)
