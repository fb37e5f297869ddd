"""Polar shots hang on their instruments: a mark, or what a free station sighted."""

import contextlib
import io
import json
from pathlib import Path

import pytest

from brasscap.__main__ import main

JOB = """schema = 1
[job]
title = "Free station (invented)"
who = "AB"
[frame]
kind = "local"
earth = "flat"
height_datum = "site"
[set_up.target]
sd_centring_mm = 0
sd_height_mm = 0
[refraction]
coefficient = 0
sd = 0
"""
SIGHTS = (
    "pointing,set_up,target_station,target_height_m,round,direction_deg,zenith_deg,"
    "slope_distance_m,sd_direction_arcsec,sd_zenith_arcsec,sd_distance_mm,"
    "prism_constant_applied,atmosphere_applied"
)
SHOTS = SIGHTS.replace("prism_constant", "code,prism_constant")


@pytest.fixture
def job(tmp_path: Path) -> Path:
    """A free station at 1000, 1000, 10 m among four held marks 40 m away; circle zero
    30° off north; a shot of 25 m to the east, 1 m up, and one on mark N."""
    (tmp_path / "job.toml").write_text(JOB, "utf-8")
    places = {"N": (1040, 1000), "E": (1000, 1040), "S": (960, 1000), "W": (1000, 960)}
    control = "station,use_plan,use_height,north_m,east_m,height_m\n"
    control += "".join(
        f"{name},held,held,{north},{east},10\n"
        for name, (north, east) in places.items()
    )
    (tmp_path / "control.csv").write_text(control, "utf-8")
    (tmp_path / "stations.csv").write_text("station\nN\nE\nS\nW\n", "utf-8")
    (tmp_path / "set_ups.csv").write_text(
        "set_up,station,support\nF1,,tripod\n", "utf-8"
    )
    rows = [SIGHTS]
    rows += [
        f"P{k},F1,{name},0,1,{(90 * k - 30) % 360},90,40,3,3,2,yes,yes"
        for k, name in enumerate(places)
    ]
    (tmp_path / "total_station.csv").write_text("\n".join(rows) + "\n", "utf-8")
    (tmp_path / "total_station").mkdir()
    # 25 m level and 1 m up: slope √626 m, zenith angle arctan 25.
    detail = [
        SHOTS,
        "D1,F1,,0,1,60,87.709389957,25.019992006,3,3,2,gate,yes,yes",
        "D2,F1,N,0,1,330,90,40,3,3,2,check,yes,yes",
    ]
    (tmp_path / "total_station/detail.csv").write_text(
        "\n".join(detail) + "\n", "utf-8"
    )
    return tmp_path


def say(folder: Path, *words: str):
    out = io.StringIO()
    with contextlib.redirect_stdout(out):
        code = main([*words, "--json", "--quiet", "--job", str(folder)])
    return code, json.loads(out.getvalue())


def test_a_free_station_carries_its_shots(job):
    """By hand: D1 is at 1000 + 25 m east, 11 m; D2 is on N. East the free station is
    known by two distances of 2 mm and two directions of 3″ · 40 m = 0.5818 mm, the
    circle zero falling out by symmetry: 1 / (2/4 + 2/0.33846) = 0.1560 mm². The shot's
    distance adds 4 · 625/626, its zenith angle (3″ · 1 m)² = 0.0002, the pole held by
    hand 7²: √53.1498 = 7.2904 mm."""
    code, found = say(job, "topo", "check")
    assert code == 0, found
    shot = found["polar_shots"][0]
    assert shot["shot"] == "D1"
    assert shot["east_m"] == pytest.approx(1025, abs=1e-4)
    assert shot["north_m"] == pytest.approx(1000, abs=1e-4)
    assert shot["height_m"] == pytest.approx(11, abs=1e-4)
    sd_east = 1000 * shot["covariance_grid_m2"][0][0] ** 0.5
    assert sd_east == pytest.approx(7.2904, abs=2e-4)
    check = found["polar_check_shots"][0]
    assert (check["mark"], check["verdict"]) == ("N", "meets")
    assert max(map(abs, check["difference_enu_mm"])) < 0.1


def test_attach_names_the_marks_that_a_free_station_sighted(job, capsys):
    code, found = say(job, "topo", "attach")
    assert code == 0
    assert found["instruments"] == [
        {
            "instrument": "free station F1",
            "marks": ["N", "E", "S", "W"],
            "shots": ["D1", "D2"],
        }
    ]
    _, shown = say(job, "show", "shot", "D1")
    kinds = [(step["kind"], step["name"]) for step in shown["descent"]]
    assert kinds == [
        ("shot", "D1"),
        ("instrument", "free station F1"),
        *(("mark", name) for name in "NESW"),
    ]
    main(["topo", "attach", "--quiet", "--job", str(job)])
    assert "2 of 2 shots reach a mark" in capsys.readouterr().out
