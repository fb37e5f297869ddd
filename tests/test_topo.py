"""Shots hung on control, judged: by hand where a figure is stated."""

import json
from pathlib import Path

import jsonschema
import numpy as np
import pytest

from brasscap.__main__ import main
from brasscap.json_schemas import schema_of


@pytest.fixture
def job(topo_job):
    """Return a maker of the job: rows of shots, more tables of topo/."""
    return topo_job


@pytest.fixture
def asked(capsys):
    """Return exit code and object of a command line."""

    def ask(folder: Path, *words: str):
        capsys.readouterr()
        code = main([*words, "--json", "--quiet", "--job", str(folder)])
        found = json.loads(capsys.readouterr().out)
        name = found["schema"].split("/")[1]
        jsonschema.Draft202012Validator(schema_of(name)).validate(found)
        return code, found

    return ask


def test_a_plumbed_shot_has_its_base_and_its_vector(job, asked):
    """By hand: √(2.449² + 8²) = 8.367 mm in plan, √(4.899² + 15²) = 15.78 mm."""
    code, found = asked(job({}), "topo", "check")
    assert code == 0
    (shot,) = found["shots"]
    assert shot["sd_plan_mm"] == pytest.approx(8.3666, abs=1e-3)
    assert shot["sd_height_mm"] == pytest.approx(15.7797, abs=1e-3)
    assert found["initialisations"][0]["verdict"] == "unchecked"


def test_a_leaning_pole_adds_an_ellipse_across_the_lean(job, asked):
    """By hand, 2 m at 30° towards east: across 2000·sin 30°·(π/180) = 17.45 mm north,
    along 2000·cos 30°·(0.1·π/180) = 3.02 mm east, up 1.75 mm."""
    lean = {"tilt_deg": "30", "tilt_azimuth_deg": "90"}
    code, found = asked(job(lean, {}), "topo", "check")
    assert code == 0
    leaned, plumb = (np.array(s["covariance_grid_m2"]) for s in found["shots"])
    added = 1000 * np.sqrt(np.diagonal(leaned - plumb))
    np.testing.assert_allclose(added, [3.0230, 17.4533, 1.7453], atol=2e-3)


def test_a_repeat_from_another_initialisation_is_tested(job, asked):
    """By hand: 60 mm against √2·15 = 21.2 mm is 2.83 sd; chi-square with three
    components 8.0 of 12.63, so the test is √(8/12.63) = 0.796."""
    again = {
        "repeats": "1",
        "initialisation": "I2",
        "height_m": "11.060",
        "start_utc": "2026-04-01T10:00:00Z",
    }
    code, found = asked(job({}, again), "topo", "check")
    (one,) = found["repeats"]
    assert code == 0
    assert one["test"] == pytest.approx(0.7958, abs=1e-3)
    assert one["independent"]
    assert {i["verdict"] for i in found["initialisations"]} == {"meets"}


def test_a_repeat_of_the_same_initialisation_checks_nothing(job, asked):
    again = {"repeats": "1", "height_m": "11.500", "start_utc": "2026-04-01T10:00:00Z"}
    _, found = asked(job({}, again), "topo", "check")
    assert found["repeats"][0]["verdict"] == "unchecked"
    assert found["initialisations"][0]["verdict"] == "unchecked"


def test_a_check_shot_is_held_against_its_mark_as_seen_from_the_base(job, asked):
    """By hand: C against B, which V3 and the way by A join, is worth 2.449 mm and
    4.899 mm; with the shot's 8 and 15 mm the height's 95 % limit is 1.96·15.78."""
    check = {
        "station": "C", "north_m": "1100.000", "east_m": "1000.000",
        "height_m": "12.010",
    }  # fmt: skip
    _, found = asked(job(check), "topo", "check")
    (one,) = found["check_shots"]
    assert one["difference_enu_mm"] == pytest.approx([0, 0, 10], abs=1e-6)
    assert one["limit_enu_mm"][2] == pytest.approx(1.959964 * 15.7797, abs=1e-3)


def test_every_shot_says_what_it_hangs_on(job, asked):
    tied = {"set_up": "", "network_service": "RTN"}
    at_c = {**tied, "station": "C", "north_m": "1100.000", "east_m": "1000.000"}
    code, found = asked(
        job({}, {"set_up": "BASE-X"}, {"set_up": ""}, tied, {**at_c, "record": ""}),
        "topo",
        "attach",
    )
    assert code == 0
    assert [s["mark"] for s in found["shots"]] == ["B", "", "", "", ""]
    assert [bool(s["broken"]) for s in found["shots"]] == [False, True, True] + [
        False
    ] * 2
    assert found["real_time_networks"] == [{"network": "RTN", "marks": ["C"]}]
    slugs = [f["slug"] for f in found["findings"]]
    assert slugs == ["base-not-in-job", "record-not-there"]
    assert found["verdict"] == "query"


def test_a_shot_shows_its_chain_to_mark_and_record(job, asked):
    code, found = asked(job({}), "show", "shot", "1")
    assert code == 0
    steps = [(s["depth"], s["kind"], s["name"]) for s in found["descent"]]
    assert steps == [
        (0, "shot", "1"),
        (1, "base", "BASE-B"),
        (2, "mark", "B"),
        (1, "record", "issue 1"),
    ]


def test_a_construction_shows_the_shots_that_it_comes_from(job, asked):
    made = (
        "shot,kind,from_shot,second_shot,distance_m,sd_distance_mm\n"
        "P1,wall line,1,2,4.0,5\nP2,two leans,P1,2,,\n"
    )
    far = {"east_m": "1060.000", "set_up": "", "network_service": "RTN"}
    at_c = {"station": "C", "north_m": "1100.000", "east_m": "1000.000"}
    folder = job({}, far, far | at_c, constructions=made)
    _, found = asked(folder, "show", "shot", "P2")
    kinds = [(s["depth"], s["kind"]) for s in found["descent"]]
    assert kinds[:5] == [
        (0, "point"),
        (1, "point"),
        (2, "shot"),
        (3, "base"),
        (4, "mark"),
    ]
    assert ("check shot", "3") in [(s["kind"], s["name"]) for s in found["descent"]]


def test_an_unknown_shot_is_refused_with_the_nearest(job, asked):
    code, found = asked(job({"shot": "P101"}), "show", "shot", "P10")
    assert code == 2
    assert "P101" in found["error"]


LEAN = {"tilt_deg": "10", "tilt_azimuth_deg": "40"}


@pytest.mark.parametrize(
    ("row", "slug"),
    [
        ({"set_up": "BASE-X"}, "base-not-in-job"),
        (LEAN | {"tilt_azimuth_deg": ""}, "tilt-without-azimuth"),
        (LEAN | {"antenna_height_m": ""}, "tilt-without-length"),
        ({"start_utc": "2026-04-01T07:59:00Z"}, "shot-before-base"),
        ({"start_utc": "2026-04-01T12:01:00Z"}, "shot-after-base"),
        ({"sd_height_mm": ""}, "shot-sd-not-stated"),
        ({"initialisation": ""}, "initialisation-not-booked"),
    ],
)
def test_what_is_odd_is_a_query_and_nothing_is_lost(job, asked, row, slug):
    """One shot is odd; the other is judged all the same."""
    folder = job(row, {})
    code, found = asked(folder, "topo", "check")
    assert code == 0
    assert slug in {f["slug"] for f in found["findings"]}
    assert all(f["query"] for f in found["findings"])
    assert len(found["shots"]) == 2
    assert found["shots"][1]["sd_plan_mm"] == pytest.approx(8.3666, abs=1e-3)
    assert asked(folder, "topo", "check", "--strict")[0] == 1


@pytest.mark.parametrize(
    ("row", "slug"),
    [
        ({"frame_epsg": "4326"}, "frame-differs"),
        ({"station": "D"}, "unknown-name"),
        ({"repeats": "99"}, "unknown-shot"),
        ({"network_service": "RTN"}, "two-sources"),
        ({"support": "broomstick"}, "support-not-known"),
        ({"north_m": ""}, "missing-value"),
        ({"tilt_deg": "91"}, "out-of-range"),
        ({"shot": "2"}, "duplicate-name"),
    ],
)
def test_what_cannot_be_right_is_refused_with_the_row(job, asked, row, slug):
    folder = job(row, {})
    code, found = asked(folder, "topo", "check")
    assert code == found["exit_code"] == 3
    (told,) = [f for f in found["findings"] if f["slug"] == slug]
    assert told["file"] == "topo/day1.csv"
    assert told["mend"]
    assert not (folder / "results" / "topo").exists()


def test_a_lean_above_the_limit_fails_and_the_rest_is_judged(job, asked):
    code, found = asked(job(LEAN | {"tilt_deg": "50"}, {}), "topo", "check")
    assert code == 1
    assert [s["tilt_verdict"] for s in found["shots"]] == ["fails", ""]
    assert found["shots"][1]["sd_plan_mm"] is not None


def test_a_lean_above_thirty_degrees_is_a_query(job, asked):
    code, found = asked(job(LEAN | {"tilt_deg": "31"}), "topo", "check")
    assert code == 0
    assert found["shots"][0]["tilt_verdict"] == "query"


def test_a_lean_known_nobody_says_how_well_is_unchecked(job, asked):
    """Regression: it met its limit, where the sheet said that it cannot be judged."""
    folder = job(LEAN)
    table = folder / "job.toml"
    lines = table.read_text("utf-8").splitlines(keepends=True)
    kept = [line for line in lines if not line.startswith("sd_tilt_azimuth_deg")]
    assert len(kept) == len(lines) - 1
    table.write_text("".join(kept), "utf-8")
    code, found = asked(folder, "topo", "check")
    assert code == 0
    assert found["shots"][0]["tilt_verdict"] == "unchecked"
    assert found["shots"][0]["sd_plan_mm"] is None


CIRCLE = "shot,kind,from_shot,second_shot\nP1,two leans,P2,1\nP2,two leans,P1,1\n"
NO_SIDE = (
    "shot,kind,from_shot,second_shot,distance_m,second_distance_m,sd_distance_mm\n"
    "P1,two ties,1,2,8.0,9.0,5\n"
)


def test_constructions_in_a_circle_are_refused(job, asked):
    code, found = asked(job({}, constructions=CIRCLE), "topo", "check")
    assert code == 3
    (told,) = [f for f in found["findings"] if f["slug"] == "construction-circle"]
    assert "P1, P2" in told["against"]


def test_ties_without_a_side_show_both_places(job, asked):
    """By hand: 10 m apart along east; x = (64 − 81 + 100)/20 = 4.15, y = √(64 − x²) =
    6.8394."""
    folder = job({}, {"east_m": "1060.000"}, constructions=NO_SIDE)
    code, found = asked(folder, "topo", "check")
    assert code == 0
    (one,) = found["constructions"]
    assert one["east_m"] is None
    np.testing.assert_allclose(
        one["solutions_east_north_m"],
        [[1054.15, 1056.8394], [1054.15, 1043.1606]],
        atol=1e-4,
    )
    assert "side-not-stated" in {f["slug"] for f in found["findings"]}


def test_a_job_without_shots_says_so(job, asked):
    folder = job({})
    (folder / "topo" / "day1.csv").unlink()
    code, found = asked(folder, "topo", "check")
    assert code == 3
    assert [f["slug"] for f in found["findings"]] == ["no-shots"]


def test_the_sheet_names_overhead_lines_first(job, asked):
    folder = job({}, LEAN | {"tilt_deg": "35", "code": "<b>gate</b>"})
    code, found = asked(folder, "topo", "sheet")
    assert code == 0
    page = (folder / "reports" / "topo_sheet.html").read_text("utf-8")
    assert found["file"].endswith("topo_sheet.html")
    body = page[page.index("<body") :]
    order = ["Overhead lines", "Lightning", "initialisations: three shots"]
    places = [body.index(words) for words in order]
    assert places == sorted(places)
    assert "<b>gate" not in page
    assert "<script" not in page


def test_export_carries_shots_with_their_sds(job, asked):
    folder = job({}, {"line": "L", "code": "top"}, {"line": "L", "north_m": "1061"})
    code, found = asked(folder, "export", "--shots", "--csv")
    assert code == 0
    lines = Path(found["files"]["csv"]).read_text("utf-8").splitlines()
    assert lines[1].startswith("point,code,line,made,north_m,east_m,height_m")
    assert lines[3] == "2,top,L,shot,1050.0000,1050.0000,11.0000,8.4,8.4,15.8"
    assert asked(folder, "export", "--shots", "--geojson")[0] == 2


def test_check_keeps_computed_points_out_of_topo(job, asked):
    folder = job({})
    before = sorted(p.name for p in (folder / "topo").iterdir())
    assert asked(folder, "topo", "check")[0] == 0
    assert sorted(p.name for p in (folder / "topo").iterdir()) == before
    kept = (folder / "results" / "topo" / "points.csv").read_text("utf-8")
    assert kept.splitlines()[1].startswith("1,ground,,shot,1050.0000,1050.0000")


def test_shots_without_any_initialisation_are_judged_as_far_as_they_can_be(job, asked):
    code, found = asked(
        job({"initialisation": ""}, {"initialisation": ""}), "topo", "check"
    )
    assert code == 0
    assert found["initialisations"] == found["humps"] == []
    assert found["shots"][0]["sd_plan_mm"] == pytest.approx(8.3666, abs=1e-3)


def test_a_query_about_a_shot_is_answered_by_a_decision(job, asked):
    folder = job({"sd_height_mm": ""}, {})
    _, found = asked(folder, "check")
    (query,) = [f for f in found["findings"] if f["slug"] == "shot-sd-not-stated"]
    decide = ("decide", "accept", "query", query["query"], "--reason", "known soft")
    assert asked(folder, *decide)[0] == 0
    _, after = asked(folder, "topo", "check")
    (told,) = [f for f in after["findings"] if f["slug"] == "shot-sd-not-stated"]
    assert told["answered_by"]


def test_limits_of_the_job_are_kept_or_fail(job, asked):
    """By hand: the plain shot's height is good to 1.96 · 15.78 = 30.93 mm at 95 %."""
    folder = job({})
    text = (folder / "job.toml").read_text("utf-8")
    for limit, code in (("31", 0), ("30.9", 1)):
        said = text.replace("[topo]", f"[topo]\nlimit_height_mm = {limit}")
        (folder / "job.toml").write_text(said, "utf-8")
        assert asked(folder, "topo", "check")[0] == code
