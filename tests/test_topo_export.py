"""Shots for others, read back: by sqlite3 and GDAL, and by the group codes of DXF."""

import json
import sqlite3
from pathlib import Path

import pytest

from brasscap.__main__ import main

MADE = (
    "shot,kind,code,line,from_shot,second_shot,distance_m,second_distance_m,side,"
    "sd_distance_mm\nW1,offset,wall,WALL,1,2,1.000,2.000,left,5\n"
)


@pytest.fixture
def exported(topo_job, capsys) -> Path:
    """Return a job of two shots of one line, one of another code, and a made point."""
    bank = {"code": "bank top", "line": "EDGE"}
    job = topo_job(
        bank,
        bank | {"north_m": "1003.000", "east_m": "1054.000"},
        {"code": "bank-top", "line": ""},
        constructions=MADE,
    )
    words = ["export", "--shots", "--csv", "--gpkg", "--dxf", "--quiet"]
    assert main([*words, "--job", str(job)]) == 0
    capsys.readouterr()
    return job


def shots(job: Path, capsys) -> dict[str, dict]:
    capsys.readouterr()
    main(["topo", "check", "--json", "--quiet", "--job", str(job)])
    found = json.loads(capsys.readouterr().out)
    return {one["shot"]: one for one in found["shots"] + found["constructions"]}


def test_a_geopackage_has_points_with_sds_and_lines(exported, capsys):
    expected = shots(exported, capsys)
    with sqlite3.connect(exported / "reports" / "shots.gpkg") as base:
        base.row_factory = sqlite3.Row
        rows = {row["point"]: row for row in base.execute("SELECT * FROM shots")}
        lines = base.execute("SELECT * FROM shot_lines").fetchall()
    assert rows.keys() == expected.keys()
    for name, row in rows.items():
        assert row["east_m"] == pytest.approx(expected[name]["east_m"], abs=1e-5)
        assert row["code"] == expected[name]["code"]
        squares = row["sd_north_mm"] ** 2 + row["sd_east_mm"] ** 2
        plan = expected[name]["sd_plan_mm"]
        assert (squares / 2) ** 0.5 == pytest.approx(plan, abs=0.01)
    assert [(row["line"], row["points_count"]) for row in lines] == [("EDGE", 2)]


def test_gdal_reads_the_geopackage(exported):
    pyogrio = pytest.importorskip("pyogrio")
    path = exported / "reports" / "shots.gpkg"
    kinds = {str(name): str(kind) for name, kind in pyogrio.list_layers(path)}
    assert kinds == {"shots": "Point", "shot_lines": "LineString"}
    assert pyogrio.read_info(path, layer="shots")["features"] == 4
    box = pyogrio.read_info(path, layer="shot_lines", force_total_bounds=True)
    assert box["total_bounds"] == pytest.approx((1050.0, 1003.0, 1054.0, 1050.0))


def test_a_drawing_has_a_layer_for_each_code_and_each_line(exported, capsys):
    expected = shots(exported, capsys)
    text = (exported / "reports" / "shots.dxf").read_text("ascii").splitlines()
    pairs = list(zip(map(int, text[::2]), text[1::2], strict=True))
    start = pairs.index((2, "ENTITIES")) + 1
    made: list[tuple[str, dict[int, str]]] = []
    for code, value in pairs[start:]:
        if code == 0:
            made.append((value, {}))
        else:
            made[-1][1][code] = value
    points = [one for kind, one in made if kind == "POINT"]
    assert [one[8] for one in points] == ["BANK_TOP", "BANK_TOP", "BANK-TOP", "WALL"]
    for one, point in zip(points, expected.values(), strict=True):
        place = [float(one[code]) for code in (10, 20, 30)]
        keys = ("east_m", "north_m", "height_m")
        assert place == pytest.approx([point[key] for key in keys], abs=1e-5)
    corners = [one for kind, one in made if kind == "VERTEX"]
    assert {one[8] for one in corners} == {"LINE_EDGE"}
    assert [float(one[10]) for one in corners] == [1050.0, 1054.0]
    named = {value for code, value in pairs[:start] if code == 2}
    assert {"BANK_TOP", "BANK-TOP", "WALL", "LINE_EDGE"} <= named


def test_gdal_reads_the_drawing(exported):
    pyogrio = pytest.importorskip("pyogrio")
    info = pyogrio.read_info(
        exported / "reports" / "shots.dxf", force_feature_count=True
    )
    # Four points, four names, four notes, one line.
    assert info["features"] == 13


def test_the_report_has_a_section_on_shots(exported, capsys):
    assert main(["report", "--quiet", "--job", str(exported)]) == 0
    said = capsys.readouterr().out
    for words in ("Shots", "initialisations", "what the shots are worth", "BASE-B"):
        assert words in said


def test_a_fault_among_the_shots_stops_no_report_of_the_control(exported, capsys):
    (exported / "topo" / "day1.csv").write_text("shot,north_m\n1,a\n", "utf-8")
    assert main(["report", "--quiet", "--job", str(exported)]) == 0
    assert "The shots cannot be judged" in capsys.readouterr().out
