"""Published networks of GNSS vectors, put in as job folders like a user's.

Each file in tests/cases names its source, and its answers come from there.
"""

import json
from pathlib import Path

import numpy as np
import pytest

from brasscap.adjust import estimate
from brasscap.adjust.judge import blunder_tests, variance_factor_test
from brasscap.io.tables.load import load

CASES = Path(__file__).parent / "cases"
JOBS = Path(__file__).parent / "jobs"
NETWORKS = [
    path.stem
    for path in sorted(CASES.glob("*.json"))
    if json.loads(path.read_text("utf-8"))["kind"] == "gnss3d"
]
TEXTBOOK = "gnss_textbook_two_control_13_vectors"
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
[set_up]
none = true
"""
MM2 = 1e6


def write_job(case, folder):
    """Write a case of vectors as the tables of a job."""
    (folder / "job.toml").write_text(JOB.format(title=case["id"]), "utf-8")
    stations = case["stations"]
    lines = ["station,status", *(f"{name},found" for name in stations)]
    (folder / "stations.csv").write_text("\n".join(lines) + "\n", "utf-8")
    lines = [
        "station,use_plan,use_height,x_m,y_m,z_m,frame_epsg,epoch_year,source",
        *(
            f"{name},held,held,{','.join(map(repr, known['xyz']))},6319,2010,case"
            for name, known in stations.items()
            if known.get("fixed")
        ),
    ]
    (folder / "control.csv").write_text("\n".join(lines) + "\n", "utf-8")
    components = [f"cov_{pair}_mm2" for pair in ("xx", "xy", "xz", "yy", "yz", "zz")]
    lines = [
        "baseline,session,from_station,to_station,dx_m,dy_m,dz_m,"
        + ",".join(components)
        + ",vector_between,frame_epsg,epoch_year"
    ]
    for number, vector in enumerate(case["observations"]):
        figures = vector["dxyz"] + [v * MM2 for v in vector["cov_xx_xy_xz_yy_yz_zz"]]
        lines.append(
            f"v{number},v{number},{vector['from']},{vector['to']},"
            + ",".join(map(repr, figures))
            + ",marks,6319,2010"
        )
    (folder / "baselines.csv").write_text("\n".join(lines) + "\n", "utf-8")
    return folder


def adjusted(folder):
    return estimate(load(folder).network, "constrained")


def unknown_marks(case, adjustment):
    """Return the numbers of the marks that the case does not hold, in its order."""
    names = adjustment.network.marks.name
    return {
        name: names.index(name)
        for name, station in case["stations"].items()
        if not station.get("fixed")
    }


def geocentric_covariance(adjustment, nodes):
    """Return (3k, 3k) the stated covariance in X, Y, Z, from the east-north-up one."""
    first, second = (grid.ravel() for grid in np.meshgrid(nodes, nodes, indexing="ij"))
    axes = adjustment.nodes.axes
    enu = adjustment.covariance(first, second)
    xyz = np.einsum("nji,njk,nkl->nil", axes[first], enu, axes[second])
    k = len(nodes)
    return xyz.reshape(k, k, 3, 3).transpose(0, 2, 1, 3).reshape(3 * k, 3 * k)


@pytest.fixture(params=NETWORKS)
def solved(request, case, tmp_path):
    problem = case(request.param)
    return problem, adjusted(write_job(problem, tmp_path))


def answers(problem, adjustment):
    """Return our answers under the names of the case."""
    marks = unknown_marks(problem, adjustment)
    cofactor = geocentric_covariance(adjustment, list(marks.values()))
    s0_sq = adjustment.s0_sq
    sd = np.sqrt(np.diag(cofactor) * s0_sq).reshape(-1, 3)
    tests = blunder_tests(adjustment)
    baselines = np.array([kind == "baseline" for kind in tests.kind])
    factor = variance_factor_test(adjustment)
    return {
        "dof": adjustment.degrees_of_freedom,
        "vtpv": adjustment.vtpv,
        "s0_sq": s0_sq,
        "s0": np.sqrt(s0_sq),
        "xyz": {name: adjustment.nodes.xyz[mark] for name, mark in marks.items()},
        "sd": dict(zip(marks, sd, strict=True)),
        "sd_adjusted_obs": sd[0, 0],
        "Q": cofactor,
        "residuals": adjustment.residuals["baseline"],
        "vector_T3": tests.tests.stated.statistic[baselines],
        "redundancy_block_trace": tests.redundancy[baselines],
        "chi2_lower_975": factor.lower * adjustment.degrees_of_freedom,
        "chi2_upper_025": factor.upper * adjustment.degrees_of_freedom,
    }


def test_the_published_answers_are_met(solved):
    """Every figure the source prints, within half a unit of its last digit."""
    problem, adjustment = solved
    found = answers(problem, adjustment)
    problem.check(**{key: found[key] for key in problem["expected"]})


def test_an_independent_solver_agrees(solved):
    """Twelve digits of a solver that shares no code with this one."""
    problem, adjustment = solved
    found = answers(problem, adjustment)
    positions, sd = found.pop("xyz"), found.pop("sd")
    problem.check_computed(
        **{k: v for k, v in found.items() if k in problem["computed"]}
    )
    for name, position in positions.items():
        # A tenth of a micrometre on a position of 5,000 km.
        np.testing.assert_allclose(
            position, problem["computed"]["xyz"][name], rtol=0, atol=1e-7
        )
        np.testing.assert_allclose(
            sd[name], problem["computed"]["sd"][name], rtol=1e-6, atol=0
        )


def test_the_variance_factor_of_the_textbook_network_meets(case, tmp_path):
    """vᵀPv = 16.56 lies within 14.573 … 43.195 (χ², 27 degrees, 95 %): the source."""
    adjustment = adjusted(write_job(case(TEXTBOOK), tmp_path))
    assert variance_factor_test(adjustment).verdict == "meets"


def test_one_of_four_repeats_is_the_blunder(case, tmp_path):
    """T = 35.09 for the fourth vector, 10.45 at most elsewhere: the case's note.

    χ² with 3 degrees of freedom is exceeded by 16.266 with probability 0.1 %.
    """
    problem = case("analytic_repeated_gnss_vector_block_test")
    tests = blunder_tests(adjusted(write_job(problem, tmp_path)))
    worst = tests.order()[0]
    assert (tests.kind[worst], tests.name[worst]) == ("baseline", "v3")
    over = np.flatnonzero(tests.tests.stated.statistic > 16.266)
    assert [tests.name[row] for row in over] == ["v3"]


def test_the_job_folder_of_the_textbook_network_reads_as_written(case, tmp_path):
    """The folder kept in tests/jobs is the case: same answer to the last digit."""
    kept = adjusted(JOBS / TEXTBOOK)
    made = adjusted(write_job(case(TEXTBOOK), tmp_path))
    assert kept.network.marks.name == made.network.marks.name
    np.testing.assert_allclose(kept.nodes.xyz, made.nodes.xyz, rtol=0, atol=1e-8)
    assert kept.vtpv == pytest.approx(made.vtpv, rel=1e-9)
