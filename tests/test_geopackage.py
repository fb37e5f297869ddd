"""GeoPackage: read back with sqlite3 and the standard's own layout of a point, and by
GDAL where it is installed."""

import json
import sqlite3
import struct

import numpy as np
import pytest

from brasscap.__main__ import main


@pytest.fixture
def exported(tmp_path, capsys):
    """Return a function that exports an example and opens the file."""

    def run(example):
        folder = tmp_path / example
        assert main(["new", str(folder), "--example", example, "--quiet"]) == 0
        path = folder / "reports" / "control.gpkg"
        assert main(["export", "--gpkg", "--job", str(folder), "--quiet"]) == 1
        capsys.readouterr()
        main(["adjust", "--json", "--job", str(folder)])
        found = json.loads(capsys.readouterr().out)
        # Exported sds stand on the variance factor that ellipses are printed with.
        factor = found["variance_factor"]["value"]
        for mark in found["marks"]:
            own = np.array(mark["covariance_enu_m2"], dtype=float)
            mark["covariance_enu_m2"] = own * factor
        return path, {mark["station"]: mark for mark in found["marks"]}

    return run


def rows(path):
    base = sqlite3.connect(path)
    base.row_factory = sqlite3.Row
    found = base.execute("SELECT * FROM control").fetchall()
    return base, {row["station"]: row for row in found}


def place(blob):
    """Return x, y and srs of a point as clause 2.1.3 lays it out, little-endian."""
    magic, version, flags, srs = struct.unpack("<2sBBi", blob[:8])
    order, kind, x, y = struct.unpack("<BIdd", blob[8:])
    assert (magic, version, flags, order, kind) == (b"GP", 0, 1, 1, 1)
    return x, y, srs


def test_a_geodetic_job(exported):
    path, marks = exported("harbour")
    assert path.read_bytes()[:16] == b"SQLite format 3\x00"
    base, found = rows(path)
    assert base.execute("PRAGMA application_id").fetchone()[0] == 0x47504B47
    assert base.execute("PRAGMA integrity_check").fetchone()[0] == "ok"
    assert base.execute("PRAGMA foreign_key_check").fetchall() == []
    assert set(found) == set(marks)
    for name, mark in marks.items():
        x, y, srs = place(found[name]["geom"])
        assert srs == 7844  # GDA2020, two-dimensional: the flat frame of EPSG:7843
        assert (x, y) == pytest.approx(
            (mark["longitude_deg"], mark["latitude_deg"]), abs=1e-10
        )
        stated = np.array(mark["covariance_enu_m2"]) * 1e6
        assert found[name]["cov_ee_mm2"] == pytest.approx(stated[0][0], rel=1e-4)
        assert found[name]["cov_nu_mm2"] == pytest.approx(stated[1][2], rel=1e-4)
    contents = base.execute("SELECT * FROM gpkg_contents").fetchone()
    assert contents["srs_id"] == 7844
    longitudes = [mark["longitude_deg"] for mark in marks.values()]
    assert contents["min_x"] == pytest.approx(min(longitudes))


def test_a_site_grid_is_nowhere_on_earth(exported):
    path, marks = exported("mill")
    _, found = rows(path)
    x, y, srs = place(found["YARD 3"]["geom"])
    assert srs == -1
    mark = marks["YARD 3"]
    assert (x, y) == pytest.approx((mark["east_m"], mark["north_m"]), abs=1e-5)
    assert found["YARD 3"]["latitude_deg"] is None


def test_heights_alone_have_no_geometry(exported):
    path, marks = exported("tramway")
    _, found = rows(path)
    assert all(row["geom"] is None for row in found.values())
    assert found["PUMP"]["height_m"] == pytest.approx(marks["PUMP"]["height_m"])


def test_the_same_bytes_each_time(exported, tmp_path):
    path, _ = exported("mill")
    before = path.read_bytes()
    main(["export", "--gpkg", "--job", str(tmp_path / "mill"), "--quiet"])
    assert path.read_bytes() == before


@pytest.mark.parametrize("example", ["harbour", "mill"])
def test_gdal_reads_it(exported, example):
    """The same by a general library: names, places and frame."""
    pyogrio = pytest.importorskip("pyogrio")
    path, marks = exported(example)
    info = pyogrio.read_info(path)
    assert info["features"] == len(marks)
    assert info["geometry_type"] == "Point"
    if example == "harbour":
        assert info["crs"] == "EPSG:7844"
    meta, _, geometry, values = pyogrio.raw.read(path)
    names = values[list(meta["fields"]).index("station")].tolist()
    for name, blob in zip(names, geometry.tolist(), strict=True):
        mark, keys = marks[name], ("longitude_deg", "latitude_deg")
        if example == "mill":
            keys = ("east_m", "north_m")
        if mark["east_m"] is None:
            assert blob is None
            continue
        x, y = struct.unpack("<dd", blob[5:21])
        assert (x, y) == pytest.approx([mark[key] for key in keys], abs=1e-5)
