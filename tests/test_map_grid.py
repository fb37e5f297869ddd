"""The map grid of a geodetic frame, against 128 points published by an agency.

Test_Conversion_Geo.csv and Test_Conversion_Grid.csv (source: tests/realdata/README.md):
latitude and longitude packed D.MMSSssss, and MGA94 zone, east, north, printed to
1 mm. GDA94 3D is EPSG:4939, MGA94 zone z is EPSG:28300 + z. The printed digits are
rounded, so 0.5 mm is what they allow; 0.02 mm more for the latitude's own rounding.
"""

import csv
import json
from decimal import Decimal
from pathlib import Path

import numpy as np
import pytest

from brasscap.networks import GeodeticFrame

REAL = Path(__file__).parent / "realdata"
ROUNDING = 0.00052


def degrees(packed):
    """Return decimal degrees of D.MMSSssss."""
    sign = -1 if packed.startswith("-") else 1
    whole, digits = packed.lstrip("-").split(".")
    minutes, seconds = digits[:2], Decimal(f"{digits[2:4]}.{digits[4:]}")
    return sign * float(int(whole) + Decimal(minutes) / 60 + seconds / 3600)


def rows(name):
    return list(csv.reader((REAL / name).read_text("utf-8").splitlines()))


def points():
    """Return zone to names, (n, 3) geodetic and (n, 2) north, east."""
    zones = {}
    geographic = {row[0]: row[1:] for row in rows("Test_Conversion_Geo.csv")}
    for name, zone, east, north in rows("Test_Conversion_Grid.csv"):
        latitude, longitude = (degrees(text) for text in geographic[name])
        entry = zones.setdefault(int(zone), ([], [], []))
        entry[0].append(name)
        entry[1].append((latitude, longitude, 0.0))
        entry[2].append((float(north), float(east)))
    return {z: (n, np.array(g), np.array(p)) for z, (n, g, p) in zones.items()}


POINTS = points()


def test_the_files_are_read_whole():
    facts = json.loads((REAL / "expected.json").read_text("utf-8"))["mga94"]
    assert sum(len(entry[0]) for entry in POINTS.values()) == facts["points"]
    for name, fact in facts["examples"].items():
        names, geodetic, plane = POINTS[fact["zone"]]
        at = names.index(name)
        assert geodetic[at, 0] == pytest.approx(fact["lat_deg"], abs=1e-12)
        assert geodetic[at, 1] == pytest.approx(fact["lon_deg"], abs=1e-12)
        assert plane[at].tolist() == [fact["north"], fact["east"]]


@pytest.mark.parametrize("zone", sorted(POINTS))
def test_grid_coordinates(zone):
    _, geodetic, plane = POINTS[zone]
    frame = GeodeticFrame(4939, 1994.0, 28300 + zone)
    grid = frame.grid(frame.cartesian(geodetic))
    np.testing.assert_allclose(grid[:, :2], plane, rtol=0, atol=ROUNDING)


@pytest.mark.parametrize("zone", sorted(POINTS))
def test_and_back(zone):
    _, geodetic, plane = POINTS[zone]
    frame = GeodeticFrame(4939, 1994.0, 28300 + zone)
    xyz = frame.place(plane[:, 0], plane[:, 1], np.zeros(len(plane)))
    distance = np.linalg.norm(xyz - frame.cartesian(geodetic), axis=1)
    # Both printed coordinates are rounded: √2 times.
    assert distance.max() < ROUNDING * np.sqrt(2)
