"""A plan by hand before anything is observed, and bad plans."""

import json

import numpy as np
import pytest

from brasscap.__main__ import main

JOB = """\
schema = 1
[frame]
kind = "geodetic"
geographic_epsg = 7843
epoch = 2020.0
[network]
dimension = "space"
[set_up.tripod]
sd_centring_mm = 1.0
sd_height_mm = 1.5
[planned.baseline]
sd_plan_mm = 3.0
sd_height_mm = 6.0
[crew]
receivers = 2
people = 2
start = "13:00"
hours = 4
drive_speed_km_h = 30
set_up_min = 10
log_min.baseline = 30
"""
STATIONS = """\
station,approx_latitude_deg,approx_longitude_deg,approx_ellipsoidal_height_m
A,-35.000,138.000,50
B,-35.005,138.000,60
C,-35.000,138.006,55
"""
CONTROL = """\
station,latitude_deg,longitude_deg,ellipsoidal_height_m,use_plan,use_height
A,-35.000,138.000,50,held,held
"""


@pytest.fixture
def job(tmp_path):
    folder = tmp_path / "job"
    folder.mkdir()
    (folder / "job.toml").write_text(JOB, "utf-8")
    (folder / "stations.csv").write_text(STATIONS, "utf-8")
    (folder / "control.csv").write_text(CONTROL, "utf-8")
    return folder


def asked(capsys, job, rows, *words):
    plan = job / "plan.csv"
    header = "proposal,kind,from_station,to_station,session,minutes"
    plan.write_text("\n".join([header, *rows]) + "\n", "utf-8")
    words = ("preanalysis", "--job", str(job), "--sessions", str(plan), *words)
    code = main([*words, "--json"])
    return code, json.loads(capsys.readouterr().out)


def marks_of(found):
    return {one["station"]: one for one in found["marks"]}


def test_one_vector_by_hand(job, capsys):
    """3 mm and two set-ups of 1 mm: √11 mm × 2.44775; up √(36 + 2 × 2.25) × 1.95996."""
    code, found = asked(capsys, job, ["V1,baseline,A,B,,", "V2,baseline,A,C,,"])
    b = marks_of(found)["B"]
    assert b["semi_major_mm"] == pytest.approx(np.sqrt(11) * 2.447747, abs=1e-3)
    assert b["semi_minor_mm"] == pytest.approx(np.sqrt(11) * 2.447747, abs=1e-3)
    assert b["height_limit_mm"] == pytest.approx(np.sqrt(40.5) * 1.959964, abs=1e-3)
    # Two spurs: nothing checks either.
    assert (code, found["verdict"]) == (0, "unchecked")
    assert {"baseline V1", "baseline V2"} <= set(found["unchecked"])
    assert all(one["smallest_detectable_mm"] is None for one in found["set_ups"])


def test_a_repeat_halves_the_variance_and_checks(job, capsys):
    """Twice from fresh set-ups: √(11 / 2) mm; a height blunder of one set-up shows
    from √(17.0746 × 2 × 40.5) mm, the redundancy of each being a half.
    """
    rows = ["V1,baseline,A,B,,", "V2,baseline,A,B,,", "V3,baseline,A,C,,"]
    rows += ["V4,baseline,C,A,,"]
    code, found = asked(capsys, job, rows)
    b = marks_of(found)["B"]
    assert b["semi_major_mm"] == pytest.approx(np.sqrt(5.5) * 2.447747, abs=2e-3)
    sizes = {one["set_up"]: one["smallest_detectable_mm"] for one in found["set_ups"]}
    assert sizes["V1 B"] == pytest.approx(np.sqrt(17.0746 * 2 * 40.5), abs=0.05)
    # One known mark alone: nothing checks where it is.
    assert (code, found["verdict"]) == (0, "unchecked")
    assert found["unchecked"] == ["known mark plan A", "known mark height A"]
    # Without its repeat a vector is unchecked again.
    assert all("unchecked" in one["without_it"] for one in found["work"])


def test_hours_by_hand(job, capsys):
    """Marks 555 m and 547 m apart: minutes to drive; 10 + 30 + 5 on each vector."""
    _, found = asked(capsys, job, ["V1,baseline,A,B,,", "V2,baseline,A,C,,"])
    assert "13:45" < found["back"] < "14:40"
    rows = [f"V{k},baseline,A,B,,60" for k in range(9)]
    _, found = asked(capsys, job, rows)
    assert found["back"] == ""


def test_a_session_of_three_receivers(job, capsys):
    rows = ["V1,baseline,A,B,S,", "V2,baseline,A,C,S,"]
    code, found = asked(capsys, job, rows, "--receivers", "3")
    assert code == 0
    assert [one["stations"] for one in found["work"]] == [["A", "B", "C"]]
    # One set-up at A for both.
    assert len(found["set_ups"]) == 3


def test_what_is_missing_is_told(job, capsys):
    rows = ["V1,baseline,A,B,S,", "V2,baseline,A,C,S,"]
    code, found = asked(capsys, job, rows)
    assert code == 2
    code, found = asked(capsys, job, ["V1,baseline,A,D,,"])
    assert code == 3
    assert found["findings"][0]["slug"] == "unknown-name"
    code, found = asked(capsys, job, ["V1,levelling run,A,B,,"])
    assert code == 3
    assert found["findings"][0]["slug"] == "no-expected-precision"
    code, found = asked(capsys, job, ["V1,baseline,A,B,,-5"])
    assert code == 3
    code, found = asked(capsys, job, ["V1,baseline,B,C,,"])
    assert code == 4
    assert main(["preanalysis", "--job", str(job), "--json"]) == 3
    found = json.loads(capsys.readouterr().out)
    assert found["findings"][0]["slug"] == "no-plan"


def test_a_plan_for_several_days_says_how_many(job, capsys):
    """Nine vectors of an hour, 10 min to set up and 5 to take down, in four hours.

    Both ends are the same marks, so nobody drives: 75 min each, three a day.
    """
    rows = [f"V{k},baseline,A,B,,60" for k in range(9)]
    _, found = asked(capsys, job, rows)
    assert [len(day) for day in found["days"]] == [3, 3, 3]
    _, found = asked(capsys, job, ["V1,baseline,A,B,,600"])
    assert found["days"] == []


def test_of_a_large_plan_the_worst_rows_and_the_first_pieces(job, capsys, monkeypatch):
    """B hangs on one vector, C on two: the larger ellipse is shown, both in JSON."""
    monkeypatch.setattr("brasscap.reports.content_preanalysis_marks.LONG", 1)
    monkeypatch.setattr("brasscap.reports.content_preanalysis_marks.SHOWN", 1)
    monkeypatch.setattr("brasscap.preplanning.LEAST_WITHOUT", 1)
    monkeypatch.setattr("brasscap.preplanning.MARKS_WITHOUT", 0)
    rows = ["V1,baseline,A,C,,", "V2,baseline,A,C,,", "V3,baseline,A,B,,"]
    _, found = asked(capsys, job, rows)
    assert [one["station"] for one in found["marks"]] == ["A", "B", "C"]
    without = [one["without_it"] for one in found["work"]]
    assert [said.startswith("not asked") for said in without] == [False, True, True]
    plan = str(job / "plan.csv")
    main(["preanalysis", "--job", str(job), "--sessions", plan])
    said = " ".join(capsys.readouterr().out.split())
    assert "1 of 3 marks, those with the largest ellipses" in said
    table = said[said.index("expected 95 %") : said.index("1 of 3 marks")]
    assert " B 8.1 8.1 " in table
    assert " C " not in table
