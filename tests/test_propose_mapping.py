"""A mapping proposed: what is understood, what is left open and why, what is read."""

import csv
import json
import tomllib
from pathlib import Path

import pytest

from brasscap.__main__ import main
from brasscap.io.additions import importable
from brasscap.io.mapping.hearing import hear
from brasscap.io.mapping.proposing import Asked, propose
from brasscap.io.tables.schema import schemas
from brasscap.io.tables.sheet import read_sheet
from brasscap.json_schemas import schema_of

CONTROL = schemas()["control"]


@pytest.fixture
def asked(capsys, tmp_path, monkeypatch):
    """Run in a new job; return exit code and object, which fits the schema."""
    jsonschema = pytest.importorskip("jsonschema")
    assert main(["new", str(tmp_path / "job"), "--kind", "gnss", "--quiet"]) == 0
    monkeypatch.chdir(tmp_path / "job")

    def ask(*words):
        capsys.readouterr()
        code = main(["import", *map(str, words), "--json"])
        found = json.loads(capsys.readouterr().out)
        jsonschema.validate(found, schema_of("import"))
        return code, found

    return ask


def proposed(text, schema=CONTROL, **said):
    sheet, findings = read_sheet("theirs.csv", text.encode())
    assert findings == []
    return {one.theirs: one for one in propose(sheet, schema, Asked(**said))}


@pytest.mark.parametrize(
    ("header", "unit"),
    [
        ("Northing (m)", "m"),
        ("Northing [US survey feet]", "sft"),
        ("Northing_sft", "sft"),
        ("Northing ftUS", "sft"),
        ("Northing (International feet)", "ift"),
        ("NORTHING, ift", "ift"),
        ("Northing ft", "ft"),
        ("Northing", ""),
    ],
)
def test_a_unit_is_heard_where_the_header_states_it(header, unit):
    assert hear(header)[:2] == ("northing", unit)


@pytest.mark.parametrize(
    ("header", "stated"),
    [
        ("Std Dev N (mm)", "sd"),
        ("sigmaN (mm)", "sd"),
        ("σN (mm)", "sd"),
        ("2σ N (mm)", "2 sd"),
        ("SD N 95% (mm)", "95 %"),
        ("SD N 99 (mm)", "99 %"),
    ],
)
def test_a_confidence_is_heard_where_the_header_states_it(header, stated):
    one = proposed(f"{header}\n1\n")[header]
    assert (one.ours, one.unit, one.confidence, one.reason) == (
        "sd_north",
        "mm",
        stated,
        "",
    )


@pytest.mark.parametrize(
    ("header", "why"),
    [
        ("Accuracy N (mm)", "what uncertainty"),
        ("SE N (mm)", "what uncertainty"),
        ("HRMS (m)", "circle"),
        ("Horizontal precision (m)", "circle"),
        ("Uncertainty", "of which axis"),
        ("X (m)", "north with some"),
        ("Y (m)", "east with some"),
        ("Height (m)", "above which surface"),
        ("h", "above which surface"),
        ("Northing", "states no unit: m, mm, km, ift, sft"),
        ("Northing (ft)", "the foot is not named"),
        ("Northing (gon)", "the header says gon"),
        ("Description", "no column of ours"),
        ("Wombat", "no column of this table"),
    ],
)
def test_what_is_not_sure_is_left_open_with_the_reason(header, why):
    assert why in proposed(f"{header}\n1\n")[header].reason


def test_what_the_asker_states_settles_units_of_lengths():
    text = "N,E ft,Elev (m),Height\n1,2,3,4\n"
    found = proposed(text, length_unit="sft", local=True)
    assert [one.unit for one in found.values()] == ["sft", "sft", "m", "sft"]
    # In a local job there is one height; here two columns would be it.
    assert [bool(one.reason) for one in found.values()] == [False, False, True, True]
    assert "may be height too" in found["Height"].reason
    # A foot does not become a metre by being asked.
    assert proposed("E ft\n1\n", length_unit="m")["E ft"].reason


def test_values_tell_sexagesimal_from_decimal_degrees():
    """105.3051 may be 105° 30' 51"; 105.7551 has 75 minutes and cannot be packed."""
    found = proposed("Lat,Lon,lng w\n45 30 51,105.7551,105.3051\n")
    assert (found["Lat"].unit, found["Lat"].reason) == ("dms", "")
    assert found["Lon"].unit == "deg"
    assert "longitude too" in found["Lon"].reason
    assert "states no unit" in found["lng w"].reason
    assert proposed("Lon\n105.7551\n")["Lon"].reason == ""
    assert proposed("Lon W\n105.7551\n")["Lon W"].sign == "-"
    assert "west" in proposed("Lon W\n-105.7551\n")["Lon W"].reason


def test_values_that_do_not_fit_leave_a_column_open():
    found = proposed("Pt,Lat dd,Northing (m)\nA,95.5,1\nB,45.5,12 m\n")
    assert found["Pt"].reason == ""
    assert "row 2 has '95.5'" in found["Lat dd"].reason
    assert "row 3 has '12 m'" in found["Northing (m)"].reason


def test_geocentric_coordinates_are_known_by_where_they_lie():
    """3, 4, 3.92 thousand km: root of 40.37, 6 353 km from the centre."""
    found = proposed("Pt,X,Y,Z\nA,3000000,4000000,3920000\n")
    assert [(o.ours, o.unit, o.reason) for o in found.values()][1:] == [
        ("x", "m", ""),
        ("y", "m", ""),
        ("z", "m", ""),
    ]
    assert proposed("Pt,X,Y,Z\nA,3000,4000,392\n")["X"].reason


def test_six_columns_of_a_vector_are_asked():
    schema = schemas()["baselines"]
    text = "xx,xy,sd x mm\n1,0,1\n"
    assert "--covariance" in proposed(text, schema)["xx"].reason
    found = proposed(text, schema, covariance="cov", length_unit="m")
    assert (found["xx"].ours, found["xx"].unit) == ("cov_xx", "m2")
    found = proposed("xx,xy\n1,0\n", schema, covariance="sd-corr", length_unit="m")
    assert (found["xx"].ours, found["xx"].unit) == ("sd_x", "m")
    assert "confidence" in found["xx"].reason
    assert (found["xy"].ours, found["xy"].reason) == ("corr_xy", "")


@pytest.mark.parametrize("table", importable())
def test_every_header_of_ours_is_understood_as_itself(table):
    """But for names that others give to something else: x, y, z, height."""
    schema = importable()[table]
    shared = {"x_m", "y_m", "z_m"}
    shared |= {"height_m"} if "ellipsoidal_height" in schema.by_name else set()
    for column in schema.columns:
        one = proposed(f"{column.header}\n", schema)[column.header]
        if column.header not in shared:
            assert (one.ours, one.unit, one.reason) == (column.name, column.unit, "")
        else:
            assert one.reason


def test_a_number_of_points_names_the_rows_of_the_table():
    shots = importable()["topo/shots"]
    assert proposed("Nr\n1\n", shots)["Nr"].ours == "shot"
    assert proposed("Stn\n1\n", shots)["Stn"].ours == "station"
    assert proposed("Nr\n1\n")["Nr"].ours == "station"


def test_columns_called_alike_or_not_at_all_are_open():
    sheet, _ = read_sheet("a.csv", b"Pt,N (m),N (m),\n1,2,3,4\n")
    reasons = [one.reason for one in propose(sheet, CONTROL, Asked())]
    assert reasons[0] == ""
    assert set(reasons[1:3]) == {"two columns have this name"}


def test_a_proposal_is_written_and_is_read_as_it_stands(asked, tmp_path):
    theirs = tmp_path / "theirs.csv"
    theirs.write_text(
        "Pt,Northing (m),Easting (m),SD N (mm),SD E (mm),Elev,Crew\nA,1,2,3,4,5.5,x\n",
        "utf-8",
    )
    line = (theirs, "--as", "control")
    code, found = asked(*line, "--propose-mapping", "--read-only")
    assert (code, found["files"]) == (0, [])
    code, found = asked(*line, "--propose-mapping")
    assert (code, found["files"]) == (0, ["mapping.toml"])
    still = {c["theirs"]: c["open"] for c in found["proposal"]["columns"]}
    assert [name for name, reason in still.items() if reason] == ["Elev", "Crew"]
    text = Path("mapping.toml").read_text("utf-8")
    assert set(tomllib.loads(text)["columns"]) == set(still) - {"Elev", "Crew"}
    # What is open stands with its reason, ready to be completed.
    lines = text.splitlines()
    at = lines.index('# "Elev" = {ours = "height", unit = "…"}')
    assert lines[at - 1] == f"# open: {still['Elev']}"
    assert asked(*line, "--propose-mapping")[0] == 7
    assert Path("mapping.toml").read_text("utf-8") == text
    code, found = asked(*line, "--mapping", "mapping.toml")
    assert code == 0
    told = [f["slug"] for f in found["imports"][0]["findings"]]
    assert told == ["column-not-mapped"]
    # A line of which the # alone was taken away is told, not read.
    Path("mapping.toml").write_text(text.replace('# "Elev"', '"Elev"'), "utf-8")
    code, found = asked(*line, "--mapping", "mapping.toml", "--name", "b")
    assert code == 3
    assert [f["slug"] for f in found["findings"]] == ["unit-unknown"]


def test_a_list_without_a_header_is_proposed_by_number(asked, tmp_path):
    theirs = tmp_path / "points.txt"
    theirs.write_text("101,5000.5,2000.25,12.5,IP\n102,5001,2001\n", "utf-8")
    code, found = asked(theirs, "--as", "topo/shots", "--propose-mapping")
    assert code == 0
    columns = found["proposal"]["columns"]
    assert [c["theirs"] for c in columns] == ["1", "2", "3", "4", "5"]
    assert all("order of columns is not guessed" in c["open"] for c in columns)
    values = tomllib.loads(Path("mapping.toml").read_text("utf-8"))
    assert (values["header"], values["columns"]) == (False, {})


@pytest.mark.parametrize(
    ("header", "options", "expected"),
    [
        ("dx_ft,dy_ft,dz_ft", "--length-unit sft", "dx_sft,dy_sft,dz_sft"),
        ("dx,dy,dz", "--length-unit ift", "dx_ift,dy_ift,dz_ift"),
        ("dx,dy_mm,dz", "--length-unit m", "dx_m,dy_mm,dz_m"),
    ],
)
def test_a_length_unit_is_put_where_a_header_lacks_it(
    asked, tmp_path, header, options, expected
):
    rest = "cov_xx_mm2,cov_xy_mm2,cov_xz_mm2,cov_yy_mm2,cov_yz_mm2,cov_zz_mm2"
    rows = "V1,A,B,1.5,2.5,3.5,4,1,1,9,1,16\n"
    theirs = tmp_path / "v.csv"
    theirs.write_text(f"baseline,from_station,to_station,{header},{rest}\n{rows}")
    line = (theirs, "--as", "baselines")
    assert asked(*line)[0] == 3
    assert asked(*line, *options.split())[0] == 0
    lines = Path("baselines/v.csv").read_text("utf-8").splitlines()
    kept = [text for text in lines if text[0] != "#"]
    assert kept[0] == f"baseline,from_station,to_station,{expected},{rest}"
    assert kept[1] + "\n" == rows


def test_what_six_columns_are_is_said_by_an_option(asked, tmp_path):
    """The same numbers, 2 3 4 and 0.5: variances of mm², or sds of mm."""
    names = "baseline,from_station,to_station,dx_m,dy_m,dz_m,"
    cov = "cov_xx_mm2,cov_yy_mm2,cov_zz_mm2,cov_xy_mm2,cov_xz_mm2,cov_yz_mm2"
    sds = "sd_x_mm,sd_y_mm,sd_z_mm,corr_xy,corr_xz,corr_yz"
    values = "V1,A,B,1,2,3,2,3,4,0.5,0.5,0.5\n"
    for given, option, expected in ((cov, "sd-corr", sds), (sds, "cov", cov)):
        theirs = tmp_path / f"{option}.csv"
        theirs.write_text(f"{names}{given}\n{values}")
        line = (theirs, "--as", "baselines", "--covariance", option)
        assert asked(*line)[0] == 0
        text = Path(f"baselines/{option}.csv").read_text("utf-8")
        row = next(csv.DictReader(t for t in text.splitlines() if t[0] != "#"))
        assert ",".join(list(row)[6:]) == expected
        assert ",".join(row.values()) + "\n" == values
    # Feet squared have no unit here: told, never taken for the standard deviations.
    theirs.write_text(f"{names}{sds}\n{values}".replace("sd_x_mm", "sd_x_ift"))
    code, found = asked(*line, "--name", "again")
    assert code == 3
    assert {f["slug"] for f in found["findings"]} == {"unit-wrong"}


@pytest.mark.parametrize(
    ("words", "why"),
    [
        ("a.csv --as control --length-unit m", "changes nothing"),
        ("a.csv --as control --length-unit m --mapping m.toml", "the mapping states"),
        ("a.snx --as positions --covariance cov", "states it"),
        ("a.csv b.csv --as control --propose-mapping", "one file at a time"),
        ("checks.csv --as topo/shots", "no file of shots"),
    ],
)
def test_options_that_do_not_go_together_are_refused(
    words, why, tmp_path, asked, capsys
):
    Path("a.csv").write_text("station,north_m,east_m\nA,1,2\n", "utf-8")
    assert main(["import", *words.split()]) == 2
    assert why in " ".join(capsys.readouterr().err.split())


def test_blanks_and_decimal_commas_are_seen(asked, tmp_path):
    theirs = tmp_path / "points.txt"
    theirs.write_text("101  5000,5  2000,25 IP by the gate\n102 1 2,5\n", "utf-8")
    assert asked(theirs, "--as", "topo/shots", "--propose-mapping")[0] == 0
    text = Path("mapping.toml").read_text("utf-8")
    values = tomllib.loads(text)
    assert (values["header"], values["separator"], values["decimal"]) == (
        False,
        "blank",
        "comma",
    )
    assert text.count("\n# open: ") == 4
    theirs.write_text("Pt  N_m  E_m\nA 1.5 2,000\nB 2 3\n", "utf-8")
    line = (theirs, "--as", "control", "--propose-mapping", "--mapping", "b.toml")
    code, found = asked(*line)
    assert code == 0
    values = tomllib.loads(Path("b.toml").read_text("utf-8"))
    assert values["separator"] == "blank"
    assert "decimal" not in values
    # 2,000 may be two, or two thousand.
    assert list(values["columns"]) == ["Pt", "N_m"]
    assert "row 2 has '2,000'" in found["proposal"]["columns"][2]["open"]
