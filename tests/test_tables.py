"""Good tables are read as booked: five job folders, every form a file may have."""

import json
import shutil
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

from brasscap.io.tables.blank import KINDS, blank_files
from brasscap.io.tables.reading import read_folder
from brasscap.io.tables.schema import schemas

TESTS = Path(__file__).parent
JOBS = TESTS / "jobs"
FOLDERS = sorted(path for path in JOBS.iterdir() if path.is_dir())
LOCAL = 'schema = 1\n[frame]\nkind = "local"\n'


def read(folder, **files):
    """Write files (``levels="…"`` is levels.csv) and read the folder."""
    (folder / "job.toml").write_text(LOCAL)
    for name, content in files.items():
        path = folder / f"{name}.csv"
        path.parent.mkdir(exist_ok=True)
        path.write_bytes(content if isinstance(content, bytes) else content.encode())
    return read_folder(folder)


@pytest.mark.parametrize("folder", FOLDERS, ids=lambda path: path.name)
def test_a_good_folder_has_nothing_wrong(folder):
    reading = read_folder(folder)
    assert reading.findings == []
    assert reading.job is not None
    files = {path.stem for path in folder.glob("*.csv")}
    assert set(reading.tables) == files
    for table in reading.tables.values():
        lines = (folder / f"{table.name}.csv").read_text().splitlines()
        assert len(table) == len(lines) - 1
        assert table.row.tolist() == table.line.tolist() == [*range(2, len(lines) + 1)]


def test_the_textbook_vectors_are_those_of_the_case():
    """Vectors and covariances against tests/cases (Ghilani and Wolf, ch. 17)."""
    case = json.loads(
        (TESTS / "cases/gnss_textbook_two_control_13_vectors.json").read_text()
    )
    vectors = read_folder(JOBS / "gnss_textbook_two_control_13_vectors").tables[
        "baselines"
    ]
    booked = case["observations"]
    assert vectors.word("from_station").tolist() == [o["from"] for o in booked]
    assert vectors.word("to_station").tolist() == [o["to"] for o in booked]
    for k, axis in enumerate("xyz"):
        delta = vectors.number(f"d{axis}")
        assert delta.tolist() == [o["dxyz"][k] for o in booked]
    for k, pair in enumerate(("xx", "xy", "xz", "yy", "yz", "zz")):
        truth = [o["cov_xx_xy_xz_yy_yz_zz"][k] for o in booked]
        # mm² in the table, m² here and in the case: equal to the last digit.
        np.testing.assert_allclose(vectors.number(f"cov_{pair}"), truth, rtol=1e-15)


def test_angles_are_radians_but_latitudes_degrees():
    """Traverse, Ghilani and Wolf example 16.1: angles 240°, 150°, 240°01′."""
    table = read_folder(JOBS / "traverse_one_station_mixed").tables["total_station"]
    angles = table.number("angle")
    truth = np.radians([240, 150, 240 + 1 / 60])
    np.testing.assert_allclose(angles[2:], truth, rtol=1e-15)
    assert np.isnan(angles[:2]).all()
    assert table.has("angle").tolist() == [False, False, True, True, True]
    sd = np.radians(30 / 3600)
    np.testing.assert_allclose(table.number("sd_angle")[2:], sd, rtol=1e-15)
    station = read_folder(JOBS / "terrestrial_3d_free_station").tables["stations"]
    assert station.number("approx_latitude")[0] == 47.0512345


def test_any_unit_of_the_kind(tmp_path):
    """By hand: 10 ift = 3.048 m, 3937 sft = 1200 m, 1 m² = 10⁶ mm²."""
    reading = read(
        tmp_path,
        levels="section,from_station,to_station,rise_ift,length_m,sd_m\n"
        "L1,A,B,10,1500,0.002\n",
        control="station,north_sft,east_mm,height_km,cov_xx_m2,cov_xy_m2,cov_xz_m2,"
        "cov_yy_m2,cov_yz_m2,cov_zz_m2\nA,3937,1500,0.1,1,0,0,1,0,1\n",
    )
    assert reading.findings == []
    levels, control = reading.tables["levels"], reading.tables["control"]
    assert levels.number("rise").tolist() == [3.048]
    assert levels.number("length").tolist() == [1500]
    assert levels.header["rise"] == "rise_ift"
    assert levels.booked["rise"].tolist() == ["10"]
    assert control.number("north").tolist() == [1200]
    assert control.number("east").tolist() == [1.5]
    assert control.number("height").tolist() == [100]
    assert control.number("cov_zz").tolist() == [1]


@pytest.mark.parametrize("separator", [",", ";", "\t"])
@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
@pytest.mark.parametrize("mark", [b"", b"\xef\xbb\xbf"])
def test_forms_of_a_file(tmp_path, separator, end, mark):
    rows = ["# first line", "station,description,approx_north_m,approx_east_m", ""]
    rows += ["# more", "Ä 1,brass cap,1.5,2.5", ",,,", "T2,,,"]
    text = end.join(rows).replace(",", separator)
    table = read(tmp_path, stations=mark + text.encode()).tables["stations"]
    assert table.word("station").tolist() == ["Ä 1", "T2"]
    assert table.row.tolist() == [5, 7]
    np.testing.assert_array_equal(table.number("approx_north"), [1.5, np.nan])


def test_rows_and_lines_part_after_a_quoted_line_break(tmp_path):
    text = (
        '# a "quoted" comment\nstation,description\n'
        'T1,"cap in rock,\nnorth of ""the"" gate"\n\n# T9\nT2,"#2 rod"\n'
    )
    reading = read(tmp_path, stations=text)
    table = reading.tables["stations"]
    assert reading.findings == []
    assert table.word("description").tolist() == [
        'cap in rock,\nnorth of "the" gate',
        "#2 rod",
    ]
    # A spreadsheet shows comments and empty lines as rows of their own.
    assert table.row.tolist() == [3, 6]
    assert table.line.tolist() == [3, 7]


def test_files_of_one_table_are_read_together(tmp_path):
    head = "section,from_station,to_station,"
    reading = read(
        tmp_path,
        **{
            "levels": head + "rise_m\nL1,A,B,1\n",
            "levels/day2": head + "rise_ift,run\nL2,B,C,10,out\n",
            "levels/day1": head + "rise_mm\nL3,C,D,500\nL1,A,B,1\n",
        },
    )
    table = reading.tables["levels"]
    assert table.word("section").tolist() == ["L1", "L3", "L1", "L2"]
    assert table.number("rise").tolist() == [1, 0.5, 0.001, 3.048]
    assert table.word("run").tolist() == ["", "", "", "out"]
    assert table.file.tolist() == [
        "levels.csv",
        "levels/day1.csv",
        "levels/day1.csv",
        "levels/day2.csv",
    ]
    (duplicate,) = reading.findings
    assert (duplicate.slug, duplicate.where) == (
        "duplicate-name",
        "levels/day1.csv row 3",
    )
    assert "levels.csv row 2" in duplicate.against
    quoted = table.finding("x", "fault", 3, ("rise",))
    assert quoted.booked == "rise_ift 10"


def test_an_unknown_column_is_kept_and_queried(tmp_path):
    reading = read(tmp_path, stations="station,staus,colour\nT1,found,red\n")
    assert [(f.slug, f.verdict, f.likely) for f in reading.findings] == [
        ("unknown-column", "query", "status"),
        ("unknown-column", "query", ""),
    ]
    table = reading.tables["stations"]
    assert table.word("colour").tolist() == ["red"]
    assert table.word("status").tolist() == [""]


def test_a_session_may_be_one_triangle(tmp_path):
    """Rows below the heading hold the lower triangle; mm² become m²."""
    text = "baselines cov_mm2,V1 x,V1 y,V 2 x\nV1 x,4\nV1 y,1,9\nV 2 x,2,0,1\n"
    reading = read(tmp_path, **{"covariances/S1": text})
    (matrix,) = reading.matrices
    assert reading.findings == []
    assert (matrix.table, matrix.rows, matrix.axes) == (
        "baselines",
        ("V1", "V1", "V 2"),
        ("x", "y", "x"),
    )
    truth = np.array([[4, 1, 2], [1, 9, 0], [2, 0, 1]]) * 1e-6
    np.testing.assert_allclose(matrix.covariance, truth, rtol=1e-15)


def test_a_row_is_called_as_people_call_it(tmp_path):
    head = "baseline,session,from_station,to_station,dx_m,dy_m,dz_m"
    head += ",sd_x_mm,sd_y_mm,sd_z_mm"
    reading = read(tmp_path, baselines=f"{head}\nB17,S4,GROVE 3,T104,1,2,3,4,5,x\n")
    (finding,) = reading.findings
    assert finding.about == "baseline B17 GROVE 3 – T104, session S4"
    assert (finding.where, finding.line, finding.column, finding.booked) == (
        "baselines.csv row 2",
        2,
        "sd_z_mm",
        "sd_z_mm x",
    )


def test_times_are_utc(tmp_path):
    head = "set_up,station,start_utc,stop_utc"
    rows = "O1,T1,2026-05-14T16:30:00Z,2026-05-14 17:00\n"
    table = read(tmp_path, set_ups=f"{head}\n{rows}").tables["set_ups"]
    lasted = table.instant("stop") - table.instant("start")
    assert lasted.tolist() == [np.timedelta64(30, "m").astype(object)]
    assert np.isnat(table.instant("nothing")).all()


def test_the_hash_knows_every_input_and_nothing_else(tmp_path):
    folder = tmp_path / "job"
    shutil.copytree(FOLDERS[0], folder)
    first = read_folder(folder).input_hash
    assert first == read_folder(FOLDERS[0]).input_hash
    (folder / "results").mkdir()
    (folder / "results" / "positions.csv").write_text("made")
    (folder / ".hidden.csv").write_text("")
    assert read_folder(folder).input_hash == first
    for name in ("job.toml", "control.csv"):
        with (folder / name).open("a") as file:
            file.write("# a word\n")
        second = read_folder(folder).input_hash
        assert second != first
        first = second


@pytest.mark.parametrize("kind", KINDS)
def test_an_empty_job_says_only_what_is_to_be_filled(tmp_path, kind):
    for name, text in blank_files(kind, 'the "north" bridge\\').items():
        (tmp_path / name).write_text(text, "utf-8")
    findings = read_folder(tmp_path).findings
    to_fill = {(f.slug, f.file if f.verdict == "note" else f.about) for f in findings}
    truth = {("no-rows", f"{name}.csv") for name in KINDS[kind]}
    if kind in ("gnss", "mixed"):
        # Frame and epoch have no default.
        truth |= {("key-missing", f"[frame] {k}") for k in ("epoch", "geographic_epsg")}
    assert to_fill == truth
    job = (tmp_path / "job.toml").read_text("utf-8")
    stated = job.replace("# geographic_epsg = …", "geographic_epsg = 6319")
    (tmp_path / "job.toml").write_text(stated.replace("# epoch = …", "epoch = 2010.0"))
    reading = read_folder(tmp_path)
    assert reading.job is not None
    assert reading.job.title == 'the "north" bridge\\'


def test_every_column_is_offered_with_what_it_is():
    for schema in schemas().values():
        names = [column.name for column in schema.columns]
        assert len(set(names)) == len(names), schema.name
        assert all(column.says for column in schema.columns)
        needed = {*schema.need, *(n for s in schema.together for n in s)}
        needed |= {n for group in schema.either for s in group for n in s}
        needed |= {n for unique, among in schema.unique for n in (*unique, among)}
        needed = {name.removeprefix("has ") for name in needed}
        assert needed - {""} <= set(names), schema.name


def test_a_fault_is_told_without_the_heavy_libraries(tmp_path):
    """Neither scipy nor matplotlib nor pyproj is loaded to find a fault."""
    (tmp_path / "job.toml").write_text(LOCAL)
    (tmp_path / "levels.csv").write_text("section,from_station\nL1,A\n")
    code = (
        "import sys; from pathlib import Path; "
        "from brasscap.io.tables.reading import read_folder; "
        f"reading = read_folder(Path({str(tmp_path)!r})); "
        "heavy = {'scipy', 'matplotlib', 'pyproj', 'networkx'} & set(sys.modules); "
        "print(len(reading.findings), sorted(heavy))"
    )
    found = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True
    )
    assert found.stdout.split() == ["2", "[]"]
