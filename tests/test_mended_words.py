"""What a surveyor is told where something is missing, elsewhere or impossible."""

import json
import shutil

import pytest

from brasscap.__main__ import main


@pytest.fixture
def harbour(tmp_path):
    folder = tmp_path / "harbour"
    assert main(["new", str(folder), "--example", "harbour", "--quiet"]) == 0
    return folder


def told(capsys, *words):
    capsys.readouterr()
    code = main([*words, "--quiet"])
    said = capsys.readouterr()
    return code, " ".join((said.out + said.err).split())


def slugs(capsys, folder):
    capsys.readouterr()
    main(["check", "--job", str(folder), "--quiet", "--json"])
    return {f["slug"]: f for f in json.loads(capsys.readouterr().out)["findings"]}


CORNERS = "station\nICE HOUSE\nNET LOFT\nSLIPWAY\n"
SPEC = ("spec", "--spec", "alta-nsps-2026", "--pairs", "corner-pairs.csv")


def test_pairs_are_looked_for_here_first_then_in_the_job(
    harbour, tmp_path, capsys, monkeypatch
):
    here = tmp_path / "here"
    here.mkdir()
    monkeypatch.chdir(here)
    code, said = told(capsys, *SPEC, "--job", str(harbour))
    assert code == 3
    assert "present folder" in said
    assert "there is none in either" in said
    (harbour / "corner-pairs.csv").write_text("station\nNOBODY\nNOTHING\n")
    assert told(capsys, *SPEC, "--job", str(harbour))[0] == 3
    (here / "corner-pairs.csv").write_text(CORNERS)
    code, said = told(capsys, *SPEC, "--job", str(harbour))
    assert code < 3, said


def test_a_file_of_pairs_is_no_unknown_table(harbour, capsys):
    (harbour / "corner-pairs.csv").write_text(CORNERS)
    (harbour / "pairs").mkdir()
    (harbour / "pairs" / "lots.csv").write_text(CORNERS)
    assert "unknown-table" not in slugs(capsys, harbour)
    (harbour / "lots.csv").write_text(CORNERS)
    assert "-pairs.csv" in slugs(capsys, harbour)["unknown-table"]["mend"]
    job = harbour / "job.toml"
    text = job.read_text("utf-8")
    more = '[spec.lots]\npreset = "alta-nsps-2026"\npairs = "lots.csv"'
    job.write_text(f"{text}\n{more}\n", "utf-8")
    assert "unknown-table" not in slugs(capsys, harbour)


def test_an_impossible_value_is_refused_before_it_is_written(harbour, capsys):
    """50 m above or below its mark no antenna stands."""
    before = {p: p.read_bytes() for p in harbour.rglob("*.csv")}
    words = ("decide", "value", "set-up", "S3-ICE", "height_m=-99999")
    code, said = told(capsys, *words, "--reason", "x", "--job", str(harbour))
    assert code == 3
    assert "between -50 and 50" in said
    assert "nothing was written" in said
    assert {p: p.read_bytes() for p in harbour.rglob("*.csv")} == before


def test_sessions_without_covariances_are_said(harbour, capsys):
    assert "covariance-not-given" not in slugs(capsys, harbour)
    for path in harbour.glob("covariances*"):
        shutil.rmtree(path) if path.is_dir() else path.unlink()
    found = slugs(capsys, harbour)["covariance-not-given"]
    assert found["verdict"] == "note"
    assert "taken as independent" in found["against"]


def test_that_no_mark_is_known_is_said_before_positions_are_asked(tmp_path, capsys):
    job = '[frame]\nkind = "geodetic"\ngeographic_epsg = 7912\nepoch = 2010.0\n'
    job += 'geoid = "none"\n[set_up]\nnone = true\n'
    (tmp_path / "job.toml").write_text(f"schema = 1\n{job}")
    (tmp_path / "stations.csv").write_text("station\nA\nB\n")
    (tmp_path / "baselines.csv").write_text(
        "baseline,from_station,to_station,dx_m,dy_m,dz_m,sd_x_mm,sd_y_mm,sd_z_mm,"
        "frame_epsg\nV1,A,B,10,10,1,5,5,5,7912\n"
    )
    code, said = told(capsys, "adjust", "minimal", "--job", str(tmp_path))
    assert code == 4
    assert said.index("control.csv is missing") < said.index("approximate position")


def test_export_names_every_format(harbour, capsys):
    code, said = told(capsys, "export", "--job", str(harbour))
    assert code == 2
    for name in ("--csv", "--geojson", "--gpkg", "--sinex", "--dxf"):
        assert name in said


def test_feet_in_a_levelled_run_are_what_the_first_cause_is_like(tmp_path, capsys):
    """1.601 m is 5.2526 ift: booked as metres it is 3.6516 m too large, by hand."""
    (tmp_path / "job.toml").write_text(
        'schema = 1\n[frame]\nkind = "local"\nheight_datum = "site"\n'
        '[network]\ndimension = "height"\n'
    )
    (tmp_path / "control.csv").write_text(
        "station,use_height,height_m,height_datum\nA,held,100,site\n"
    )
    rises = (1.6010, 1.6012, 1.6009, 5.2526)
    rows = [f"L{i},A,B,{rise},single,1" for i, rise in enumerate(rises)]
    head = "section,from_station,to_station,rise_m,run,sd_mm"
    (tmp_path / "levels.csv").write_text("\n".join([head, *rows, ""]))
    query = slugs(capsys, tmp_path).get("rise-looks-like-feet", {}).get("query", "")
    _, said = told(capsys, "suspects", "--job", str(tmp_path))
    asked = f" (query {query} asks it)" if query else ""
    assert f"likeness: a rise in feet booked as metres{asked}: 3652 mm" in said
