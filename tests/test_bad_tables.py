"""Bad tables: every fault at once, each with its place, its name and its mend."""

import re
import shutil
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from brasscap.io.tables.reading import Reading, read_folder
from brasscap.networks import InputError

JOBS = Path(__file__).parent / "jobs"
LOCAL = 'schema = 1\n[frame]\nkind = "local"\n'
LEVELS = "section,from_station,to_station,rise_m\n"
VECTOR = "baseline,from_station,to_station,dx_m,dy_m,dz_m,sd_x_mm,sd_y_mm,sd_z_mm\n"
SHOT = "pointing,set_up,target_station,direction_dms\n"


def findings_of(folder, name, content):
    (folder / "job.toml").write_text(LOCAL)
    path = folder / f"{name}.csv"
    path.parent.mkdir(exist_ok=True)
    path.write_bytes(content if isinstance(content, bytes) else content.encode())
    findings = read_folder(folder).findings
    for finding in findings:
        assert finding.verdict in ("fault", "query", "note")
        assert finding.file == f"{name}.csv"
        assert finding.mend, finding
        assert finding.about
        assert re.fullmatch(r"[a-z0-9]+(-[a-z0-9]+)*", finding.slug)
    return findings


@pytest.mark.parametrize(
    ("name", "content", "slug", "row"),
    [
        # the file
        ("levels", b"", "empty-file", 0),
        ("levels", b"\n# nothing\n ,,\n", "empty-file", 0),
        ("stations", "station\nJörg\n".encode("latin-1"), "wrong-encoding", 2),
        ("stations", "station\nT1\n".encode("utf-16"), "wrong-encoding", 1),
        ("stations", "station\nT1\n".encode("utf-16-le"), "wrong-encoding", 1),
        ("stations", b"station\nT1\x00\n", "wrong-encoding", 2),
        ("stations", "station;description,photo\n", "mixed-separators", 1),
        ("stations", 'station,description\nT1,"open\nT2,x\n', "quotes-unbalanced", 2),
        ("stations", 'station,description\nT1,"a" b\n', "quotes-unbalanced", 0),
        ("levels", LEVELS + "L1,A,B\n", "ragged-row", 2),
        ("levels", LEVELS + "L1,A,B,1,2\n", "ragged-row", 2),
        ("levels", "a," * 400 + "b\n", "too-many-columns", 1),
        # the header
        ("levels", "section,from_station,rise_m\n", "missing-column", 1),
        (
            "levels",
            "#\n\n" + LEVELS.replace("rise_m", "rise_ift,rise_m"),
            "duplicate-column",
            3,
        ),
        ("stations", "station,station\nT1,T1\n", "duplicate-column", 1),
        ("stations", "station,,status\nT1,x,found\n", "column-without-name", 1),
        ("levels", LEVELS.replace("rise_m", "rise"), "unit-missing", 1),
        ("levels", LEVELS.replace("rise_m", "rise_deg"), "unit-wrong", 1),
        ("levels", LEVELS.replace("rise_m", "rise_metres"), "unit-unknown", 1),
        ("levels", LEVELS.replace("rise_m", "rise_ft"), "foot-not-named", 1),
        ("levels", LEVELS.replace("rise_m", "rise_us_ft"), "foot-not-named", 1),
        # numbers
        ("levels", LEVELS + "L1,A,B,nan\n", "not-a-value", 2),
        ("levels", LEVELS + "L1,A,B,-inf\n", "not-a-value", 2),
        ("levels", LEVELS + "L1,A,B,N/A\n", "not-a-value", 2),
        ("levels", LEVELS + "L1,A,B,1e400\n", "number-too-large", 2),
        ("levels", LEVELS + "L1,A,B,1e12\n", "number-too-large", 2),
        ("levels", LEVELS + "L1,A,B," + "9" * 5000 + "\n", "number-too-large", 2),
        ("levels", LEVELS + "L1,A,B,1_000\n", "not-a-number", 2),
        ("levels", LEVELS + "L1,A,B,one\n", "not-a-number", 2),
        ("levels", LEVELS + "L1,A,B,−1.5\n", "not-a-number", 2),
        ("levels", LEVELS + "L1,A,B,1.5 m\n", "unit-in-cell", 2),
        ("levels", LEVELS + 'L1,A,B,"1,5"\n', "decimal-comma", 2),
        ("levels", LEVELS + 'L1,A,B,"1,234.5"\n', "thousands-separator", 2),
        ("levels", LEVELS.replace(",", ";") + "L1;A;B;1,5\n", "decimal-comma", 2),
        ("levels", LEVELS + "L1,A,B,\n", "missing-value", 2),
        ("baselines", VECTOR + "V,A,B,1,2,3,-1,1,1\n", "out-of-range", 2),
        ("baselines", VECTOR + "V,A,B,1,2,3,1,1,\n", "missing-value", 2),
        ("baselines", VECTOR + "V,A,,1,2,3,1,1,1\n", "missing-value", 2),
        ("control", "station,latitude_deg,longitude_deg\nA,95,8\n", "out-of-range", 2),
        ("control", "station,height_m,frame_epsg\nA,1,63.5\n", "not-whole", 2),
        ("control", "station,use_plan\nA,held\n", "missing-column", 1),
        # angles
        ("total_station", SHOT + "p,S,T,123.45067\n", "dms-packed", 2),
        ("total_station", SHOT + "p,S,T,1234506\n", "dms-packed", 2),
        ("total_station", SHOT + "p,S,T,12 60 00\n", "dms-out-of-range", 2),
        ("total_station", SHOT + "p,S,T,12 30\n", "not-an-angle", 2),
        ("total_station", SHOT + "p,S,T,400 00 00\n", "out-of-range", 2),
        # words, names, times
        ("stations", "station,status\nT1,Found\n", "word-not-known", 2),
        ("control", "station,height_m,use_height\nA,1,hold\n", "word-not-known", 2),
        ("stations", "station\nT1\nT1\n", "duplicate-name", 3),
        ("stations", 'station,status\n" T1",found\n', "name-has-blanks-around", 2),
        ("stations", "station\nT  1\n", "name-has-odd-blanks", 2),
        ("stations", "station\nT\u00a01\n", "name-has-odd-blanks", 2),
        ("stations", 'station\n"T\n1"\n', "name-not-printable", 2),
        ("stations", "station\n" + "T" * 99 + "\n", "name-too-long", 2),
        ("set_ups", "set_up,start_utc\nO1,14/05/2026 16:30\n", "not-a-time", 2),
        ("set_ups", "set_up,start_utc\nO1,2026-02-30T16:30Z\n", "not-a-time", 2),
        (
            "set_ups",
            "set_up,start_utc\nO1,2026-05-14T16:30:00-06:00\n",
            "time-not-utc",
            2,
        ),
        (
            "levels",
            LEVELS + "L1,A,B,1\n# L2,B,C,2\n",
            "row-commented-out",
            3,
        ),
        # covariances in matrix form
        (
            "covariances/S1",
            "cov,V1 x\nV1 x,1\n",
            "matrix-corner-not-understood",
            1,
        ),
        (
            "covariances/S1",
            "baselines cov_mm2,V1 x,V1 y\nV1 x,1\n",
            "matrix-wrong-size",
            1,
        ),
        (
            "covariances/S1",
            "baselines cov_mm2,V1 x,V1 y\nV1 x,1\nV2 y,0,1\n",
            "matrix-label-differs",
            3,
        ),
        (
            "covariances/S1",
            "baselines cov_mm2,V1 x,V1 y\nV1 x,1,2\nV1 y,3,1\n",
            "matrix-not-symmetric",
            3,
        ),
        (
            "covariances/S1",
            "baselines cov_mm2,V1 x,V1 y\nV1 x,1\nV1 y,,1\n",
            "missing-value",
            3,
        ),
        (
            "covariances/S1",
            "baselines cov_mm2,V1 x,V1 q\nV1 x,1\nV1 q,0,1\n",
            "matrix-label-not-understood",
            1,
        ),
        (
            "covariances/S1",
            "baselines cov_mm2,V1 x\nV1 x,1e999\n",
            "not-a-number",
            2,
        ),
    ],
)
def test_each_fault_has_its_name_and_place(tmp_path, name, content, slug, row):
    findings = findings_of(tmp_path, name, content)
    assert (slug, row) in {(f.slug, f.row) for f in findings} or (
        # Where an open quotation mark cannot be located, the file alone is named.
        row == 0 and slug in {f.slug for f in findings}
    )
    told = [f.slug for f in findings if f.verdict == "fault"]
    assert told.count(slug) <= 1


@pytest.mark.parametrize(
    ("name", "content", "likely"),
    [
        ("levels", LEVELS + "L1,A,B,−1.5\n", "-1.5"),
        ("levels", LEVELS + "L1,A,B,1.5 m\n", "1.5"),
        ("levels", LEVELS + 'L1,A,B,"1,5"\n', "1.5"),
        ("levels", LEVELS.replace("rise_m", "rise_metres") + "L1,A,B,1\n", "rise_m"),
        ("stations", "station,status\nT1,Found\n", "found"),
        ("stations", "staton\nT1\n", "station"),
        (
            "total_station",
            SHOT + "p,S,T,123.45067\n",
            "123 45 06.7, or 123.45067 decimal degrees",
        ),
    ],
)
def test_what_was_likely_meant(tmp_path, name, content, likely):
    assert likely in [f.likely for f in findings_of(tmp_path, name, content)]


def test_all_faults_of_all_files_at_once(tmp_path):
    """Two wrong cells of one row, one of another, the header of another table."""
    (tmp_path / "stations.csv").write_text("station,status\nT1,lost\nT1,found\n")
    (tmp_path / "antennas.csv").write_text("antena\nA1\n")
    findings = findings_of_all(tmp_path, LEVELS + 'L1,A,,"1,5"\nL2,A,B,x\n')
    assert [(f.file, f.slug, f.row) for f in findings] == [
        ("stations.csv", "word-not-known", 2),
        ("stations.csv", "duplicate-name", 3),
        ("antennas.csv", "missing-column", 1),
        ("antennas.csv", "unknown-column", 1),
        ("levels.csv", "decimal-comma", 2),
        ("levels.csv", "missing-value", 2),
        ("levels.csv", "not-a-number", 3),
    ]


def findings_of_all(folder, levels):
    (folder / "job.toml").write_text(LOCAL)
    (folder / "levels.csv").write_text(levels)
    return read_folder(folder).findings


def test_the_first_fifty_of_a_file(tmp_path):
    """60 faults after 60 queries: a fault is never cut off by queries."""
    queries = "".join(f"S{i},A  {i},B,1\n" for i in range(60))
    faults = "".join(f"F{i},A,B,x\n" for i in range(60))
    findings = findings_of(tmp_path, "levels", LEVELS + queries + faults)
    assert [f.slug for f in findings[:50]] == ["not-a-number"] * 50
    assert findings[0].row == 62
    (rest,) = findings[50:]
    assert rest.slug == "more-findings"
    assert rest.booked == "70 more findings, 10 of them faults"


def test_a_table_of_an_unknown_name_is_not_passed_over(tmp_path):
    for name in ("baseline.csv", "Stations.CSV", "notes.csv"):
        (tmp_path / name).write_text("station\nT1\n")
    (tmp_path / "level").mkdir()
    (tmp_path / "level" / "day1.csv").write_text(LEVELS)
    (tmp_path / "job.toml").write_text(LOCAL)
    found = {f.booked: f.likely for f in read_folder(tmp_path).findings}
    assert found == {
        "Stations.CSV": "stations.csv",
        "baseline.csv": "baselines.csv",
        "notes.csv": "",
        "level/day1.csv": "levels.csv",
    }


def test_topographic_shots_are_not_passed_over_in_silence(tmp_path):
    (tmp_path / "topo").mkdir()
    (tmp_path / "topo" / "day1.csv").write_text("shot\n1\n")
    (tmp_path / "job.toml").write_text(LOCAL)
    (finding,) = read_folder(tmp_path).findings
    assert (finding.slug, finding.booked) == ("table-not-used", "day1.csv")


def test_a_folder_that_is_none(tmp_path):
    for folder in (tmp_path / "nowhere", tmp_path / "file"):
        (tmp_path / "file").write_text("")
        with pytest.raises(InputError) as raised:
            read_folder(folder)
        (finding,) = raised.value.findings
        assert finding.mend


def test_an_empty_folder_lacks_its_job(tmp_path):
    reading = read_folder(tmp_path)
    assert (reading.job, reading.tables) == (None, {})
    assert [f.slug for f in reading.findings] == ["job-missing"]


def test_a_file_without_permission(tmp_path, monkeypatch):
    """As a system without rights answers; root would be allowed to read."""

    def refuse(self):
        raise PermissionError(13, "Permission denied", str(self))

    (tmp_path / "levels.csv").write_text(LEVELS)
    monkeypatch.setattr(Path, "read_bytes", refuse)
    findings = read_folder(tmp_path).findings
    told = {f.file: f for f in findings if f.slug != "job-missing"}
    assert told["levels.csv"].slug == "cannot-read"
    assert "ermission" in told["levels.csv"].booked


def test_a_link_that_leads_nowhere(tmp_path):
    (tmp_path / "job.toml").write_text(LOCAL)
    (tmp_path / "levels.csv").symlink_to(tmp_path / "gone.csv")
    assert [f.slug for f in read_folder(tmp_path).findings] == ["cannot-read"]


def test_a_geoid_file_that_is_missing(tmp_path):
    job = 'geoid = "model.tif"\ngeoid_sd_mm = 20\n'
    (tmp_path / "job.toml").write_text(LOCAL + job)
    (finding,) = read_folder(tmp_path).findings
    assert (finding.slug, finding.file) == ("cannot-read", "model.tif")


SOURCES = sorted(path for name in ("*/job.toml", "*/*.csv") for path in JOBS.glob(name))
PIECES = [
    *(b",", b";", b"\t", b"\n", b"\r", b'"', b"#", b"\x00", b"\xff", b"\xef\xbb\xbf"),
    *(b"nan", b"1e400", b"-1e-400", b"1,5", b" ", b"_ft", b"_m", b"=", b"[", b"]"),
    *("−".encode(), "٣".encode(), b"9" * 400, b"'", b"held", b"true", b"x" * 200),
]
change = st.tuples(
    st.sampled_from(["insert", "delete", "replace", "repeat", "cut"]),
    st.floats(0, 1),
    st.integers(1, 40),
    st.sampled_from(PIECES),
)


def mutated(content, changes):
    for kind, place, length, piece in changes:
        at = int(place * len(content))
        before, inside, after = (
            content[:at],
            content[at : at + length],
            content[at + length :],
        )
        content = {
            "insert": before + piece + inside + after,
            "delete": before + after,
            "replace": before + piece + after,
            "repeat": before + inside + inside + after,
            "cut": before,
        }[kind]
    return content


@settings(
    max_examples=150,
    derandomize=True,
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
@given(
    source=st.sampled_from(SOURCES), changes=st.lists(change, min_size=1, max_size=6)
)
def test_any_bytes_end_in_a_reading(tmp_path, source, changes):
    """Whatever happens to a file, it is read or its faults are told; never a crash."""
    folder = tmp_path / "job"
    shutil.rmtree(folder, ignore_errors=True)
    shutil.copytree(source.parent, folder)
    (folder / source.name).write_bytes(mutated(source.read_bytes(), changes))
    reading = read_folder(folder)
    assert isinstance(reading, Reading)
    told = [f for f in reading.findings if f.verdict == "fault"]
    assert all(f.slug and f.file and f.mend for f in told)
    assert len(reading.findings) <= 51 * len(SOURCES)
    if reading.job is None:
        assert any(f.file == "job.toml" for f in told)
    for table in reading.tables.values():
        for name, column in table.columns.items():
            assert len(column) == len(table) == len(table.booked[name])
