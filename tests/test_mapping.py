"""Files of others imported by a mapping: units, signs, confidences, what is told."""

import csv
import json

import numpy as np
import pytest
from scipy.special import ndtri

from brasscap.__main__ import main
from brasscap.io.mapping.columns import CONFIDENCES
from brasscap.io.mapping.mapping_file import read_mapping
from brasscap.io.tables.rows import read_table
from brasscap.io.tables.schema import schemas
from brasscap.io.tables.sheet import read_sheet
from brasscap.json_schemas import schema_of

CONTROL = """\
schema = 1
table = "control"
leave_out = ["Remark"]
[columns]
"Pt" = {ours = "station"}
"Easting" = {ours = "east", unit = "sft"}
"Northing" = {ours = "north", unit = "ift"}
"Elev" = {ours = "height", unit = "sft", sign = "-"}
"SE N" = {ours = "sd_north", unit = "mm", confidence = "95 %"}
"SE E" = {ours = "sd_east", unit = "mm", confidence = "2 sd"}
[every_row]
use_plan = "weighted"
height_datum = "SITE"
"""
THEIRS = """\
Pt;Northing;Easting;Elev;SE N;SE E;Remark
P 1;1000;3937;-3.937;1.959964;5;"cap; bent"
P 2;-10.5;7874;39.37;3.919928;6;
"""


@pytest.fixture
def job(tmp_path, monkeypatch):
    folder = tmp_path / "job"
    assert main(["new", str(folder), "--kind", "site", "--quiet"]) == 0
    monkeypatch.chdir(folder)
    return folder


@pytest.fixture
def asked(capsys):
    """Run a command line; return its code and its object, which fits the schema."""
    jsonschema = pytest.importorskip("jsonschema")

    def ask(*words):
        capsys.readouterr()
        code = main([*map(str, words), "--json"])
        found = json.loads(capsys.readouterr().out)
        jsonschema.validate(found, schema_of("import"))
        return code, found

    return ask


def write(folder, **files):
    paths = []
    for name, text in files.items():
        path = folder.parent / name.replace("_", ".")
        path.write_text(text, "utf-8")
        paths.append(path)
    return paths


def table_of(path, name="control"):
    sheet, findings = read_sheet(path.name, path.read_bytes())
    table, found = read_table([sheet], schemas()[name])
    assert findings + found == []
    return table


def test_units_signs_and_confidences_are_those_of_the_mapping(job, asked):
    """By hand: 1000 ift = 304.8 m, 3937 sft = 1200 m, 3.937 sft = 1.2 m.

    The international foot is 0.3048 m, the US survey foot 1200/3937 m (24 FR 5348,
    1959). 1.959964 mm at 95 % of one component is 1 mm, 5 mm at two standard
    deviations 2.5 mm. Each number is rounded once, so they are equal.
    """
    theirs, mapping = write(job, theirs_csv=THEIRS, m_toml=CONTROL)
    before = theirs.read_bytes(), mapping.read_bytes()
    code, found = asked("import", theirs, "--as", "control", "--mapping", mapping)
    assert code == 0
    assert found["files"] == ["control/theirs.csv"]
    table = table_of(job / "control" / "theirs.csv")
    assert table.word("station").tolist() == ["P 1", "P 2"]
    assert table.number("north").tolist() == [304.8, -3.2004]
    assert table.number("east").tolist() == [1200.0, 2400.0]
    assert table.number("height").tolist() == [1.2, -12.0]
    assert table.number("sd_north").tolist() == [0.001, 0.002]
    assert table.number("sd_east").tolist() == [0.0025, 0.003]
    assert table.word("use_plan").tolist() == ["weighted"] * 2
    assert (theirs.read_bytes(), mapping.read_bytes()) == before
    assert (job / "control.csv").read_bytes()


def test_the_import_says_where_it_comes_from_and_what_was_changed(job, asked):
    from hashlib import sha256

    theirs, mapping = write(job, theirs_csv=THEIRS, m_toml=CONTROL)
    asked("import", theirs, "--as", "control", "--mapping", mapping)
    text = (job / "control" / "theirs.csv").read_text("utf-8")
    head = [line for line in text.splitlines() if line.startswith("#")]
    assert sha256(theirs.read_bytes()).hexdigest() in head[0]
    assert "theirs.csv" in head[0]
    assert sha256(mapping.read_bytes()).hexdigest() in head[1]
    assert '# height_sft from "Elev", sign changed' in head
    assert (
        '# sd_north_mm from "SE N", divided by 1.959964 (theirs is at 95 % of one '
        "component)" in head
    )
    # A unit is carried on by the header: the number stands as they booked it.
    row = next(csv.DictReader(text.splitlines()[len(head) :]))
    assert (row["north_ift"], row["east_sft"]) == ("1000", "3937")


def test_read_only_writes_nothing_and_an_import_only_adds(job, asked):
    theirs, mapping = write(job, theirs_csv=THEIRS, m_toml=CONTROL)
    line = ("import", theirs, "--as", "control", "--mapping", mapping)
    code, found = asked(*line, "--read-only")
    assert (code, found["files"]) == (0, [])
    assert found["imports"][0]["mapping"]["columns"][2] == {
        "theirs": "Northing",
        "ours": "north_ift",
        "sign": "+",
        "confidence": "",
    }
    assert not (job / "control").exists()
    assert asked(*line)[0] == 0
    first = (job / "control" / "theirs.csv").read_bytes()
    assert asked(*line)[0] == 7
    assert asked(*line, "--name", "again")[0] == 0
    assert (job / "control" / "again.csv").read_bytes() == first


@pytest.mark.parametrize(("word", "tail"), [("95 %", 0.975), ("99 %", 0.995)])
def test_confidences_of_one_component_are_the_normal_ones(word, tail):
    """To the six decimals that are used; quantiles by another library."""
    assert float(CONFIDENCES[word]) == pytest.approx(ndtri(tail), abs=5e-7)


def test_everything_wrong_with_a_mapping_is_told_in_one_go(job, asked):
    bad = """\
schema = 2
tables = "control"
header = "no"
leave_out = "Remark"
[columns]
"Pt" = {ours = "staton"}
"N" = {ours = "north_m"}
"E" = {ours = "east", unit = "ft", sign = "neg"}
"H" = {ours = "height", unit = "deg"}
"s" = {ours = "sd_north", unit = "mm"}
"t" = {ours = "sd_east", unit = "milimetre", confidence = "1 sigma"}
"X" = {ours = "east", units = "m"}
"C" = {ours = "source", unit = "m", sign = "-", confidence = "sd"}
"D" = 3
"F" = {}
"G" = {ours = "source"}
"I" = {ours = "source"}
[every_row]
use_plan = "weigted"
sd_height = 3
source = "x"
epoch_year = "today"
"""
    theirs, mapping = write(job, theirs_csv=THEIRS, bad_toml=bad)
    code, found = asked("import", theirs, "--as", "control", "--mapping", mapping)
    assert code == 3
    told = {(f["line"], f["slug"]) for f in found["findings"]}
    assert told == {
        (1, "schema-not-known"),
        (2, "unknown-key"),
        (0, "key-missing"),
        (3, "wrong-type"),
        (4, "wrong-type"),
        (6, "unknown-column"),
        (7, "unknown-column"),
        (8, "foot-not-named"),
        (8, "word-not-known"),
        (9, "unit-wrong"),
        (10, "key-missing"),
        (11, "unit-unknown"),
        (11, "word-not-known"),
        (12, "unknown-key"),
        (12, "unit-missing"),
        (13, "key-without-effect"),
        (14, "wrong-type"),
        (15, "key-missing"),
        (17, "duplicate-column"),
        (19, "word-not-known"),
        (20, "unknown-column"),
        (21, "duplicate-column"),
        (22, "not-a-number"),
    }
    assert not (job / "control").exists()


@pytest.mark.parametrize(
    "text",
    ["", "schema =", "[columns]\nPt = {ours = 'station'", "\ufeff", "columns = 3"],
)
def test_what_is_no_mapping_is_a_fault(text):
    found = read_mapping("m.toml", text.encode(), "control", schemas()["control"])
    assert found[0] is None
    assert found[1]


@pytest.mark.parametrize(
    ("line", "stated", "faults"),
    [
        ("", 'stated_at = "95 %"', ["duplicate-column"]),
        ("", 'stated_at = "sd"', []),
        ('"Remark" = {ours = "stated_at"}', "", ["duplicate-column"]),
    ],
)
def test_a_standard_deviation_is_never_divided_twice(line, stated, faults):
    text = CONTROL.replace("[every_row]", f"{line}\n[every_row]\n{stated}")
    found = read_mapping("m", text.encode(), "control", schemas()["control"])[1]
    assert [finding.slug for finding in found] == faults


def test_a_mapping_for_another_table_is_refused(job, asked):
    theirs, mapping = write(job, theirs_csv=THEIRS, m_toml=CONTROL)
    code, found = asked("import", theirs, "--as", "stations", "--mapping", mapping)
    assert code == 3
    assert "import with --as control" in found["findings"][0]["mend"]


def test_faults_of_their_file_stand_in_its_own_rows(job, asked):
    """The import has comments above; what is told counts the rows of their file."""
    text = "# list of the 3rd\n" + THEIRS.replace("3937;", "3937 ft;") + "P 3;1;2\n"
    theirs, mapping = write(job, theirs_csv=text, m_toml=CONTROL)
    code, found = asked("import", theirs, "--as", "control", "--mapping", mapping)
    assert code == 3
    told = [(f["row"], f["slug"], f["file"]) for f in found["findings"]]
    assert (3, "unit-in-cell", "theirs.csv") in told
    assert (5, "ragged-row", "theirs.csv") in told
    assert not (job / "control").exists()


def test_columns_that_are_not_there_or_not_named_are_told(job, asked):
    text = THEIRS.replace("Easting", "East").replace("Remark", "Note")
    theirs, mapping = write(job, theirs_csv=text, m_toml=CONTROL)
    code, found = asked("import", theirs, "--as", "control", "--mapping", mapping)
    assert code == 3
    told = {(f["slug"], f["column"]) for f in found["findings"]}
    assert {("column-not-there", "Easting"), ("column-not-there", "Remark")} < told
    assert ("column-not-mapped", "East") in told
    assert "missing-column" not in {slug for slug, _ in told}


def test_a_mapping_of_another_file_altogether_is_told(job, asked):
    """Not one of its columns is there, while every row would still have something."""
    theirs, mapping = write(job, theirs_csv="a,b\n1,2\n3,4\n", m_toml=CONTROL)
    code, found = asked("import", theirs, "--as", "control", "--mapping", mapping)
    assert code == 3
    told = [f["slug"] for f in found["findings"]]
    assert told == ["column-not-there"] * 7 + ["column-not-mapped"]


@pytest.mark.parametrize("rows", ["", ";;;;;;Totals;\n", "\n# none\n"])
def test_a_file_without_rows_is_a_fault(job, asked, rows):
    text = THEIRS.splitlines()[0] + ";Crew\n" + rows
    theirs, mapping = write(job, theirs_csv=text, m_toml=CONTROL)
    code, found = asked("import", theirs, "--as", "control", "--mapping", mapping)
    assert code == 3
    assert [f["slug"] for f in found["findings"] if f["verdict"] == "fault"] == [
        "no-rows"
    ]


def test_a_column_that_is_needed_is_asked_of_the_mapping(job, asked):
    fewer = CONTROL.replace('"SE E" = {ours = "sd_east", unit = "mm", confidence', "#")
    theirs, mapping = write(job, theirs_csv=THEIRS, m_toml=fewer)
    code, found = asked("import", theirs, "--as", "control", "--mapping", mapping)
    assert code == 3
    told = {f["slug"]: f for f in found["findings"]}
    assert told["missing-column"]["booked"] == "no column leads to sd_east_mm"
    assert told["missing-column"]["file"] == "m.toml"
    assert told["column-not-mapped"]["booked"] == '"SE E"'


def test_rows_without_anything_that_is_taken_are_left_out_and_told(job, asked):
    theirs, mapping = write(
        job, theirs_csv=THEIRS + ";;;;;;Totals\nP 3;1;2;3;4;5;x\n", m_toml=CONTROL
    )
    code, found = asked("import", theirs, "--as", "control", "--mapping", mapping)
    assert code == 0
    assert found["imports"][0]["rows"] == 3
    told = [(f["slug"], f["row"]) for f in found["imports"][0]["findings"]]
    assert told == [("row-not-mapped", 4)]
    assert table_of(job / "control" / "theirs.csv").word("station")[2] == "P 3"


def test_a_list_without_a_header_becomes_shots(job, asked):
    """Columns by number; a point without a description ends early."""
    shots = """\
schema = 1
table = "topo/shots"
header = false
[columns]
1 = {ours = "shot"}
2 = {ours = "east", unit = "m"}
3 = {ours = "north", unit = "m"}
4 = {ours = "height", unit = "m"}
5 = {ours = "code"}
"""
    points = '1,200.25,100.5,9.5,"KERB, low"\r\n2,201,101,9.75\r\n\r\n3,202,102,,IP\r\n'
    theirs, mapping = write(job, day_txt=points, m_toml=shots)
    code, found = asked("import", theirs, "--as", "topo/shots", "--mapping", mapping)
    assert code == 0, found
    assert found["files"] == ["topo/day.csv"]
    lines = (job / "topo" / "day.csv").read_text("utf-8").splitlines()
    rows = list(csv.DictReader(line for line in lines if line[0] != "#"))
    assert [row["code"] for row in rows] == ["KERB, low", "", "IP"]
    assert [row["north_m"] for row in rows] == ["100.5", "101", "102"]
    assert [row["east_m"] for row in rows] == ["200.25", "201", "202"]
    more = points.replace("3,202,102,,IP", "3,202,102,,IP,x\r\n4,203,y,1,IP")
    theirs, _ = write(job, day_txt=more, m_toml=shots)
    code, found = asked(
        "import", theirs, "--as", "topo/shots", "--mapping", mapping, "--name", "d2"
    )
    assert code == 3
    told = [(f["row"], f["slug"]) for f in found["findings"]]
    assert told == [(4, "ragged-row"), (5, "not-a-number")]


def test_a_name_that_begins_with_a_comment_mark_is_kept(job, asked):
    theirs, mapping = write(
        job,
        theirs_csv='Kind,Pt\npin,#12\npin,"a, b"\n',
        m_toml='schema = 1\ntable = "stations"\n[columns]\nPt = {ours = "station"}\n'
        'Kind = {ours = "mark_kind"}\n',
    )
    assert asked("import", theirs, "--as", "stations", "--mapping", mapping)[0] == 0
    table = table_of(job / "stations" / "theirs.csv", "stations")
    assert table.word("station").tolist() == ["#12", "a, b"]


def test_a_long_list_is_read_in_blocks(job, asked, monkeypatch):
    """Rows of several blocks come in order, each once."""
    monkeypatch.setattr("brasscap.io.tables.grid.BLOCK", 100)
    rows = [f"M{i},{i}.5,{2 * i},{i / 8}" for i in range(60)]
    theirs, mapping = write(
        job,
        theirs_csv="\n".join(["p,n,e,w", *rows]) + "\n",
        m_toml='schema = 1\ntable = "control"\nleave_out = ["w"]\n[columns]\n'
        'p = {ours = "station"}\nn = {ours = "north", unit = "m", sign = "-"}\n'
        'e = {ours = "east", unit = "m"}\n',
    )
    assert asked("import", theirs, "--as", "control", "--mapping", mapping)[0] == 0
    table = table_of(job / "control" / "theirs.csv")
    np.testing.assert_array_equal(table.number("north"), -(np.arange(60) + 0.5))
    np.testing.assert_array_equal(table.number("east"), 2.0 * np.arange(60))


def test_points_parted_by_blanks_and_decimal_commas(job, asked):
    """The last column takes the rest of its row, commas and all."""
    mapping = """\
schema = 1
table = "topo/shots"
header = false
separator = "blank"
decimal = "comma"
[columns]
1 = {ours = "shot"}
2 = {ours = "north", unit = "m"}
3 = {ours = "east", unit = "m", sign = "-"}
4 = {ours = "code"}
"""
    points = "  1  100,5\t200,25  IP, north, by the gate\r\n\r\n 2 101 -1,5 \r\n"
    theirs, by = write(job, day_txt=points, m_toml=mapping)
    code, found = asked("import", theirs, "--as", "topo/shots", "--mapping", by)
    assert code == 0, found
    lines = (job / "topo" / "day.csv").read_text("utf-8").splitlines()
    assert "# decimal commas written as points" in lines
    rows = list(csv.reader(line for line in lines if line[0] != "#"))
    assert rows[1:] == [
        ["1", "100.5", "-200.25", "IP, north, by the gate"],
        ["2", "101", "1.5", ""],
    ]
    theirs, by = write(job, day_txt=points + "3 1.000,5 2 x\n", m_toml=mapping)
    line = ("import", theirs, "--as", "topo/shots", "--mapping", by, "--name", "d2")
    code, found = asked(*line)
    assert code == 3
    assert [(f["row"], f["column"]) for f in found["findings"]] == [(4, "north_m")]


def test_commas_in_a_description_do_not_part_columns(job, asked):
    mapping = """\
schema = 1
table = "topo/shots"
header = false
[columns]
1 = {ours = "shot"}
2 = {ours = "north", unit = "m"}
3 = {ours = "east", unit = "m"}
4 = {ours = "code"}
"""
    points = "1;2;3;a,b,c,d,e\n# 4;1;1;x\n2;3;4\n"
    theirs, by = write(job, day_txt=points, m_toml=mapping)
    code, found = asked("import", theirs, "--as", "topo/shots", "--mapping", by)
    assert code == 0, found
    # A point behind # is told, not lost without a word.
    told = [(f["slug"], f["row"]) for f in found["imports"][0]["findings"]]
    assert told == [("row-commented-out", 2)]
    lines = (job / "topo" / "day.csv").read_text("utf-8").splitlines()
    assert lines[-2:] == ['1,2,3,"a,b,c,d,e"', "2,3,4,"]


def test_help_has_an_example_that_is_a_mapping(capsys):
    """The lines that are set in, read as they stand."""
    from brasscap.commands.help import topics

    lines = [t for t in topics()["mapping"].splitlines() if t.startswith("  ")]
    text = "\n".join(lines).encode()
    mapping, findings = read_mapping("m.toml", text, "control", schemas()["control"])
    assert findings == []
    assert [one.header for one in mapping.columns][1] == "north_sft"
    assert main(["help", "mapping"]) == 0
    assert '  "Pt" = {ours = "station"}\n' in capsys.readouterr().out
