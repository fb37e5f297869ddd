"""GeoPackage (OGC 12-128r18, 1.3) of control marks, with sqlite3 alone.

The geometry is in the job's own frame: longitude and latitude of its datum, or the east
and north of a site grid, of which nothing is said to be anywhere on earth. Heights,
standard deviations, frame and epoch stand in the columns.
"""

import sqlite3
import struct
from collections.abc import Sequence
from contextlib import closing
from dataclasses import dataclass
from typing import Any

import numpy as np

from .control_points import ControlPoints

_LOCAL, _OWN = -1, 100000
"""Undefined cartesian, as the standard numbers it; a frame without an EPSG code."""
_UNDATED = "1970-01-01T00:00:00.000Z"
"""The standard demands a time of change, and the same input gives the same bytes."""
_APPLICATION, _VERSION = 0x47504B47, 10300
_TABLE = "control"

_SCHEMA = """
CREATE TABLE gpkg_spatial_ref_sys (srs_name TEXT NOT NULL, srs_id INTEGER NOT NULL
 PRIMARY KEY, organization TEXT NOT NULL, organization_coordsys_id INTEGER NOT NULL,
 definition TEXT NOT NULL, description TEXT);
CREATE TABLE gpkg_contents (table_name TEXT NOT NULL PRIMARY KEY, data_type TEXT NOT
 NULL, identifier TEXT UNIQUE, description TEXT DEFAULT '', last_change DATETIME NOT
 NULL DEFAULT (strftime('%Y-%m-%dT%H:%M:%fZ','now')), min_x DOUBLE, min_y DOUBLE, max_x
 DOUBLE, max_y DOUBLE, srs_id INTEGER, CONSTRAINT fk_gc_r_srs_id FOREIGN KEY (srs_id)
 REFERENCES gpkg_spatial_ref_sys(srs_id));
CREATE TABLE gpkg_geometry_columns (table_name TEXT NOT NULL, column_name TEXT NOT NULL,
 geometry_type_name TEXT NOT NULL, srs_id INTEGER NOT NULL, z TINYINT NOT NULL, m
 TINYINT NOT NULL, CONSTRAINT pk_geom_cols PRIMARY KEY (table_name, column_name),
 CONSTRAINT uk_gc_table_name UNIQUE (table_name), CONSTRAINT fk_gc_tn FOREIGN KEY
 (table_name) REFERENCES gpkg_contents(table_name), CONSTRAINT fk_gc_srs FOREIGN KEY
 (srs_id) REFERENCES gpkg_spatial_ref_sys (srs_id));
"""
_WGS84 = (
    'GEOGCS["WGS 84",DATUM["WGS_1984",SPHEROID["WGS 84",6378137,298.257223563]],'
    'PRIMEM["Greenwich",0],UNIT["degree",0.0174532925199433],AUTHORITY["EPSG","4326"]]'
)
_DEMANDED = (
    ("Undefined cartesian", -1, "NONE", -1, "undefined", "site grids"),
    ("Undefined geographic", 0, "NONE", 0, "undefined", ""),
    ("WGS 84", 4326, "EPSG", 4326, _WGS84, "longitude, latitude"),
)
"""Rows that every file has (requirement 11)."""


@dataclass(frozen=True, slots=True)
class Layer:
    """One table of features."""

    name: str
    geometry: str
    """``POINT`` or ``LINESTRING``."""
    places: list[list[tuple[float, float]]]
    """East and north, or longitude and latitude, of each feature; empty where it has
    no place."""
    columns: dict[str, tuple[str, list[Any]]]
    """Type and values of each column; what is not known is null."""
    description: str


def write_geopackage(points: ControlPoints, dated: str = "") -> bytes:
    """Return the marks as the content of a GeoPackage with one table of points.

    Parameters
    ----------
    points : ControlPoints
    dated : str, optional
        UTC time of the change to write down; a fixed one if not given.

    Returns
    -------
    bytes
        A mark without a plan has no geometry.
    """
    plan = points.grid[:, [1, 0]]
    if points.frame_epsg is not None:
        plan = points.geodetic[:, [1, 0]]
    layer = Layer(_TABLE, "POINT", places_of(plan), _columns(points), points.source)
    return package((layer,), points.frame_epsg, points.frame, dated)


def places_of(plan: np.ndarray) -> list[list[tuple[float, float]]]:
    """Return each point's place as a layer has it; plan (n, 2), NaN for none."""
    seen = np.isfinite(plan).all(axis=1)
    return [
        [(x, y)] if here else []
        for (x, y), here in zip(plan.tolist(), seen.tolist(), strict=True)
    ]


def package(
    layers: Sequence[Layer], frame_epsg: int | None, frame: str, dated: str = ""
) -> bytes:
    """Return the content of a GeoPackage.

    Parameters
    ----------
    layers : sequence of Layer
    frame_epsg : int or None
        Of the geographic frame; None in a local job.
    frame : str
        In words.
    dated : str, optional
        UTC time of the change to write down; a fixed one if not given.
    """
    srs = _frame(frame_epsg, frame)
    with closing(sqlite3.connect(":memory:")) as base:
        base.execute(f"PRAGMA application_id = {_APPLICATION}")
        base.execute(f"PRAGMA user_version = {_VERSION}")
        base.executescript(_SCHEMA)
        rows = {row[1]: row for row in (*_DEMANDED, srs)}
        base.executemany(
            "INSERT INTO gpkg_spatial_ref_sys VALUES (?,?,?,?,?,?)", rows.values()
        )
        for layer in layers:
            _fill(base, layer, int(srs[1]), dated or _UNDATED)
        base.commit()
        base.execute("VACUUM")
        return bytes(base.serialize())


def _frame(epsg: int | None, words: str) -> tuple[str, int, str, int, str, str]:
    """Return the row of the frame: the geographic one of the datum, or none."""
    if epsg is None:
        return _DEMANDED[0]
    from pyproj import CRS

    flat = CRS.from_epsg(epsg).to_2d()
    code = flat.to_epsg()
    wkt = flat.to_wkt("WKT1_GDAL")
    if code is None:
        return flat.name, _OWN, "NONE", _OWN, wkt, words
    return flat.name, code, "EPSG", code, wkt, words


def _fill(base: sqlite3.Connection, layer: Layer, srs: int, dated: str) -> None:
    columns = layer.columns
    described = ", ".join(f'"{name}" {kind}' for name, (kind, _) in columns.items())
    base.execute(
        f'CREATE TABLE "{layer.name}" (fid INTEGER PRIMARY KEY AUTOINCREMENT NOT '
        f"NULL, geom {layer.geometry}, {described})"
    )
    base.execute(
        "INSERT INTO gpkg_contents VALUES (?,?,?,?,?,?,?,?,?,?)",
        (
            *(layer.name, "features", layer.name, layer.description, dated),
            *_box(layer),
            srs,
        ),
    )
    base.execute(
        "INSERT INTO gpkg_geometry_columns VALUES (?,?,?,?,?,?)",
        (layer.name, "geom", layer.geometry, srs, 0, 0),
    )
    shape = _point if layer.geometry == "POINT" else _line
    places = [shape(one, srs) if one else None for one in layer.places]
    marks = ",".join("?" * (len(columns) + 1))
    names = ", ".join(f'"{name}"' for name in columns)
    base.executemany(
        f'INSERT INTO "{layer.name}" (geom, {names}) VALUES ({marks})',
        zip(places, *(values for _, values in columns.values()), strict=True),
    )


def _box(layer: Layer) -> list[float | None]:
    seen = [place for places in layer.places for place in places]
    if not seen:
        return [None] * 4
    x, y = zip(*seen, strict=True)
    return [min(x), min(y), max(x), max(y)]


def _point(places: list[tuple[float, float]], srs: int) -> bytes:
    """Return a point: header of the standard (clause 2.1.3), then well-known binary.

    Examples
    --------
    >>> _point([(1.0, 2.0)], 4326)[:8].hex()
    '47500001e6100000'
    """
    return _head(srs) + struct.pack("<BIdd", 1, 1, *places[0])


def _line(places: list[tuple[float, float]], srs: int) -> bytes:
    """Return a line of two places and more: geometry 2 of well-known binary."""
    flat = [value for place in places for value in place]
    body = struct.pack(f"<BII{len(flat)}d", 1, 2, len(places), *flat)
    return _head(srs) + body


def _head(srs: int) -> bytes:
    return struct.pack("<2sBBi", b"GP", 0, 1, srs)


def _columns(points: ControlPoints) -> dict[str, tuple[str, list[Any]]]:
    """Return each column's type and values; what is not known is null."""
    count, unit = len(points.name), points.unit
    sd, mm2 = points.sd_mm, points.covariance * 1e6
    latitude, longitude, ellipsoidal = points.geodetic.T
    north, east, height = points.grid.T
    made: dict[str, tuple[str, list[Any]]] = {"station": ("TEXT", list(points.name))}

    def numbers(name: str, values: np.ndarray, *, length: bool = False) -> None:
        said = [points.in_unit(v) if length else float(v) for v in values]
        made[name] = ("REAL", [None if np.isnan(v) else v for v in said])

    numbers("latitude_deg", latitude)
    numbers("longitude_deg", longitude)
    numbers("ellipsoidal_height_m", ellipsoidal)
    numbers(f"north_{unit}", north, length=True)
    numbers(f"east_{unit}", east, length=True)
    if points.height_column not in made:
        numbers(points.height_column, height, length=True)
    if points.orthometric is not None:
        above = f"orthometric_height_{unit}"
        numbers(above, points.orthometric[:, 0], length=True)
        numbers("sd_orthometric_height_mm", points.orthometric[:, 1] * 1000)
    for name, k in (("north", 1), ("east", 0), ("up", 2)):
        numbers(f"sd_{name}_mm", sd[:, k])
    axes = "enu"
    for a in range(3):
        for b in range(a, 3):
            numbers(f"cov_{axes[a]}{axes[b]}_mm2", mm2[:, a, b])
    epoch = np.nan if points.epoch is None else points.epoch
    numbers("epoch_year", np.full(count, epoch))
    words: dict[str, list[Any]] = {
        "unchecked": list(points.unchecked) or [None] * count,
        "covariance_kind": [points.covariance_kind] * count,
        "height_kind": [points.height_kind] * count,
        "geoid": [points.geoid or None] * count,
        "frame": [points.frame] * count,
        "source": [points.source] * count,
    }
    return made | {name: ("TEXT", values) for name, values in words.items()}
