"""Published plane networks, put in as job folders like a user's.

Each file in tests/cases names its source, and its answers come from there. Cases in
feet or with unit weights are put in as metres, their numbers unchanged.
"""

import json
from pathlib import Path

import numpy as np
import pytest

from brasscap.adjust import estimate, least_squares
from brasscap.adjust.judge import blunder_tests, variance_factor_test
from brasscap.adjust.precision import ellipse
from brasscap.io.tables.load import load
from brasscap.networks import NoSolution

CASES = Path(__file__).parent / "cases"
JOB = """schema = 1
[job]
title = "{title}"
surveyor_in_charge = "R. Example"
licence = "none"
[frame]
kind = "local"
earth = "flat"
[network]
dimension = "plan"
[set_up.tripod]
sd_centring_mm = 0
sd_height_mm = 0
[set_up.target]
sd_centring_mm = 0
sd_height_mm = 0
"""
MM = 1e3
ARCSEC = np.pi / 180 / 3600
KIND = {"distance": "horizontal distance"}
VALUE = {
    "distance": "horizontal_distance_m",
    "direction": "direction_deg",
    "angle": "angle_deg",
    "azimuth": "azimuth_deg",
}
SD = {
    "distance": "sd_distance_mm",
    "direction": "sd_direction_arcsec",
    "angle": "sd_angle_arcsec",
    "azimuth": "sd_azimuth_arcsec",
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


def pointings_of(case):
    """Yield the rows of total_station.csv, each kind in its own columns."""
    for number, seen in enumerate(case["observations"]):
        kind = seen["type"]
        length = kind == "distance"
        yield {
            "pointing": f"t{number}",
            "set_up": f"TS {seen.get('at') or seen['from']}",
            "target_station": seen.get("foresight") or seen["to"],
            "back_station": seen.get("backsight", ""),
            "round": seen.get("set", ""),
            VALUE[kind]: repr(seen["value"] if length else seen["value_deg"]),
            SD[kind]: repr(seen["sigma"] * MM if length else seen["sigma_sec"]),
        }


def write_job(case, folder, use="held"):
    """Write a plane network as the tables of a job.

    No approximate position goes in; fixed stations are held, or all are ``use``.
    """
    (folder / "job.toml").write_text(JOB.format(title=case["id"]), "utf-8")
    stations = case["stations"]
    write(folder, "stations.csv", ["station"], [{"station": name} for name in stations])
    control = [
        {
            "station": name,
            "use_plan": use,
            "north_m": repr(known["N"]),
            "east_m": repr(known["E"]),
            "source": "case",
        }
        for name, known in stations.items()
        if known.get("fixed") or use != "held"
    ]
    header = ["station", "use_plan", "north_m", "east_m", "source"]
    write(folder, "control.csv", header, control)
    rows = list(pointings_of(case))
    stood = dict.fromkeys(row["set_up"] for row in rows)
    set_ups = [
        {"set_up": name, "station": name.removeprefix("TS "), "support": "tripod"}
        for name in stood
    ]
    write(folder, "set_ups.csv", ["set_up", "station", "support"], set_ups)
    header = ["pointing", "set_up", "target_station", "back_station", "round"]
    write(folder, "total_station.csv", [*header, *VALUE.values(), *SD.values()], rows)
    return folder


def cofactor_of_plan(adjustment, marks):
    """Return the stated covariance of east and north of some marks, (2k, 2k)."""
    pairs = np.meshgrid(marks, marks, indexing="ij")
    blocks = adjustment.covariance(pairs[0].ravel(), pairs[1].ravel())[:, :2, :2]
    k = len(marks)
    return blocks.reshape(k, k, 2, 2).transpose(0, 2, 1, 3).reshape(2 * k, 2 * k)


def ellipse_of(cofactor):
    major, minor, azimuth = (float(part) for part in ellipse(cofactor))
    return {
        "semi_major": major,
        "semi_minor": minor,
        "azimuth_deg": float(np.degrees(azimuth)),
    }


def answers(case, adjustment, said_of_readings):
    """Return our answers under the names of the case, lengths in m, angles in ″."""
    order = [
        (KIND.get(seen["type"], seen["type"]), f"t{number}")
        for number, seen in enumerate(case["observations"])
    ]
    found = said_of_readings(adjustment, order)
    # "A.E", "A.N", "B.E" … is the order of the case.
    names = [name[:-2] for name in case["computed"]["unknown_order"][::2]]
    marks = [adjustment.network.marks.name.index(name) for name in names]
    cofactor = cofactor_of_plan(adjustment, np.array(marks))
    own = [cofactor[2 * k : 2 * k + 2, 2 * k : 2 * k + 2] for k in range(len(marks))]
    s0_sq = found["s0_sq"]
    variances = np.ones(len(order))
    for row, (kind, name) in enumerate(order):
        sights = next(s for s in adjustment.network.sights if s.kind == kind)
        unit = 1.0 if kind == "horizontal distance" else ARCSEC
        variances[row] = (sights.sd[sights.name.index(name)] / unit) ** 2
    # Of an uncorrelated observation: what the redundancy leaves of its variance.
    left = s0_sq * variances * (1 - found["redundancy"])
    return found | {
        "coordinates": {
            name: adjustment.nodes.xyz[mark, :2]
            for name, mark in zip(names, marks, strict=True)
        },
        "Q": cofactor,
        "Cx": s0_sq * cofactor,
        "sd": {
            name: np.sqrt(s0_sq * np.diag(block))
            for name, block in zip(names, own, strict=True)
        },
        "sd_adjusted": np.sqrt(left),
        "ellipse_apriori": dict(zip(names, map(ellipse_of, own), strict=True)),
        "ellipse": {
            name: ellipse_of(s0_sq * block)
            for name, block in zip(names, own, strict=True)
        },
    }


def agree(found, theirs, key):
    """Compare with 12 digits: coordinates to 1 µm, all else to a millionth."""
    if isinstance(theirs, dict):
        for name, value in theirs.items():
            agree(found[name], value, "coordinates" if key == "coordinates" else name)
        return
    size = np.max(np.abs(theirs))
    near = 1e-6 if key == "coordinates" else max(1e-6 * size, 1e-15)
    np.testing.assert_allclose(found, theirs, rtol=0, atol=near, err_msg=key)


@pytest.fixture(params=of_kind("horizontal2d"))
def solved(request, case, tmp_path, said_of_readings):
    problem = case(request.param)
    adjustment = estimate(load(write_job(problem, tmp_path)).network)
    return problem, answers(problem, adjustment, said_of_readings)


def test_the_published_answers_are_met(solved):
    """Every figure the source prints, within half a unit of its last digit."""
    problem, found = solved
    problem.check(**{key: found[key] for key in problem["expected"]})


def test_an_independent_solver_agrees(solved):
    """Twelve digits of a solver that shares no code with this one."""
    problem, found = solved
    computed = problem["computed"]
    keys = found.keys() & computed.keys()
    assert {"coordinates", "residuals", "Q", "w", "redundancy", "ellipse"} <= keys
    for key in keys:
        agree(found[key], computed[key], key)


def test_redundancies_sum_to_the_degrees_of_freedom(solved):
    """Orientations take part with none (any adjustment text).

    To a millionth: the factor is that of the last place, at most 0.01 mm away.
    """
    _, found = solved
    assert found["redundancy"].sum() == pytest.approx(found["dof"], rel=0, abs=1e-6)


def test_a_target_seen_by_one_direction_is_tested_across_its_line(case, tmp_path):
    """Its set-up and the direction are one cause: the same statistic, one component.

    That the target stood too near or too far, or too high, no direction sees.
    """
    problem = case("directions_resection_orientation_unknown")
    tests = blunder_tests(estimate(load(write_job(problem, tmp_path)).network))
    found = {
        (kind, name): (count, statistic)
        for kind, name, count, statistic in zip(
            tests.kind,
            tests.name,
            tests.tests.components.tolist(),
            tests.tests.stated.statistic.tolist(),
            strict=True,
        )
    }
    for number, mark in enumerate("PQRS"):
        count, statistic = found["set-up", f"target {mark} from TS U"]
        assert count == 1
        expected = found["direction", f"t{number}"][1]
        assert statistic == pytest.approx(expected, rel=1e-6, abs=0)


@pytest.mark.parametrize("name", of_kind("horizontal2d_free"))
def test_a_square_with_its_diagonals_without_a_datum(
    name, case, tmp_path, said_of_readings
):
    """One self-stress: 1/8 of it in each side, 1/4 in each diagonal (by hand).

    Laid on the booked corners, the covariance is the pseudo-inverse; any corner held,
    with the azimuth to another, gives the same redundancies.
    """
    problem = case(name)
    network = load(write_job(problem, tmp_path, "check-only")).network
    free, minimal = estimate(network, "free", over="all"), estimate(network, "minimal")
    found = answers(problem, free, said_of_readings)
    problem.check(dof=found["dof"], redundancy=found["redundancy"])
    order = [("horizontal distance", f"t{i}") for i in range(6)]
    again = said_of_readings(minimal, order)
    problem.check(dof=again["dof"], redundancy=again["redundancy"])
    for key in ("coordinates", "Q", "ellipse_apriori"):
        agree(found[key], problem["computed"][key], key)
    # Nothing contradicts anything: what is left is rounding of 141 m.
    np.testing.assert_allclose(found["residuals"], 0, rtol=0, atol=1e-12)


def test_a_trilateration_with_no_control_held_has_nothing_to_stand_on(case, tmp_path):
    """Two shifts and a turn are free, and that is what is said."""
    problem = case("analytic_square_free_trilateration")
    network = load(write_job(problem, tmp_path, "check-only")).network
    with pytest.raises(NoSolution) as caught:
        estimate(network)
    assert len(caught.value.freedoms) == 3


def test_the_variance_factor_of_a_traverse_fails(case, tmp_path):
    """9.92 is above 9.35 (χ², 3 degrees of freedom, 97.5 %): the case's figures."""
    problem = case("traverse_one_station_mixed")
    adjustment = estimate(load(write_job(problem, tmp_path)).network)
    assert variance_factor_test(adjustment).verdict == "fails"


def test_directions_equal_correlated_angles(case, tmp_path):
    """Differences of directions with their full covariance: the case's second way.

    The three angles go through the least-squares kernel, around the adjusted point.
    """
    problem = case("directions_resection_orientation_unknown")
    adjustment = estimate(load(write_job(problem, tmp_path)).network)
    mark = adjustment.network.marks.name.index("U")
    here = adjustment.nodes.xyz[mark, :2]
    other = problem["alternative_formulation"]
    targets = np.array([[problem["stations"][n][k] for k in "EN"] for n in "PQRS"])
    line = targets - here
    azimuth = np.arctan2(line[:, 0], line[:, 1])
    square = (line**2).sum(axis=1)[:, None]
    by_place = np.stack([-line[:, 1], line[:, 0]], axis=1) / square
    observed = np.radians([angle["value_deg"] for angle in other["angles"]])
    solution = least_squares(
        np.diff(by_place, axis=0),
        observed - np.diff(azimuth),
        np.array(other["angle_covariance_sec2"]) * ARCSEC**2,
    )
    # The directions' solution is that of the angles: nothing is left to move.
    np.testing.assert_allclose(solution.estimate, 0, rtol=0, atol=1e-8)
    np.testing.assert_allclose(
        solution.residuals / ARCSEC, other["residuals_of_angles"], rtol=0, atol=2e-5
    )
    ours = cofactor_of_plan(adjustment, np.array([mark]))
    np.testing.assert_allclose(ours, solution.cofactor, rtol=1e-6, atol=0)
    assert solution.vtpv == pytest.approx(adjustment.vtpv, rel=1e-6, abs=0)
