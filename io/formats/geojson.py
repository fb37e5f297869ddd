"""GeoJSON (RFC 7946) of control marks: for display, no carrier of survey values.

The format knows one frame, WGS 84, and no epoch. So its own coordinates are for
display, and the exact values stand in the properties with unit, frame and epoch.
"""

import json
from collections.abc import Iterator
from typing import Any

import numpy as np

from ...networks import CommandError
from ...networks.covariances import Floats
from .control_csv import PIECE
from .control_points import ControlPoints

NOTE = (
    "The geometry is for display: GeoJSON takes every coordinate as WGS 84, which can "
    "differ by more than a metre from the frame of the survey. The survey values are "
    "the properties."
)


def write_geojson(points: ControlPoints) -> str:
    """Return the marks as a FeatureCollection of points.

    Parameters
    ----------
    points : ControlPoints

    Returns
    -------
    str
        JSON; positions are longitude, latitude in degrees (8 decimals, about 1 mm)
        and ellipsoidal height in metres, as RFC 7946 section 3.1.1 demands.

    Raises
    ------
    CommandError
        The job is local: its marks have no longitude and latitude.
    """
    return "".join(geojson_pieces(points))


def geojson_pieces(points: ControlPoints) -> Iterator[str]:
    """Return the same in pieces of some thousand marks.

    Parameters
    ----------
    points : ControlPoints

    Returns
    -------
    iterator of str

    Raises
    ------
    CommandError
        As above, before the first piece is asked for.
    """
    if not np.isfinite(points.geodetic).all():
        raise CommandError(
            "a local job has no longitude and latitude, and GeoJSON has nothing else; "
            "export --csv writes its coordinates"
        )
    return _pieces(points)


def _pieces(points: ControlPoints) -> Iterator[str]:
    note = _json(NOTE)
    yield f'{{\n "type": "FeatureCollection",\n "note": {note},\n "features": ['
    sd, count = points.sd_mm, len(points.name)
    for begin in range(0, count, PIECE):
        made = [
            _json(_feature(points, k, sd[k])).replace("\n", "\n  ")
            for k in range(begin, min(begin + PIECE, count))
        ]
        yield (",\n  " if begin else "\n  ") + ",\n  ".join(made)
    yield "\n ]\n}\n" if count else "]\n}\n"


def _json(thing: Any) -> str:
    return json.dumps(thing, ensure_ascii=False, allow_nan=False, indent=1)


def _feature(points: ControlPoints, k: int, sds: Floats) -> dict[str, Any]:
    latitude, longitude, height = (float(value) for value in points.geodetic[k])
    place = [round(longitude, 8), round(latitude, 8), round(height, 3)]
    return {
        "type": "Feature",
        "id": points.name[k],
        "geometry": {"type": "Point", "coordinates": place},
        "properties": _properties(points, k, sds),
    }


def _properties(points: ControlPoints, k: int, sds: Floats) -> dict[str, Any]:
    latitude, longitude, ellipsoidal = points.geodetic[k]
    north, east, height = (points.in_unit(value) for value in points.grid[k])
    sd_east, sd_north, sd_up = sds
    covariance = points.covariance[k] * 1e6
    above: dict[str, Any] = {}
    if points.orthometric is not None:
        metres, sd = points.orthometric[k]
        unit = f"orthometric_height_{points.unit}"
        above[unit] = _number(points.in_unit(metres), 5)
        above["sd_orthometric_height_mm"] = _number(1000 * sd, 2)
        above["geoid"] = points.geoid
    return {
        "station": points.name[k],
        "latitude_deg": _number(latitude, 11),
        "longitude_deg": _number(longitude, 11),
        "ellipsoidal_height_m": _number(ellipsoidal, 5),
        f"north_{points.unit}": _number(north, 5),
        f"east_{points.unit}": _number(east, 5),
        points.height_column: _number(height, 5),
        "height_kind": points.height_kind,
        **above,
        "sd_north_mm": _number(sd_north, 2),
        "sd_east_mm": _number(sd_east, 2),
        "sd_up_mm": _number(sd_up, 2),
        "covariance_kind": points.covariance_kind,
        "covariance_enu_mm2": [[_number(v, 4) for v in row] for row in covariance],
        "unchecked": points.unchecked[k] if points.unchecked else None,
        "frame": points.frame,
        "frame_epsg": points.frame_epsg,
        "epoch_year": points.epoch,
        "source": points.source,
        "note": NOTE,
    }


def _number(value: float, decimals: int) -> float | None:
    return None if np.isnan(value) else round(float(value), decimals) + 0.0
