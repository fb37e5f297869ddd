"""Frames, datums and geoid grids, against PROJ's own other ways and by hand."""

import json
import math
import struct
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from brasscap.networks import GeodeticFrame, InputError, MissingPart
from brasscap.networks.curved import CurvedFrame, curved_about, mean_radius
from brasscap.networks.datums import carried_over, same_datum, turned_over
from brasscap.networks.geoid import undulations

CASES = Path(__file__).parent / "cases"


def gtx(path: Path, south: float, west: float, step: float, values: list[list[float]]):
    """Write a GTX grid: big-endian, rows from south to north (NOAA VDatum's format)."""
    rows, columns = len(values), len(values[0])
    head = struct.pack(">4d2i", south, west, step, step, rows, columns)
    body = b"".join(struct.pack(f">{columns}f", *row) for row in values)
    path.write_bytes(head + body)
    return path


# ---- datums


@pytest.mark.parametrize(
    ("a", "b", "same"),
    [
        (6319, 6318, True),  # NAD83(2011) in three and two dimensions
        (6319, 6317, True),  # geocentric
        (6319, 6342, True),  # UTM 13N of the same datum
        (6319, 6430, True),  # a state plane grid in feet
        (6319, 26913, False),  # UTM 13N of NAD83(1986)
        (6319, 4979, False),  # WGS 84
        (7912, 9000, True),  # ITRF2014 in three and two dimensions
        (7912, 9989, False),  # ITRF2014 and ITRF2020
        (6319, 5703, False),  # a height code has no geodetic datum
    ],
)
def test_codes_of_one_datum_are_one_frame(a, b, same):
    """The names of the datums are those of the EPSG data set."""
    assert same_datum(a, b) is same


def test_a_stated_operation_is_the_published_one():
    """ITRF2014 to NAD 83(2011): the shift that the standards case tabulates."""
    case = json.loads((CASES / "standards_numbers_a.json").read_text("utf-8"))
    text = json.dumps(case)
    assert "helmert14" in text
    problem = case["data"]["helmert14"]
    start = np.array([problem["xyz"]], dtype=float)
    over = carried_over("EPSG:8970", start, float(problem["epoch"]))
    expected = np.array(case["expected"]["helmert14"])
    assert np.allclose(over[0] - start[0], expected, rtol=0, atol=5e-4)


def test_a_vector_is_rotated_and_not_shifted():
    """By hand: 1 arcsecond about Z turns 1 km east by 1000 · 4.848e-6 m."""
    way = "+proj=helmert +x=100 +y=7 +rz=1 +convention=position_vector"
    start, delta = np.array([[1e6, 2e6, 3e6]]), np.array([[1000.0, 0.0, 0.0]])
    over = turned_over(way, start, delta, 2010.0)
    second = math.pi / 180 / 3600
    assert np.allclose(over, [[1000.0, 1000.0 * second, 0.0]], rtol=0, atol=1e-6)


def test_an_operation_on_latitudes_is_refused():
    with pytest.raises(ValueError, match="kilometre"):
        carried_over("+proj=axisswap +order=2,1", np.array([[4e6, 1e6, 5e6]]), 2010.0)


# ---- grids


def test_a_grid_in_feet_gives_metres():
    """State plane Colorado North in US survey feet against its metric twin's figures.

    EPSG:6430 is EPSG:6429 in US survey feet (1200/3937 m), by the EPSG registry.
    """
    place = np.array([[40.2, -105.1, 1600.0]])
    feet, metres = GeodeticFrame(6319, 2010.0, 6430), GeodeticFrame(6319, 2010.0, 6429)
    xyz = feet.cartesian(place)
    # The false origins are rounded apart in the two definitions, by under 0.2 mm.
    assert np.allclose(feet.grid(xyz), metres.grid(xyz), rtol=0, atol=5e-4)
    back = feet.place(*feet.grid(xyz).T)
    assert np.allclose(back, xyz, rtol=0, atol=1e-6)


# ---- the geoid and the ballpark trap


def test_undulations_come_from_the_named_grid(tmp_path):
    """Bilinear by hand: the middle of a cell is the mean of its corners."""
    grid = gtx(tmp_path / "geoid.gtx", 40.0, -106.0, 1.0, [[-10, -12], [-14, -20]])
    found = undulations(grid, np.array([40.0, 40.5, 50.0]), np.array([-106, -105.5, 0]))
    assert found[0] == pytest.approx(-10.0, abs=1e-6)
    assert found[1] == pytest.approx(-14.0, abs=1e-6)
    assert np.isnan(found[2])


@pytest.mark.parametrize("folder", ["plain", "with blank", "a, b", 'a "b"'])
def test_a_grid_is_found_in_any_folder(tmp_path, folder):
    home = tmp_path / folder
    home.mkdir()
    grid = gtx(home / "geoid.gtx", 40.0, -106.0, 1.0, [[-10, -10], [-10, -10]])
    found = undulations(grid, np.array([40.5]), np.array([-105.5]))
    assert found[0] == pytest.approx(-10.0, abs=1e-6)


def test_a_missing_grid_is_named(tmp_path):
    with pytest.raises(MissingPart, match=r"g2018u0\.gtx"):
        undulations(tmp_path / "g2018u0.gtx", np.array([40.0]), np.array([-105.0]))


def test_a_grid_that_is_none_is_named(tmp_path):
    bad = tmp_path / "geoid.gtx"
    bad.write_bytes(b"not a grid")
    with pytest.raises(MissingPart, match=r"geoid\.gtx"):
        undulations(bad, np.array([40.0]), np.array([-105.0]))


def test_the_ballpark_trap_is_there_and_closed(tmp_path):
    """PROJ without the grid hands the ellipsoidal height back; this tool does not."""
    from pyproj import CRS, Transformer

    heights = CRS.from_string("EPSG:6318+5703")
    trap = Transformer.from_crs(CRS.from_epsg(6319), heights, always_xy=True)
    _, _, unchanged = trap.transform(-105.0, 40.0, 1600.0)
    assert unchanged == 1600.0, "the trap is gone from PROJ: is a grid installed?"
    with pytest.raises(MissingPart):
        undulations(tmp_path / "geoid.gtx", np.array([40.0]), np.array([-105.0]))


def test_a_grid_of_another_datum_is_no_ballpark():
    """NAD83(2011) to a grid of NAD83(1986) has no exact way without shift grids."""
    frame = GeodeticFrame(6319, 2010.0, 26913)
    with pytest.raises(MissingPart, match="26913"):
        frame.grid(frame.cartesian(np.array([[40.0, -105.0, 1600.0]])))


# ---- the curved local frame


def test_the_radius_is_the_gaussian_mean_of_grs80():
    """√(MN) from M and N as textbooks give them, written out here."""
    a, e2 = 6378137.0, 0.00669438002290
    for latitude in (0.0, 30.0, 47.0, 90.0):
        w = math.sqrt(1 - e2 * math.sin(math.radians(latitude)) ** 2)
        m, n = a * (1 - e2) / w**3, a / w
        assert mean_radius(latitude) == pytest.approx(math.sqrt(m * n), abs=1e-6)


def test_the_curved_grid_is_azimuthal_equidistant():
    """PROJ's own aeqd on the same sphere, about a pole turned to the centre."""
    from pyproj import Proj

    frame = CurvedFrame(latitude_deg=47.0, reference_height=0.0)
    chart = Proj(f"+proj=aeqd +R={frame.radius!r} +lat_0=0 +lon_0=0")
    north, east = np.array([4000.0, -2500.0, 0.0]), np.array([3000.0, 5000.0, 0.0])
    longitude, latitude = chart(east, north, inverse=True)
    lon, lat = np.radians(longitude), np.radians(latitude)
    # The sphere's X axis goes through the centre: it is our Z, its Y our X.
    expected = frame.radius * np.stack(
        [np.cos(lat) * np.sin(lon), np.sin(lat), np.cos(lat) * np.cos(lon)], axis=-1
    )
    assert np.allclose(frame.place(north, east, np.zeros(3)), expected, atol=1e-6)


def test_distances_are_ground_distances_at_the_reference_height():
    """By hand: at 1000 m, 5 km from the centre is an arc of radius R + 1000 m."""
    frame = CurvedFrame(47.0, 1000.0)
    centre, out = frame.place(np.array([0.0, 5000.0]), np.zeros(2), np.full(2, 1000.0))
    radius = frame.radius + 1000.0
    chord = 2 * radius * math.sin(5000.0 / radius / 2)
    assert np.linalg.norm(out - centre) == pytest.approx(chord, abs=1e-7)


def test_verticals_meet_at_the_centre_of_the_sphere():
    """By hand: two verticals 5 km apart are 5000/R apart in direction."""
    frame = CurvedFrame(47.0, 0.0)
    places = frame.place(np.array([0.0, 0.0]), np.array([0.0, 5000.0]), np.zeros(2))
    axes = frame.axes(places)
    angle = math.acos(float(axes[0, 2] @ axes[1, 2]))
    assert angle == pytest.approx(5000.0 / frame.radius, rel=1e-6)
    assert np.allclose(axes @ np.swapaxes(axes, 1, 2), np.eye(3), atol=1e-15)


@settings(max_examples=60, deadline=None)
@given(st.floats(-6000, 6000), st.floats(-6000, 6000), st.floats(-100, 3000))
def test_curved_grid_goes_there_and_back(north, east, height):
    frame = CurvedFrame(35.0, 400.0, 500000.0, 200000.0)
    booked = np.array([[500000.0 + north, 200000.0 + east, height]])
    back = frame.grid(frame.place(*booked.T))
    assert np.allclose(back, booked, rtol=0, atol=1e-7)


@settings(max_examples=40, deadline=None)
@given(st.floats(-6000, 6000), st.floats(-6000, 6000))
def test_a_marks_east_and_north_are_those_of_the_grid(north, east):
    """A metre north on the grid is a metre along the mark's north, to 1e-6."""
    frame = CurvedFrame(60.0, 0.0)
    here, there = frame.place(
        np.array([north, north + 1.0]), np.array([east, east]), np.zeros(2)
    )
    step = frame.axes(here[None])[0] @ (there - here)
    assert np.allclose(step, [0.0, 1.0, 0.0], rtol=0, atol=1e-6)


def test_a_curved_job_beyond_ten_kilometres_is_refused():
    frame = CurvedFrame(47.0, 0.0)
    with pytest.raises(InputError) as caught:
        frame.place(np.array([10001.0]), np.array([0.0]), np.array([0.0]))
    assert caught.value.findings[0].slug == "beyond-curved-limit"
    with pytest.raises(InputError):
        curved_about(
            np.array([0.0, 20002.0]),
            np.array([0.0, 0.0]),
            latitude_deg=47.0,
            reference_height=0.0,
        )
