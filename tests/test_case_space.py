"""A free station in space, put in as a job folder like a user's.

The case in tests/cases names its source: two independent solvers, on GRS 80.
"""

import json
from pathlib import Path

import numpy as np
import pytest

from brasscap.adjust import estimate
from brasscap.io.tables.load import load

CASES = Path(__file__).parent / "cases"
JOB = """schema = 1
[job]
title = "{title}"
surveyor_in_charge = "R. Example"
licence = "none"
[frame]
kind = "geodetic"
geographic_epsg = 6319
epoch = 2010.0
geoid = "none"
[set_up.tripod]
sd_centring_mm = 0
sd_height_mm = 0
[set_up.target]
sd_centring_mm = 0
sd_height_mm = 0
[refraction]
coefficient = 0.0
sd = 0.0
"""
MM = 1e3
KIND = {
    "direction": "direction",
    "zenith_angle": "zenith angle",
    "slope_distance": "slope distance",
}
VALUE = {
    "direction": "direction_deg",
    "zenith_angle": "zenith_deg",
    "slope_distance": "slope_distance_m",
}
SD = {
    "direction": "sd_direction_arcsec",
    "zenith_angle": "sd_zenith_arcsec",
    "slope_distance": "sd_distance_mm",
}


def of_kind(kind):
    return [
        path.stem
        for path in sorted(CASES.glob("*.json"))
        if json.loads(path.read_text("utf-8"))["kind"] == kind
    ]


def write(folder, name, header, rows):
    """Write a table; a row is a mapping, what it lacks stays empty."""
    lines = [",".join(header)]
    lines += [",".join(str(row.get(column, "")) for column in header) for row in rows]
    (folder / name).write_text("\n".join(lines) + "\n", "utf-8")


def write_job(case, folder):
    """Write a free station in space as the tables of a job."""
    (folder / "job.toml").write_text(JOB.format(title=case["id"]), "utf-8")
    write(
        folder, "stations.csv", ["station"], [{"station": n} for n in case["stations"]]
    )
    header = (
        "station,use_plan,use_height,latitude_deg,longitude_deg,ellipsoidal_height_m,"
        "frame_epsg,epoch_year,source"
    )
    control = [
        f"{name},held,held,{known['lat_deg']!r},{known['lon_deg']!r},{known['h']!r},"
        "6319,2010,case"
        for name, known in case["stations"].items()
        if known.get("fixed")
    ]
    (folder / "control.csv").write_text("\n".join([header, *control]) + "\n", "utf-8")
    (at,) = {(seen["at"], seen["hi"]) for seen in case["observations"]}
    stood = {"set_up": "TS", "station": at[0], "support": "tripod", "height_m": at[1]}
    stood["reading"] = "vertical"
    write(folder, "set_ups.csv", list(stood), [stood])
    rows = []
    for number, seen in enumerate(case["observations"]):
        kind = seen["type"]
        length = kind == "slope_distance"
        rows.append(
            {
                "pointing": f"t{number}",
                "set_up": "TS",
                "target_station": seen["to"],
                "target_height_m": seen["ht"],
                "round": seen.get("set", ""),
                VALUE[kind]: repr(seen["value"] if length else seen["value_deg"]),
                SD[kind]: repr(seen["sigma"] * MM if length else seen["sigma_sec"]),
            }
        )
    header = ["pointing", "set_up", "target_station", "target_height_m", "round"]
    write(folder, "total_station.csv", [*header, *VALUE.values(), *SD.values()], rows)
    return folder


@pytest.fixture(params=of_kind("terrestrial3d"))
def solved(request, case, tmp_path, said_of_readings):
    problem = case(request.param)
    adjustment = estimate(load(write_job(problem, tmp_path)).network)
    order = [
        (KIND[seen["type"]], f"t{number}")
        for number, seen in enumerate(problem["observations"])
    ]
    found = said_of_readings(adjustment, order)
    (name,) = problem["expected"]["xyz"]
    mark = adjustment.network.marks.name.index(name)
    xyz = adjustment.nodes.xyz[[mark]]
    found["xyz"] = {name: xyz[0]}
    found["llh"] = {name: adjustment.network.frame.geodetic(xyz)[0]}
    found["cov_enu"] = {
        name: adjustment.covariance(np.array([mark]), np.array([mark]))[0]
    }
    return problem, found


def test_both_solvers_answers_are_met(solved):
    """Place to 2 µm, covariance to 1e-5, residuals, redundancies, tests: the case.

    Of a covariance the relative tolerance is taken of its largest element, as the
    smallest are differences of large ones.
    """
    problem, found = solved
    for name, theirs in problem["expected"]["cov_enu"].items():
        size = 1e-5 * np.abs(theirs).max()
        np.testing.assert_allclose(found["cov_enu"][name], theirs, rtol=0, atol=size)
    for name, llh in problem["expected"]["llh"].items():
        near = problem["tolerance"]["llh"]
        assert (np.abs(found["llh"][name] - llh) <= near).all()
    kept = problem["expected"].keys() - {"cov_enu", "llh"}
    problem.check(**{key: found[key] for key in kept})


def test_an_independent_solver_agrees(solved):
    """Twelve digits of a solver that shares no code with this one."""
    problem, found = solved
    computed = problem["computed"]
    keys = found.keys() & computed.keys() - {"xyz", "llh", "cov_enu"}
    assert {"vtpv", "residuals", "redundancy", "w", "chi2_upper_025"} <= keys
    for key in keys:
        size = 1e-6 * np.abs(computed[key]).max()
        np.testing.assert_allclose(
            found[key], computed[key], rtol=0, atol=size, err_msg=key
        )
    for name, xyz in computed["xyz"].items():
        np.testing.assert_allclose(found["xyz"][name], xyz, rtol=0, atol=1e-7)


def test_redundancies_sum_to_the_degrees_of_freedom(solved):
    """The orientation takes part with none (any adjustment text)."""
    _, found = solved
    assert found["redundancy"].sum() == pytest.approx(found["dof"], rel=0, abs=1e-6)
