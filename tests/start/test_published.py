"""Published networks, put in without their approximate coordinates."""

from dataclasses import replace

import numpy as np
import pytest

from brasscap.adjust import estimate
from brasscap.networks import GeodeticFrame

GEODETIC = GeodeticFrame(7912, 2020.0)
ARCSEC = np.pi / 180 / 3600


PLANE = (
    "directions_resection_orientation_unknown",
    "resection_three_angles",
    "traverse_one_station_mixed",
    "traverse_two_stations_azimuths",
    "triangulation_quadrilateral",
    "trilateration_one_station",
)
CASE_KINDS = {"distance": "horizontal distance", "slope_distance": "slope distance"}
CASE_KINDS["zenith_angle"] = "zenith angle"


def observe_case(site, observations):
    for seen in observations:
        kind = CASE_KINDS.get(seen["type"], seen["type"])
        angle = not kind.endswith("distance")
        value = np.radians(seen["value_deg"]) if angle else seen["value"]
        sd = seen["sigma_sec"] * ARCSEC if angle else seen["sigma"]
        at = seen.get("at") or seen["from"]
        to = seen.get("foresight") or seen["to"]
        site.observe(kind, at, to, value, sd, seen.get("backsight"), seen.get("set"))


@pytest.mark.parametrize("name", PLANE)
def test_a_published_plane_network_starts_by_itself(new_site, case, name):
    """The source is in the case's own ``source``; its 12 digits, relative 1e-6."""
    problem = case(name)
    stations = problem["stations"]
    site = new_site(stations)
    for station, known in stations.items():
        if known.get("fixed"):
            site.hold(station, [known["E"], known["N"], 0.0], (True, True, False))
    observe_case(site, problem["observations"])
    made = estimate(site.network("plan"))
    for station, plan in problem["computed"]["coordinates"].items():
        found = made.nodes.xyz[site.names.index(station), :2]
        np.testing.assert_allclose(found, plan, rtol=0, atol=1e-5)


def test_a_free_station_in_space_starts_by_itself(new_site, case):
    """Two independent solvers: the case's ``source``; within a micrometre."""
    problem = case("terrestrial_3d_free_station")
    stations = problem["stations"]
    site = new_site(stations, GEODETIC)
    for station, known in stations.items():
        if known.get("fixed"):
            booked = [[known["lat_deg"], known["lon_deg"], known["h"]]]
            site.hold(station, GEODETIC.cartesian(np.array(booked))[0])
    observe_case(site, problem["observations"])
    network = site.network()
    seen = {kind: [] for kind in site.rows}
    for row in problem["observations"]:
        seen[CASE_KINDS.get(row["type"], row["type"])].append((row["hi"], row["ht"]))
    sights = []
    for some in network.sights:
        over, above = np.array(seen[some.kind]).T
        sights.append(replace(some, at_height=over, to_height=above))
    made = estimate(replace(network, sights=tuple(sights)))
    found = made.nodes.xyz[site.names.index("P")]
    np.testing.assert_allclose(
        found, problem["computed"]["xyz"]["P"], rtol=0, atol=1e-6
    )
