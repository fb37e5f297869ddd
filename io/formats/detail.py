"""Shots and made points for others: CSV, and GeoJSON with points and lines."""

import csv
import io
import json
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from ...networks import CommandError
from ...networks.units import UNITS
from .geojson import NOTE

if TYPE_CHECKING:
    from ...networks.covariances import Floats
    from ...networks.observations import Names


@dataclass(frozen=True, slots=True)
class DetailPoints:
    """The points of a topographic day, one row each; m."""

    name: "Names"
    code: "Names"
    line: "Names"
    """A line joins its points in the order of the rows; empty for none."""
    made: "Names"
    """``shot``, ``polar shot`` or how it was made from others."""
    grid: "Floats"
    """(n, 3) north, east, height; NaN where a point has no height."""
    geodetic: "Floats"
    """(n, 3) latitude, longitude (degrees), height as in ``grid``; NaN in a local
    job."""
    sd: "Floats"
    """(n, 3) north, east, height; NaN = cannot be judged."""
    unit: str
    frame: str
    source: str
    frame_epsg: int | None = None
    """Of the geographic frame; None in a local job."""

    @property
    def lines(self) -> "dict[str, list[int]]":
        """Rows of every line that has a plan at two points and more."""
        of: dict[str, list[int]] = {}
        plan = np.isfinite(self.grid[:, :2]).all(axis=1)
        for k in np.flatnonzero(plan).tolist():
            if self.line[k]:
                of.setdefault(self.line[k], []).append(k)
        return {name: rows for name, rows in of.items() if len(rows) > 1}


def write_detail_csv(points: DetailPoints) -> str:
    """Return points as CSV, the unit in every header.

    Parameters
    ----------
    points : DetailPoints

    Returns
    -------
    str
    """
    out = io.StringIO()
    out.write(f"# {points.frame}; {points.source}\n")
    writer = csv.writer(out, lineterminator="\n")
    unit = points.unit
    writer.writerow(
        ["point", "code", "line", "made", f"north_{unit}", f"east_{unit}",
         f"height_{unit}", "sd_north_mm", "sd_east_mm", "sd_height_mm"]
    )  # fmt: skip
    factor = UNITS[unit].factor
    grid = points.grid * factor.denominator / factor.numerator
    for k, name in enumerate(points.name):
        writer.writerow(
            [name, points.code[k], points.line[k], points.made[k]]
            + [_text(value, 4) for value in grid[k].tolist()]
            + [_text(1000 * value, 1) for value in points.sd[k].tolist()]
        )
    return out.getvalue()


def _text(value: float, decimals: int) -> str:
    return f"{value + 0.0:.{decimals}f}" if np.isfinite(value) else ""


def write_detail_geojson(points: DetailPoints) -> str:
    """Return points, and the lines that join them, as a FeatureCollection.

    Parameters
    ----------
    points : DetailPoints

    Returns
    -------
    str
        JSON, RFC 7946; a height above the geoid stands in the properties alone.

    Raises
    ------
    CommandError
        The job is local: its points have no longitude and latitude.
    """
    if not np.isfinite(points.geodetic[:, :2]).any():
        raise CommandError(
            "a local job has no longitude and latitude, and GeoJSON has nothing else; "
            "export --shots --csv writes its coordinates"
        )
    there = np.flatnonzero(np.isfinite(points.geodetic[:, :2]).all(axis=1))
    places = [_place(points, k) for k in range(len(points.name))]
    features = [_point(points, k, places[k]) for k in there.tolist()]
    features += _lines(points, places, there.tolist())
    collection = {"type": "FeatureCollection", "note": NOTE, "features": features}
    return json.dumps(collection, ensure_ascii=False, allow_nan=False, indent=1) + "\n"


def _place(points: DetailPoints, k: int) -> list[float]:
    latitude, longitude = points.geodetic[k, :2].tolist()
    return [round(longitude, 8), round(latitude, 8)]


def _point(points: DetailPoints, k: int, place: list[float]) -> dict[str, Any]:
    north, east, height = points.grid[k].tolist()
    sds = (1000 * points.sd[k]).tolist()
    names = ("sd_north_mm", "sd_east_mm", "sd_height_mm")
    return {
        "type": "Feature",
        "id": points.name[k],
        "geometry": {"type": "Point", "coordinates": place},
        "properties": {
            "point": points.name[k],
            "code": points.code[k],
            "line": points.line[k],
            "made": points.made[k],
            "north_m": round(north, 4),
            "east_m": round(east, 4),
            "height_m": round(height, 4) if np.isfinite(height) else None,
            **{
                name: round(sd, 1) if np.isfinite(sd) else None
                for name, sd in zip(names, sds, strict=True)
            },
            "frame": points.frame,
            "source": points.source,
        },
    }


def _lines(
    points: DetailPoints, places: list[list[float]], there: list[int]
) -> list[dict[str, Any]]:
    """Return every line of two points and more."""
    of: dict[str, list[int]] = {}
    for k in there:
        if points.line[k]:
            of.setdefault(points.line[k], []).append(k)
    return [
        {
            "type": "Feature",
            "id": f"line {name}",
            "geometry": {
                "type": "LineString",
                "coordinates": [places[k] for k in rows],
            },
            "properties": {"line": name, "points": [points.name[k] for k in rows]},
        }
        for name, rows in of.items()
        if len(rows) > 1
    ]
