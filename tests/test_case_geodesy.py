"""Frames against the worked examples of the standards and against real files."""

import numpy as np
from pyproj import Geod, Transformer

from brasscap.networks import GeodeticFrame
from brasscap.networks.frames import local_axes


def degrees(dms):
    sign = -1.0 if dms.strip().startswith("-") else 1.0
    d, m, s = (abs(float(part)) for part in dms.split())
    return sign * (d + m / 60 + s / 3600)


def test_geodetic_to_geocentric_and_back(case):
    """IOGP 373-7-2, method 9602."""
    problem = case("geodesy_epsg_examples")
    given = problem["data"]["ecef"]
    place = np.array(
        [[degrees(given["lat_dms"]), degrees(given["lon_dms"]), given["h"]]]
    )
    frame = GeodeticFrame(4979, 2010.0)
    found = frame.cartesian(place)
    problem.check(ecef=found[0])
    np.testing.assert_allclose(frame.geodetic(found), place, rtol=0, atol=1e-9)


def test_geocentric_to_local_axes(case):
    """IOGP 373-7-2, method 9836, through the axes in which results are printed."""
    problem = case("geodesy_epsg_examples")
    given = problem["data"]["topocentric"]
    origin, there = np.array(given["origin_xyz"]), np.array(given["xyz"])
    axes = GeodeticFrame(4979, 2010.0).axes(origin[None])[0]
    problem.check(topocentric=axes @ (there - origin))


def test_transverse_mercator(case):
    """IOGP 373-7-2, method 9807: EPSG:27700 on its own datum, EPSG:4277."""
    problem = case("geodesy_epsg_examples")
    given = problem["data"]["tm"]
    frame = GeodeticFrame(4277, 2010.0, grid_epsg=27700)
    place = np.array([[degrees(given["lat_dms"]), degrees(given["lon_dms"]), 0.0]])
    north, east, _ = frame.grid(frame.cartesian(place))[0]
    problem.check(tm=[east, north])


def test_a_long_geodesic(case):
    """Vincenty, Survey Review XXIII (1975), line (a), on the Bessel ellipsoid."""
    problem = case("geodesy_epsg_examples")
    given = problem["data"]["inverse"]
    out, back, distance = Geod(a=given["a"], rf=given["finv"]).inv(
        degrees(given["lon1_dms"]),
        degrees(given["lat1_dms"]),
        degrees(given["lon2_dms"]),
        degrees(given["lat2_dms"]),
    )
    problem.check(inverse=[distance, out, (back + 180) % 360])


def test_a_time_dependent_change_of_frame(case):
    """ITRF2014 to NAD 83(2011) at 2020.0, EPSG/NGS parameters, by PROJ's own route."""
    problem = case("standards_numbers_a")
    given = problem["data"]["helmert14"]
    over = Transformer.from_crs(7789, 6317, allow_ballpark=False)
    x, y, z = given["xyz"]
    moved = over.transform(x, y, z, given["epoch"])
    problem.check(helmert14=np.array(moved[:3]) - np.array(given["xyz"]))


def test_meridian_convergence_from_a_grid(case):
    """sin(latitude) × longitude difference to first order: the case's 0.64283°."""
    problem = case("standards_numbers_a")
    given = problem["data"]["convergence"]
    # UTM zone 31 on WGS 84 has its central meridian at 3°.
    frame = GeodeticFrame(4979, 2010.0, grid_epsg=32631)
    at = np.array([given["lat"], 3.0 + given["dlon"], 0.0])
    step = np.array([1e-4, 0.0, 0.0])
    south, north = frame.grid(frame.cartesian(np.stack([at - step, at + step])))
    along_meridian = north[:2] - south[:2]
    convergence = -np.degrees(np.arctan2(along_meridian[1], along_meridian[0]))
    problem.check(convergence=convergence)


def test_local_axes_at_the_corners_of_the_earth():
    """Up at latitude 0, longitude 0 is X; north there is Z; east is Y."""
    east, north, up = local_axes(np.array([0.0]), np.array([0.0]))[0]
    np.testing.assert_allclose([east, north, up], [[0, 1, 0], [0, 0, 1], [1, 0, 0]])
