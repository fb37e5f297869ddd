"""Published level nets, put in as job folders like a user's.

Each file in tests/cases names its source, and its answers come from there. Cases in
feet or with unit weights are put in as metres, their numbers unchanged.
"""

import json
from pathlib import Path

import numpy as np
import pytest

from brasscap.__main__ import main
from brasscap.adjust import estimate
from brasscap.adjust.judge import (
    alone_explaining,
    blunder_tests,
    shifts,
    variance_factor_test,
)
from brasscap.io.tables.load import load

CASES = Path(__file__).parent / "cases"
JOB = """schema = 1
[job]
title = "{title}"
surveyor_in_charge = "R. Example"
licence = "none"
[frame]
kind = "local"
earth = "flat"
height_datum = "site datum"
[network]
dimension = "height"
"""
MM, MM2 = 1e3, 1e6
LEVEL, KNOWN = "level difference", "known mark"


def of_kind(kind):
    return [
        path.stem
        for path in sorted(CASES.glob("*.json"))
        if json.loads(path.read_text("utf-8"))["kind"] == kind
    ]


def write(folder, name, lines):
    (folder / name).write_text("\n".join(lines) + "\n", "utf-8")


def write_job(case, folder, control):
    """Write a level net as the tables of a job; ``control`` is rows of heights."""
    (folder / "job.toml").write_text(JOB.format(title=case["id"]), "utf-8")
    write(folder, "stations.csv", ["station", *case["stations"]])
    write(
        folder,
        "control.csv",
        ["station,use_height,height_m,height_datum,sd_height_mm,source", *control],
    )
    lines = [
        f"t{i},{line['from']},{line['to']},{line['value']!r},single,"
        f"{line['sigma'] * MM!r}"
        for i, line in enumerate(case["observations"])
    ]
    write(
        folder,
        "levels.csv",
        ["section,from_station,to_station,rise_m,run,sd_mm", *lines],
    )
    return folder


def control_of(case):
    """Return the rows of control.csv: held, or weighted with its sd."""
    together = case.content.get("control_covariance")
    sds = {}
    if together:
        variances = np.diag(together["matrix"])
        sds = dict(zip(together["order"], np.sqrt(variances).tolist(), strict=True))
    for name, known in case["stations"].items():
        sd = known.get("sigma", sds.get(name))
        if known.get("fixed"):
            yield f"{name},held,{known['height']!r},site datum,,case"
        elif sd:
            yield f"{name},weighted,{known['height']!r},site datum,{sd * MM!r},case"


def adjusted(case, folder):
    """Return the adjustment of a net whose control is held or weighted."""
    write_job(case, folder, control_of(case))
    together = case.content.get("control_covariance")
    if together:
        (first, second), between = together["order"], together["matrix"][0][1]
        write(
            folder,
            "covariances.csv",
            [
                "table,row,row_axis,column,column_axis,cov_mm2",
                f"control,{first},height,{second},height,{between * MM2!r}",
            ],
        )
    return estimate(load(folder).network)


def cofactor_of_heights(adjustment, names):
    """Return the stated covariance of heights, and the marks' numbers."""
    marks = np.array([adjustment.network.marks.name.index(name) for name in names])
    pairs = np.meshgrid(marks, marks, indexing="ij")
    blocks = adjustment.covariance(pairs[0].ravel(), pairs[1].ravel())
    return blocks[:, 2, 2].reshape(len(marks), len(marks)), marks


def answers(case, adjustment, said_of_readings):
    """Return our answers under the names of the case."""
    order = [(LEVEL, f"t{i}") for i in range(len(case["observations"]))]
    weighted = [e.kind for e in adjustment.equations if e.kind == KNOWN]
    if weighted:
        known = adjustment.network.known
        order += [(KNOWN, adjustment.network.marks.name[m]) for m in known.mark]
    found = said_of_readings(adjustment, order)
    names = case["computed"]["unknown_order"]
    cofactor, marks = cofactor_of_heights(adjustment, names)
    s0_sq, height = found["s0_sq"], adjustment.nodes.xyz[:, 2]
    levels = adjustment.network.levels
    ends = np.zeros((len(levels), len(names)))
    for k, mark in enumerate(marks):
        ends[:, k] = (levels.end == mark) * 1.0 - (levels.start == mark) * 1.0
    if weighted:
        ends = np.vstack([ends, np.eye(len(names))[: len(known.mark)]])
    adjusted_variances = np.einsum("ij,jk,ik->i", ends, cofactor, ends)
    prior = np.sqrt(np.diag(cofactor))
    return found | {
        "heights": dict(zip(names, height[marks], strict=True)),
        "adjusted": height[levels.end] - height[levels.start],
        "Q": cofactor,
        "Cx": s0_sq * cofactor,
        "Qdiag": dict(zip(names, prior**2, strict=True)),
        "sd_prior": dict(zip(names, prior, strict=True)),
        "sd": dict(zip(names, np.sqrt(s0_sq) * prior, strict=True)),
        "sd_adjusted": np.sqrt(s0_sq * adjusted_variances),
        "external_effect": [
            effect_on(adjustment, edge, size, marks[0])
            for edge, size in enumerate(found["mdb"][: len(levels)])
        ],
    }


def effect_on(adjustment, edge, size, mark):
    """Return how far a blunder of some size in a levelled line lifts a mark, m."""
    (levels,) = (some for some in adjustment.equations if some.kind == LEVEL)
    shift = np.array([size, 0.0, 0.0])
    return shifts.effect_of_edge(adjustment, levels, edge, shift)[mark, 2]


def agree(case, found):
    """Compare with the 12 digits of an independent solver, whatever it gives."""
    computed, names = case["computed"], case["computed"]["unknown_order"]
    for key in found.keys() & computed.keys():
        ours, theirs = found[key], computed[key]
        if isinstance(theirs, dict):
            ours, theirs = ([those[n] for n in names] for those in (ours, theirs))
        # Heights to 10 nm; all else to a millionth of the largest.
        size = np.abs(theirs).max()
        near = 1e-8 if key in ("heights", "adjusted") else max(1e-6 * size, 1e-15)
        np.testing.assert_allclose(ours, theirs, rtol=0, atol=near, err_msg=key)


@pytest.fixture(params=of_kind("levelling"))
def solved(request, case, tmp_path, said_of_readings):
    problem = case(request.param)
    adjustment = adjusted(problem, tmp_path)
    return problem, answers(problem, adjustment, said_of_readings)


def test_the_published_answers_are_met(solved):
    """Every figure the source prints, within half a unit of its last digit."""
    problem, found = solved
    problem.check(**{key: found[key] for key in problem["expected"]})


def test_an_independent_solver_agrees(solved):
    """Twelve digits of a solver that shares no code with this one."""
    problem, found = solved
    assert {"heights", "residuals", "Q", "w", "redundancy"} <= found.keys()
    agree(problem, found)


def test_redundancies_sum_to_the_degrees_of_freedom(solved):
    """Held marks take part with none (any adjustment text)."""
    _, found = solved
    assert found["redundancy"].sum() == pytest.approx(found["dof"], rel=0, abs=1e-9)


def test_correlated_control_moves_by_elevenths(case, tmp_path):
    """−6/11 mm and +36/11 mm; without the correlation −24/17 and +54/17: the note."""
    problem = case("analytic_correlated_control_heights")
    heights = adjusted(problem, tmp_path).nodes.xyz[:, 2]
    moved = np.array([-6 / 11, 36 / 11]) / MM
    np.testing.assert_allclose(heights - [100, 101], moved, rtol=0, atol=1e-12)
    (tmp_path / "covariances.csv").unlink()
    heights = estimate(load(tmp_path).network).nodes.xyz[:, 2]
    moved = np.array([-24 / 17, 54 / 17]) / MM
    np.testing.assert_allclose(heights - [100, 101], moved, rtol=0, atol=1e-12)


def test_a_failing_variance_factor_fails(case, tmp_path):
    """19.80 is above 11.14 (χ², 4 degrees of freedom, 97.5 %): Wuhan, the case."""
    problem = case("level_two_benchmarks_km_weights")
    assert variance_factor_test(adjusted(problem, tmp_path)).verdict == "fails"


def test_one_degree_of_freedom_fails_without_saying_where(case, tmp_path):
    """Ogundare (2019), Example 6.11: the global test fails, no line stands out.

    Every test is the same to nine digits and every shift the same misclosure of
    0.532 m, so that what ``order`` lists first is only what stands first in the job.
    """
    problem = case("level_weighted_control_blunder")
    adjustment = adjusted(problem, tmp_path)
    assert variance_factor_test(adjustment).verdict == "fails"
    tests = blunder_tests(adjustment)
    single = np.isfinite(tests.basis.test)
    assert single.all()
    np.testing.assert_allclose(tests.basis.test, tests.basis.test[0], rtol=1e-9)
    size = np.abs(np.nansum(tests.tests.shift, axis=1))
    np.testing.assert_allclose(size, 0.532, rtol=0, atol=1e-9)
    np.testing.assert_array_equal(tests.order(), np.arange(len(tests)))
    # Each line and each known height by itself would explain it all.
    assert [tests.name[i] for i in alone_explaining(adjustment, tests)] == [
        "t0", "t1", "t2", "FH1", "FH2"
    ]  # fmt: skip
    # On the estimated basis nothing is left to judge by.
    assert np.isnan(tests.tests.estimated.test).all()


def test_it_is_said_that_a_blunder_cannot_be_located(case, tmp_path, capsys):
    """What `adjust` prints of Ogundare's Example 6.11, and not of a clean net."""
    problem = case("level_weighted_control_blunder")
    adjusted(problem, tmp_path)
    assert main(["--job", str(tmp_path), "adjust"]) == 1
    printed = " ".join(capsys.readouterr().out.split())
    assert (
        "cannot be located: level difference t0, level difference t1, level difference "
        "t2, known mark FH1, known mark FH2 – each of them alone explains the "
        "whole misfit"
    ) in printed
    (tmp_path / "covariances.csv").unlink(missing_ok=True)
    adjusted(case("analytic_repeated_levelling_reliability"), tmp_path)
    main(["--job", str(tmp_path), "adjust"])
    assert "cannot be located" not in capsys.readouterr().out


def test_the_poor_reading_of_five_is_found(case, tmp_path):
    """|w| = 3.950 > 3.29 for the fifth alone (Baarda 1968; closed form: the case)."""
    problem = case("analytic_repeated_levelling_reliability")
    adjustment = adjusted(problem, tmp_path)
    tests = blunder_tests(adjustment)
    assert [tests.name[i] for i in np.flatnonzero(tests.basis.test > 1)] == ["t4"]
    assert not len(alone_explaining(adjustment, tests))
    # Booked minus the mean of the other four, by hand: 1.2413 − 1.234675 m.
    assert tests.tests.shift[4, 0] == pytest.approx(0.006625, rel=0, abs=1e-12)


@pytest.mark.parametrize("name", of_kind("levelling_free"))
def test_a_loop_without_a_datum(name, case, tmp_path, said_of_readings):
    """A closure of 6 mm shared by three lines; (1/9)[2 −1 −1]: Wuhan, the case.

    Laid on zero for all three marks, the heights are the pseudo-inverse solution.
    """
    problem = case(name)
    zero = [f"{station},check-only,0,site datum,,case" for station in "123"]
    write_job(problem, tmp_path, zero)
    adjustment = estimate(load(tmp_path).network, "free")
    order = [(LEVEL, f"t{i}") for i in range(3)]
    found = said_of_readings(adjustment, order)
    cofactor, marks = cofactor_of_heights(adjustment, ["1", "2", "3"])
    agree(problem, found | {"Q": cofactor, "Cx": found["s0_sq"] * cofactor})
    np.testing.assert_allclose(
        adjustment.nodes.xyz[marks, 2], problem["computed"]["x_mm"], rtol=0, atol=1e-9
    )
    problem.check(
        closure_mm=MM * adjustment.network.levels.rise.sum(),
        Qx9=9 * cofactor,
        residuals_mm=MM * found["residuals"],
    )
