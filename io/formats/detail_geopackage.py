"""GeoPackage of a topographic day: a table of points, and one of lines."""

from typing import Any

import numpy as np

from ...networks.units import UNITS
from .detail import DetailPoints
from .geopackage import Layer, package, places_of

_TITLES = ("north", "east", "height")


def write_detail_geopackage(points: DetailPoints, dated: str = "") -> bytes:
    """Return shots and made points, and the lines that join them, as a GeoPackage.

    Parameters
    ----------
    points : DetailPoints
    dated : str, optional
        UTC time of the change to write down; a fixed one if not given.

    Returns
    -------
    bytes
        Tables ``shots`` and ``shot_lines``; a point without a plan has no geometry.
    """
    plan = points.grid[:, [1, 0]]
    if points.frame_epsg is not None:
        plan = points.geodetic[:, [1, 0]]
    layers = [Layer("shots", "POINT", places_of(plan), _columns(points), points.source)]
    lines = points.lines
    if lines:
        layers.append(_lines(points, plan, lines))
    return package(layers, points.frame_epsg, points.frame, dated)


def _columns(points: DetailPoints) -> dict[str, tuple[str, list[Any]]]:
    factor = float(UNITS[points.unit].factor)
    words = {
        "point": points.name,
        "code": points.code,
        "line": points.line,
        "made": points.made,
    }
    made: dict[str, tuple[str, list[Any]]] = {
        name: ("TEXT", [word or None for word in column])
        for name, column in words.items()
    }
    for k, title in enumerate(_TITLES):
        column = points.grid[:, k] / factor
        made[f"{title}_{points.unit}"] = ("REAL", _known(column, 5))
    for k, title in enumerate(_TITLES):
        made[f"sd_{title}_mm"] = ("REAL", _known(1000 * points.sd[:, k], 2))
    count = len(points.name)
    made["frame"] = ("TEXT", [points.frame] * count)
    made["source"] = ("TEXT", [points.source] * count)
    return made


def _known(values: np.ndarray, decimals: int) -> list[float | None]:
    rounded = np.round(values, decimals).tolist()
    return [value if np.isfinite(value) else None for value in rounded]


def _lines(
    points: DetailPoints, plan: np.ndarray, lines: dict[str, list[int]]
) -> Layer:
    places = [[(x, y) for x, y in plan[rows].tolist()] for rows in lines.values()]
    count = len(lines)
    columns: dict[str, tuple[str, list[Any]]] = {
        "line": ("TEXT", list(lines)),
        "code": ("TEXT", [points.code[rows[0]] or None for rows in lines.values()]),
        "points_count": ("INTEGER", [len(rows) for rows in lines.values()]),
        "frame": ("TEXT", [points.frame] * count),
    }
    return Layer("shot_lines", "LINESTRING", places, columns, points.source)
