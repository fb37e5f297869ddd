"""Control coordinates as CSV for crews: everything said twice, heading and headers."""

import csv
import io
from collections.abc import Iterable, Iterator

import numpy as np

from ...networks.covariances import Floats
from .control_points import ControlPoints

PIECE = 5_000
"""Marks that are written at a time."""

# 0.1 mm and the nearest decimal in feet (0.03 mm).
_DECIMALS = 4
# 0.1 mm along a meridian.
_DEGREES = 9


def write_control_csv(points: ControlPoints) -> str:
    """Return the marks as CSV, with a heading of ``#`` lines.

    Parameters
    ----------
    points : ControlPoints

    Returns
    -------
    str
        Station, north, east (latitude, longitude where there is no grid; neither where
        heights alone are known) and height in the stated unit, sds in mm, frame,
        epoch. The columns are those of a control table, so that the file can be read
        back.
    """
    return "".join(control_csv_pieces(points))


def control_csv_pieces(points: ControlPoints) -> Iterator[str]:
    """Return the same in pieces of some thousand marks.

    Parameters
    ----------
    points : ControlPoints

    Returns
    -------
    iterator of str
    """
    heading = "".join(f"# {line}\n" for line in _heading(points))
    yield heading + _lines([_headers(points)])
    plan, sd = _plan(points), points.sd_mm
    for begin in range(0, len(points.name), PIECE):
        some = range(begin, min(begin + PIECE, len(points.name)))
        yield _lines(_row(points, k, plan, sd[k]) for k in some)


def _lines(rows: Iterable[list[str]]) -> str:
    out = io.StringIO()
    csv.writer(out, lineterminator="\n").writerows(rows)
    return out.getvalue()


def _heading(points: ControlPoints) -> list[str]:
    factor = "1" if points.covariance_kind == "stated" else "estimated from the misfit"
    return [
        f"Survey control: {points.source}" if points.source else "Survey control",
        f"frame: {points.frame}",
        f"unit of coordinates and heights: {points.unit_words} ({points.unit})",
        f"heights: {points.height_kind}; a height of another kind differs by metres",
        *_above_geoid(points),
        f"sd: one standard deviation in mm ({points.covariance_kind}: variance factor "
        f"{factor}), along true north, east and up",
        "sd 0.0 = held as known; empty = not estimated",
        *_unchecked(points),
        "computed, not certified: check frame, unit and one known mark before use",
    ]


def _unchecked(points: ControlPoints) -> list[str]:
    if not points.unchecked:
        return []
    return [f"unchecked, a blunder there would not show: {points.unchecked_words}"]


def _above_geoid(points: ControlPoints) -> list[str]:
    """Return which of the two heights is which."""
    if points.orthometric is None:
        return []
    return [
        f"orthometric_height_{points.unit}: above the geoid, {points.geoid}; "
        f"{points.height_column}: above the ellipsoid; empty = undulation not known"
    ]


def _headers(points: ControlPoints) -> list[str]:
    unit = points.unit
    datum = [] if points.height_kind == "ellipsoidal" else ["height_datum"]
    plan = {
        "grid": [f"north_{unit}", f"east_{unit}"],
        "geodetic": ["latitude_deg", "longitude_deg"],
        "none": [],
    }[_plan(points)]
    above = points.orthometric is not None
    return [
        "station",
        *plan,
        points.height_column,
        *datum,
        *([f"orthometric_height_{unit}"] if above else []),
        "sd_north_mm",
        "sd_east_mm",
        "sd_height_mm",
        *(["sd_orthometric_height_mm"] if above else []),
        "frame_epsg",
        "epoch_year",
    ]


def _row(points: ControlPoints, k: int, way: str, sds: Floats) -> list[str]:
    sd_east, sd_north, sd_up = sds
    datum = [] if points.height_kind == "ellipsoidal" else [points.height_kind]
    north, east, height = points.grid[k]
    plan: list[str] = []
    if way == "grid":
        plan = [_written(points.in_unit(value), _DECIMALS) for value in (north, east)]
    elif way == "geodetic":
        plan = [_written(value, _DEGREES) for value in points.geodetic[k, :2]]
    above: list[str] = []
    sd_above: list[str] = []
    if points.orthometric is not None:
        metres, sd = points.orthometric[k]
        above = [_written(points.in_unit(metres), _DECIMALS)]
        sd_above = [_written(1000 * sd, 1)]
    return [
        points.name[k],
        *plan,
        _written(points.in_unit(height), _DECIMALS),
        *datum,
        *above,
        *(_written(value, 1) for value in (sd_north, sd_east, sd_up)),
        *sd_above,
        "" if points.frame_epsg is None else str(points.frame_epsg),
        "" if points.epoch is None else f"{points.epoch:.10g}",
    ]


def _plan(points: ControlPoints) -> str:
    """Return how the plan is written: on the grid, else geodetic; none of heights."""
    if np.isfinite(points.grid[:, :2]).any():
        return "grid"
    return "geodetic" if np.isfinite(points.geodetic[:, :2]).any() else "none"


def _written(value: float, decimals: int) -> str:
    """Return a number, without a sign on zero; empty where there is none."""
    return "" if np.isnan(value) else f"{round(value, decimals) + 0.0:.{decimals}f}"
