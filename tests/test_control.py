"""Known marks against the survey: sums by hand on a flat site, and a second way."""

import json
from dataclasses import replace

import numpy as np
import pytest

from brasscap.__main__ import main
from brasscap.adjust import estimate
from brasscap.adjust.judge import blunder_tests
from brasscap.adjust.judge.control import control
from brasscap.adjust.judge.control_compared import held_there
from brasscap.adjust.judge.control_joint import jointly
from brasscap.adjust.judge.control_moves import moves
from brasscap.adjust.judge.control_twins import alone
from brasscap.adjust.judge.hypotheses import known_marks
from brasscap.io.tables.load import load

MM = 1e3
JOB = """schema = 1
[job]
title = "by hand"
surveyor_in_charge = "R. Example"
licence = "none"
[frame]
kind = "local"
earth = "flat"
height_datum = "site datum"
[set_up]
none = true
"""
HEIGHTS = '[network]\ndimension = "height"\n'


def write(folder, name, lines):
    (folder / name).write_text("\n".join(lines) + "\n", "utf-8")


def make_levels(folder, runs, known):
    """Write a level net: runs of (from, to, rise m, sd mm), known of (use, height)."""
    (folder / "job.toml").write_text(JOB + HEIGHTS, "utf-8")
    write(
        folder,
        "control.csv",
        [
            "station,use_height,height_m,height_datum,sd_height_mm,source",
            *(
                f"{name},{use},{height!r},site datum,{sd},by hand"
                for name, (use, height, sd) in known.items()
            ),
        ],
    )
    write(
        folder,
        "levels.csv",
        [
            "section,from_station,to_station,rise_m,run,sd_mm",
            *(
                f"L{i},{a},{b},{rise!r},single,{sd}"
                for i, (a, b, rise, sd) in enumerate(runs)
            ),
        ],
    )
    return folder


PLACES = {"A": (0, 0), "B": (1000, 0), "C": (0, 1000), "P": (300, 400), "Q": (600, 800)}
"""East, north, m."""


def make_vectors(folder, pairs, known, noise=None):
    """Write vectors of 5 mm in each axis; known of (use, east, north, up off, mm)."""
    off = np.zeros((len(pairs), 3)) if noise is None else noise
    (folder / "job.toml").write_text(JOB, "utf-8")
    write(
        folder,
        "control.csv",
        [
            "station,use_plan,use_height,north_m,east_m,height_m,height_datum,source",
            *(
                f"{name},{use},{use},{PLACES[name][1] + north / MM:.9f},"
                f"{PLACES[name][0] + east / MM:.9f},{100 + up / MM:.9f},"
                "site datum,by hand"
                for name, (use, east, north, up) in known.items()
            ),
        ],
    )
    lines = []
    for i, (a, b) in enumerate(pairs):
        east, north = np.subtract(PLACES[b], PLACES[a]) + off[i, :2] / MM
        lines.append(
            f"V{i},{a},{b},{east:.9f},{north:.9f},{off[i, 2] / MM:.9f},{a},5,5,5"
        )
    write(
        folder,
        "baselines.csv",
        [
            "baseline,from_station,to_station,de_m,dn_m,du_m,horizon_at,"
            "sd_e_mm,sd_n_mm,sd_u_mm",
            *lines,
        ],
    )
    return folder


def row_of(found, station, part):
    (row,) = [r for r in found.rows if (r.station, r.part) == (station, part)]
    return row


def name_of(found, mark):
    return found.adjustment.network.marks.name[mark] if mark >= 0 else ""


# By hand


@pytest.fixture
def two_benchmarks(tmp_path):
    """A and B held, A – P 3 mm, P – B 4 mm; B is booked 10 mm above the survey."""
    runs = [("A", "P", 1.0, 3), ("P", "B", 1.0, 4)]
    known = {"A": ("held", 10.0, ""), "B": ("held", 12.010, "")}
    return control(estimate(load(make_levels(tmp_path, runs, known)).network))


def test_one_benchmark_against_the_other(two_benchmarks):
    """B minus survey 10 mm, sd √(3² + 4²) = 5 mm, limit 1.96 × 5 = 9.8 mm."""
    row = row_of(two_benchmarks, "B", "height")
    assert row.difference[2] == pytest.approx(0.010, rel=0, abs=1e-12)
    assert row.sd[2] == pytest.approx(0.005, rel=0, abs=1e-12)
    assert row.limit[2] == pytest.approx(1.959964 * 0.005, rel=1e-6)
    assert np.isnan(row.difference[:2]).all()
    # T = (10/5)² = 4 against 10.828 for α 0.1 % (chi-square tables).
    assert row.test == pytest.approx(np.sqrt(4 / 10.8276), rel=1e-4)
    assert row.verdict == "meets"
    other = row_of(two_benchmarks, "A", "height")
    assert other.difference[2] == pytest.approx(-0.010, rel=0, abs=1e-12)


def test_what_holding_a_benchmark_does(two_benchmarks):
    """P takes 3²/5² of the 10 mm: 3.6 mm up; nothing else there is."""
    row = row_of(two_benchmarks, "B", "height")
    assert name_of(two_benchmarks, row.farthest) == "P"
    assert row.move[2] == pytest.approx(0.0036, rel=0, abs=1e-12)


def test_of_two_benchmarks_the_survey_cannot_tell_which(two_benchmarks):
    assert row_of(two_benchmarks, "A", "height").twins == ("B",)
    assert row_of(two_benchmarks, "B", "height").twins == ("A",)


def test_two_benchmarks_together(two_benchmarks):
    """T = 10²/5² = 4 over 3.841 (chi-square, one degree of freedom, 95 %)."""
    (all_of,) = two_benchmarks.together
    assert (all_of.part, all_of.degrees_of_freedom) == ("height", 1)
    assert all_of.statistic == pytest.approx(4.0, rel=1e-9)
    assert all_of.limit == pytest.approx(3.841459, rel=1e-6)
    assert all_of.verdict == "fails"


def test_a_single_benchmark_is_unchecked(tmp_path):
    runs = [("A", "P", 1.0, 3), ("A", "P", 1.001, 3)]
    folder = make_levels(tmp_path, runs, {"A": ("held", 10.0, "")})
    found = control(estimate(load(folder).network))
    row = row_of(found, "A", "height")
    assert row.verdict == "unchecked"
    assert np.isnan(row.difference).all()
    assert [one.verdict for one in found.together] == ["unchecked"]


def test_a_benchmark_of_its_own_uncertainty(tmp_path):
    """B weighted with 12 mm: known minus survey has sd √(5² + 12²) = 13 mm."""
    runs = [("A", "P", 1.0, 3), ("P", "B", 1.0, 4)]
    known = {"A": ("held", 10.0, ""), "B": ("weighted", 12.010, 12)}
    found = control(estimate(load(make_levels(tmp_path, runs, known)).network))
    row = row_of(found, "B", "height")
    assert row.use == "weighted"
    assert row.difference[2] == pytest.approx(0.010, rel=0, abs=1e-12)
    assert row.sd[2] == pytest.approx(0.013, rel=0, abs=1e-12)
    # With it P rises by 3²/13² of the 10 mm.
    assert row.move[2] == pytest.approx(0.010 * 9 / 169, rel=1e-9)


def test_a_mark_that_is_only_compared_moves_what_it_would(tmp_path):
    """The same 10 mm and 3.6 mm, foretold from the solution that does not hold B."""
    runs = [("A", "P", 1.0, 3), ("P", "B", 1.0, 4)]
    known = {"A": ("held", 10.0, ""), "B": ("check-only", 12.010, "")}
    found = control(estimate(load(make_levels(tmp_path, runs, known)).network))
    row = row_of(found, "B", "height")
    assert row.use == "check-only"
    assert row.difference[2] == pytest.approx(0.010, rel=0, abs=1e-12)
    assert row.sd[2] == pytest.approx(0.005, rel=0, abs=1e-12)
    assert row.move[2] == pytest.approx(0.0036, rel=0, abs=1e-12)


@pytest.fixture
def star(tmp_path):
    """A, B, C held, each joined to P by a vector of 5 mm; C booked 30 mm too far east.

    C's neighbours put it 30 mm west of where it is held.
    """
    known = {
        "A": ("held", 0, 0, 0),
        "B": ("held", 0, 0, 0),
        "C": ("held", 30, 0, 0),
    }
    folder = make_vectors(tmp_path, [("A", "P"), ("B", "P"), ("C", "P")], known)
    return control(estimate(load(folder).network), subsets=True)


def test_the_mark_that_is_off_stands_out(star):
    """C: 30 mm, variance 25 + 25/2, T = 900/37.5 = 24; A, B: 15 mm, T = 6.

    Limit for two components 11.73: B-method, λ0 of one at α 0.1 %, power 80 %.
    """
    for name, east, statistic in (("C", 0.030, 24), ("A", -0.015, 6), ("B", -0.015, 6)):
        row = row_of(star, name, "plan")
        np.testing.assert_allclose(row.difference[:2], [east, 0], rtol=0, atol=1e-9)
        np.testing.assert_allclose(row.sd[:2], np.sqrt(37.5e-6), rtol=1e-9)
        assert row.test**2 * 11.730 == pytest.approx(statistic, rel=1e-3)
        height = row_of(star, name, "height")
        assert height.test == pytest.approx(0, rel=0, abs=1e-9)
    assert row_of(star, "C", "plan").verdict == "fails"
    assert row_of(star, "C", "plan").twins == ()


def test_what_holding_the_wrong_mark_does(star):
    """P goes from 0 to a third of the 30 mm.

    C itself goes 30 mm east, P 10 mm: 20 mm over the 671 m between them, 29.8 ppm.
    """
    row = row_of(star, "C", "plan")
    assert name_of(star, row.farthest) == "P"
    np.testing.assert_allclose(row.move, [0.010, 0, 0], atol=1e-9)
    assert {name_of(star, mark) for mark in row.pair} == {"C", "P"}
    distance = np.hypot(300, 600)
    assert row.distortion == pytest.approx(0.020 / distance, rel=1e-3)


def test_the_subsets_say_which_two_agree(star):
    """A and B: 0; with C: 30²/(25 + 25) = 18; all: 24 on 4 degrees of freedom."""
    found = {one.stations: one for one in star.subsets if one.part == "plan"}
    expected = {
        ("A", "B", "C"): (24, 4, "fails"),
        ("A", "B"): (0, 2, "meets"),
        ("A", "C"): (18, 2, "fails"),
        ("B", "C"): (18, 2, "fails"),
    }
    assert found.keys() == expected.keys()
    for stations, (statistic, freedom, verdict) in expected.items():
        one = found[stations]
        assert one.statistic == pytest.approx(statistic, rel=1e-6, abs=1e-9)
        assert (one.degrees_of_freedom, one.verdict) == (freedom, verdict)


def test_a_height_with_two_digits_exchanged_is_known_by_its_size(tmp_path):
    """12.010 m, booked 12.100: 90 mm too high, among the names that are tried."""
    runs = [("A", "P", 1.0, 3), ("P", "B", 1.0, 4)]
    known = {"A": ("held", 10.0, ""), "B": ("held", 12.1, "")}
    runs[1] = ("P", "B", 1.01, 4)
    found = control(estimate(load(make_levels(tmp_path, runs, known)).network))
    row = row_of(found, "B", "height")
    assert row.test > 1
    assert "digits exchanged, 12.100 for 12.010" in {one.words for one in row.likeness}
    # Either may be wrong, and each is tried: no two digits of 10.000 make 90 mm.
    assert not [
        one for one in row_of(found, "A", "height").likeness if "digits" in one.words
    ]


def gda94_to_gda2020(xyz):
    """Return a place in GDA2020, by the seven published parameters.

    ICSM, GDA2020 technical manual (from memory): metres, arcseconds, parts per
    million; coordinate frame rotation.
    """
    shift = np.array([0.06155, -0.01087, -0.04019])
    rx, ry, rz = np.array([-0.0394924, -0.0327221, -0.0328979]) * np.pi / 180 / 3600
    rotation = np.array([[1, rz, -ry], [-rz, 1, rx], [ry, -rx, 1]])
    return shift + (1 - 0.009994e-6) * rotation @ xyz


def test_a_mark_in_another_frame_is_known_by_its_shift(job):
    """A mark booked in GDA94 where the job is in GDA2020, nearly two metres away."""
    network = load(job).network
    booked = network.known.xyz.copy()
    # What GDA94 calls the same place: the inverse, to the square of a few 1e-7.
    booked[0] -= gda94_to_gda2020(booked[0]) - booked[0]
    wrong = replace(network, known=replace(network.known, xyz=booked))
    found = control(estimate(wrong))
    name = network.marks.name[network.known.mark[0]]
    row = row_of(found, name, "plan")
    (like,) = row.likeness
    assert like.words == "coordinates of GDA94"
    assert like.chance < 0.001
    axes = network.frame.axes(booked[:1])[0]
    expected = axes[:2] @ (booked[0] - network.known.xyz[0])
    np.testing.assert_allclose(like.size, expected, rtol=0, atol=1e-3)


# A second way: adjust again


PAIRS = [("A", "P"), ("B", "P"), ("C", "P"), ("A", "Q"), ("Q", "P"), ("Q", "C")]


@pytest.fixture
def noisy(tmp_path):
    """A survey with noise, and known marks that are off by a centimetre or so."""
    rng = np.random.default_rng(20240229)
    known = {name: ("held", *rng.normal(0, 10, 3).round(3)) for name in ("A", "B", "C")}
    return make_vectors(tmp_path, PAIRS, known, rng.normal(0, 5, (len(PAIRS), 3)))


@pytest.mark.parametrize("station", ["A", "B", "C"])
def test_leaving_a_mark_out_is_what_a_second_adjustment_says(noisy, station):
    """Difference, sd and shifts of all marks, by check-only in its place."""
    with_it = estimate(load(noisy).network)
    found = control(with_it)
    table = (noisy / "control.csv").read_text("utf-8")
    line = f"{station},held,held"
    assert line in table
    (noisy / "control.csv").write_text(
        table.replace(line, f"{station},check-only,held"), "utf-8"
    )
    without = estimate(load(noisy).network)
    compared = row_of(control(without), station, "plan")
    row = row_of(found, station, "plan")
    np.testing.assert_allclose(row.difference, compared.difference, atol=1e-9)
    np.testing.assert_allclose(row.sd, compared.sd, rtol=1e-6)
    marks = len(with_it.network.marks)
    moved = with_it.nodes.xyz[:marks] - without.nodes.xyz[:marks]
    of_plan = [one for one in known_marks(with_it) if one.kind.endswith("plan")]
    (k,) = [k for k, one in enumerate(of_plan) if one.name == station]
    ((_, found_moved),) = moves(with_it, alone(jointly(with_it, of_plan)), [k])
    np.testing.assert_allclose(found_moved, moved, rtol=0, atol=1e-9)
    np.testing.assert_allclose(held_there(without, compared), moved, rtol=0, atol=1e-9)
    for one in (row, compared):
        np.testing.assert_allclose(one.move, moved[one.farthest], rtol=0, atol=1e-9)


def test_what_all_marks_add_is_the_difference_of_two_solutions(noisy):
    """ΔΩ = vᵀPv constrained − minimal, on as many more degrees of freedom.

    Plan and height are independent here, so theirs sum to it.
    """
    network = load(noisy).network
    constrained, minimal = estimate(network), estimate(network, "minimal")
    found = control(constrained)
    both = sum(one.statistic for one in found.together)
    assert both == pytest.approx(constrained.vtpv - minimal.vtpv, rel=1e-6)
    freedom = constrained.degrees_of_freedom - minimal.degrees_of_freedom
    assert sum(one.degrees_of_freedom for one in found.together) == freedom


def test_the_figures_are_those_of_adjust(noisy):
    """The tests of held marks by letting them go, in both commands."""
    adjustment = estimate(load(noisy).network)
    tests, found = blunder_tests(adjustment), control(adjustment)
    compared = 0
    for i in range(len(tests)):
        if not tests.kind[i].startswith("known mark"):
            continue
        part = tests.kind[i].removeprefix("known mark ")
        row = row_of(found, tests.name[i], part)
        np.testing.assert_allclose(row.difference, tests.tests.shift[i], atol=1e-9)
        assert row.test == pytest.approx(float(tests.basis.test[i]), rel=1e-9)
        compared += 1
    assert compared == 6


# On a curved earth, by the example; and the command


@pytest.fixture
def job(tmp_path, monkeypatch):
    folder = tmp_path / "job"
    assert main(["new", str(folder), "--example", "harbour", "--quiet"]) == 0
    monkeypatch.chdir(folder)
    return folder


def test_marks_that_all_move_alike_are_not_checked_by_the_earths_curve(job, capsys):
    """Three marks held: 3 × 2 − 2 degrees of freedom in plan, 3 − 1 in height."""
    capsys.readouterr()
    assert main(["control", "--subsets", "--json", "--quiet"]) in (0, 1)
    found = json.loads(capsys.readouterr().out)
    freedoms = {one["part"]: one["degrees_of_freedom"] for one in found["together"]}
    assert freedoms == {"plan": 4, "height": 2}
    assert len(found["subsets"]) == 2 * 4
    assert all(one["degrees_of_freedom"] in (1, 2, 4) for one in found["subsets"])


def test_the_command_says_when_two_marks_cannot_be_told_apart(job, capsys):
    table = (job / "control.csv").read_text("utf-8").splitlines()
    kept = [line for line in table if "PILOT POINT" not in line]
    (job / "control.csv").write_text("\n".join(kept) + "\n", "utf-8")
    capsys.readouterr()
    main(["control", "--quiet"])
    out = " ".join(capsys.readouterr().out.split())
    for part in ("plan", "height"):
        assert (
            f"if one of GRAIN SHED, SIGNAL HILL is wrong in {part}, the survey cannot "
            "tell which" in out
        )
    assert main(["control", "--json", "--quiet"]) in (0, 1)
    found = json.loads(capsys.readouterr().out)
    twins = {m["station"]: m["cannot_be_told_from"] for m in found["marks"]}
    assert twins["SIGNAL HILL"] == ["GRAIN SHED"]


@pytest.mark.parametrize("example", ["mill", "tramway"])
@pytest.mark.parametrize("mode", ["minimal", "constrained"])
def test_the_other_examples_are_answered(tmp_path, capsys, example, mode):
    """Of sights, where an azimuth is held; of levels alone, without a plan."""
    folder = tmp_path / example
    assert main(["new", str(folder), "--example", example, "--quiet"]) == 0
    capsys.readouterr()
    words = ["--job", str(folder), "--datum", mode, "--json", "--quiet"]
    assert main(["control", "--subsets", *words]) in (0, 1)
    found = json.loads(capsys.readouterr().out)
    assert found["marks"]
    if example == "tramway":
        assert all(one["strains_ppm"] is None for one in found["marks"])
    assert main(["reliability", *words]) == 0


def test_minimal_compares_all_but_the_one_held(job, capsys):
    capsys.readouterr()
    assert main(["control", "--datum", "minimal", "--json", "--quiet"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert {m["use"] for m in found["marks"]} == {"check-only"}
    assert "SIGNAL HILL" not in {m["station"] for m in found["marks"]}


def test_a_survey_at_odds_with_itself_is_said_before_any_mark(tmp_path, capsys):
    """Two runs A – P differ by 100 mm, each with an sd of 1 mm: 71 times the sd."""
    runs = [("A", "P", 1.0, 1), ("A", "P", 1.1, 1), ("P", "B", 1.0, 1)]
    known = {"A": ("held", 10.0, ""), "B": ("held", 12.050, "")}
    make_levels(tmp_path, runs, known)
    assert main(["control", "--job", str(tmp_path), "--quiet"]) == 0
    said = capsys.readouterr().out.splitlines()
    assert said[1].split() == ["premise", "[", "]", "o", "fails"]
    assert "at odds with each other" in said[2]
    assert said[-1] == f"next: brasscap --job {tmp_path} suspects --datum minimal"
    main(["control", "--job", str(tmp_path), "--quiet", "--json"])
    assert "find that first" in json.loads(capsys.readouterr().out)["premise"]


def test_of_a_survey_that_agrees_nothing_is_said(tmp_path, capsys):
    runs = [("A", "P", 1.0, 1), ("A", "P", 1.0005, 1), ("P", "B", 1.0, 1)]
    known = {"A": ("held", 10.0, ""), "B": ("held", 12.0, "")}
    make_levels(tmp_path, runs, known)
    assert main(["control", "--job", str(tmp_path), "--quiet"]) == 0
    assert "premise" not in capsys.readouterr().out
