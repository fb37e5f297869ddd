"""Bad input through the command: a clear message, the exit code, nothing written.

Each way of going wrong stands alone in a job that is sound without it.
"""

import re
import shutil
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from brasscap.__main__ import main

JOBS = Path(__file__).parent / "jobs"
SOUND = JOBS / "gnss_textbook_two_control_13_vectors"


def sound(folder):
    """Return a copy of a sound job, its tables only."""
    folder.mkdir()
    for path in SOUND.iterdir():
        if path.suffix in (".csv", ".toml"):
            shutil.copy(path, folder)
    return folder


@pytest.fixture(name="job")
def _job(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    return sound(tmp_path / "job")


def contents(folder):
    return {
        path.relative_to(folder).as_posix(): path.read_bytes()
        for path in sorted(folder.rglob("*"))
        if path.is_file()
    }


def changed(name, old, new, count=1):
    """Return what changes one place of a table."""

    def change(folder):
        path = folder / name
        text = path.read_text("utf-8")
        assert old in text, "the job has changed: the test no longer does what it says"
        path.write_text(text.replace(old, new, count), "utf-8")

    return change


def written(name, content):
    """Return what puts a file into the job."""

    def write(folder):
        path = folder / name
        path.parent.mkdir(exist_ok=True)
        path.write_bytes(content if isinstance(content, bytes) else content.encode())

    return write


def header_only(folder):
    path = folder / "baselines.csv"
    path.write_text(path.read_text("utf-8").splitlines()[0] + "\n", "utf-8")


def row_twice(folder):
    path = folder / "baselines.csv"
    path.write_text(
        path.read_text("utf-8") + path.read_text("utf-8").splitlines()[1] + "\n"
    )


def utf_16(folder):
    path = folder / "baselines.csv"
    path.write_bytes(path.read_text("utf-8").encode("utf-16"))


LINE = "A,C,11644.2232,"
MATRIX = (
    "baselines cov_mm2,v0 x,v0 y,v0 z,v1 x,v1 y,v1 z\nv0 x,988.4\nv0 y,-9.58,937.7\n"
)
CROSS = "table,row,row_axis,column,column_axis,cov_mm2\nbaselines,v0,x,v1,x,3\n"

WRONG = {
    "empty file": (written("baselines.csv", ""), "empty-file", "baselines.csv"),
    "wrong encoding": (
        written("stations.csv", "station,description\nA,Jörg\n".encode("latin-1")),
        "wrong-encoding",
        "stations.csv row 2",
    ),
    "another encoding": (utf_16, "wrong-encoding", "baselines.csv"),
    "decimal comma": (
        changed("baselines.csv", LINE, 'A,C,"11644,2232",'),
        "decimal-comma",
        "baselines.csv row 2",
    ),
    "decimal comma, semicolons": (
        lambda folder: [
            changed("baselines.csv", ",", ";", -1)(folder),
            changed("baselines.csv", ".", ",", -1)(folder),
        ],
        "decimal-comma",
        "baselines.csv row 2",
    ),
    "missing column": (
        changed("baselines.csv", ",dx_m,", ",x_difference_m,"),
        "missing-column",
        "baselines.csv row 1",
    ),
    "NaN": (
        changed("baselines.csv", LINE, "A,C,NaN,"),
        "not-a-value",
        "baselines.csv row 2",
    ),
    "1e400": (
        changed("baselines.csv", LINE, "A,C,1e400,"),
        "number-too-large",
        "baselines.csv row 2",
    ),
    "duplicate names": (row_twice, "duplicate-name", "baselines.csv row 15"),
    "a vector from a mark to itself": (
        changed("baselines.csv", LINE, "A,A,11644.2232,"),
        "vector-to-itself",
        "baselines.csv row 2",
    ),
    "an unknown mark": (
        changed("baselines.csv", LINE, "A,CC,11644.2232,"),
        "unknown-name",
        "baselines.csv row 2",
    ),
    "a session covariance of the wrong size": (
        written("covariances/v0.csv", MATRIX),
        "matrix-wrong-size",
        "covariances/v0.csv row 1",
    ),
    "a session covariance with one value": (
        written("covariances.csv", CROSS),
        "session-covariance-incomplete",
        "covariances.csv row 2",
    ),
    "a job.toml with a typo": (
        changed("job.toml", "geographic_epsg", "geografic_epsg"),
        "unknown-key",
        "job.toml row",
    ),
    "a job.toml that is none": (
        written("job.toml", "schema = 1\n[frame\n"),
        "toml-not-understood",
        "job.toml row 2",
    ),
}


@pytest.mark.parametrize("what", WRONG)
@pytest.mark.parametrize("command", ["adjust", "run", "check"])
def test_a_fault_is_told_and_nothing_is_written(job, capsys, what, command):
    change, slug, place = WRONG[what]
    change(job)
    before = contents(job)
    assert main([command, "--job", str(job), "--progress", "off"]) == 3
    said = capsys.readouterr()
    words = re.sub(r"\s+", " ", said.out + said.err)
    assert slug in words
    assert place in words
    assert " mend " in words
    assert "Traceback" not in words
    assert contents(job) == before


def test_without_the_change_the_job_is_sound(job):
    assert main(["adjust", "--job", str(job), "--quiet"]) in (0, 1)


def test_header_only_leaves_nothing_to_adjust(job, capsys):
    header_only(job)
    before = contents(job)
    assert main(["adjust", "--job", str(job), "--progress", "off"]) == 4
    said = capsys.readouterr()
    assert "rows in use" in re.sub(r"\s+", " ", said.out + said.err)
    assert contents(job) == before
    assert main(["check", "--job", str(job), "--quiet"]) in (0, 3)


@pytest.mark.parametrize("name", ["results", "evidence"])
def test_a_folder_that_cannot_be_made_is_a_note(job, capsys, name):
    """A file stands in its place: the system refuses, to the superuser too."""
    (job / name).write_text("in the way\n")
    before = contents(job)
    assert main(["adjust", "--job", str(job), "--progress", "off"]) in (0, 1)
    said = capsys.readouterr()
    assert "note: the" in said.err
    assert "not kept" in said.err
    assert "Traceback" not in said.err
    after = contents(job)
    assert after[name] == b"in the way\n"
    assert {key: after[key] for key in before} == before


@pytest.mark.parametrize(
    ("words", "name"),
    [
        (("report", "--html"), "reports"),
        (("export", "--csv"), "reports"),
        (("export", "--geojson"), "reports"),
    ],
)
def test_what_was_asked_for_and_cannot_be_written_is_exit_7(job, capsys, words, name):
    (job / name).write_text("in the way\n")
    assert main([*words, "--job", str(job), "--progress", "off"]) == 7
    said = capsys.readouterr()
    assert name in said.err
    assert "Traceback" not in said.err
    assert (job / name).read_text() == "in the way\n"


def test_decide_without_write_permission_leaves_the_tables_alone(
    job, capsys, monkeypatch
):
    def refuse(*_: object, **__: object) -> None:
        raise PermissionError(13, "Permission denied")

    before = contents(job)
    monkeypatch.setattr("os.open", refuse)
    line = ["decide", "leave-out", "baseline", "v1", "--reason", "x", "--who", "ab"]
    assert main([*line, "--job", str(job), "--progress", "off"]) == 7
    monkeypatch.undo()
    said = capsys.readouterr()
    assert "permission denied" in said.err
    assert contents(job) == before


def test_a_job_that_is_not_there(tmp_path, capsys):
    assert main(["adjust", "--job", str(tmp_path / "nowhere")]) == 3
    assert "no folder of this name" in capsys.readouterr().err


# Mutations: cells as people break them, bytes as files break.

SOURCES = sorted(
    path
    for name in ("*/job.toml", "*/*.csv")
    for path in JOBS.glob(name)
    if path.parent.name not in ("results", "evidence")
)
CELLS = (
    *("", "0", "-1", "1e400", "-1e-300", "nan", "inf", "1,5", "1.5 m", "1e9"),
    *("A", "B", "T1", "held", "weighted", "none", "90 00 00", "400", "true", '"'),
)
cell = st.tuples(
    st.just("cell"), st.floats(0, 1), st.floats(0, 1), st.sampled_from(CELLS)
)
line = st.tuples(
    st.sampled_from(["row gone", "row twice", "column gone", "cut"]),
    st.floats(0, 1),
    st.floats(0, 1),
    st.just(""),
)


def mutated(text, changes):
    for kind, down, across, piece in changes:
        rows = [row.split(",") for row in text.splitlines()] or [[""]]
        i = min(int(down * len(rows)), len(rows) - 1)
        j = min(int(across * len(rows[i])), len(rows[i]) - 1)
        if kind == "cell":
            rows[i][j] = piece
        elif kind == "row gone":
            del rows[i]
        elif kind == "row twice":
            rows.insert(i, list(rows[i]))
        elif kind == "column gone":
            rows = [row[:j] + row[j + 1 :] for row in rows]
        text = "\n".join(",".join(row) for row in rows) + "\n"
        if kind == "cut":
            text = text[: int(down * len(text))]
    return text


@settings(
    max_examples=60,
    derandomize=True,
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
@given(
    source=st.sampled_from(SOURCES),
    changes=st.lists(st.one_of(cell, cell, line), min_size=1, max_size=4),
)
def test_any_table_ends_in_an_answer(tmp_path, capsys, monkeypatch, source, changes):
    """Adjusted, failing, refused or not solved: never a crash, inputs untouched."""
    monkeypatch.chdir(tmp_path)
    folder = tmp_path / "job"
    shutil.rmtree(folder, ignore_errors=True)
    folder.mkdir()
    for path in source.parent.iterdir():
        if path.suffix in (".csv", ".toml"):
            shutil.copy(path, folder)
    text = source.read_text("utf-8")
    (folder / source.name).write_text(mutated(text, changes), "utf-8")
    before = contents(folder)
    code = main(["adjust", "--job", str(folder), "--progress", "off"])
    said = capsys.readouterr()
    assert code in (0, 1, 3, 4), said.err
    assert "Traceback" not in said.out + said.err
    assert (said.out + said.err).strip()
    after = contents(folder)
    assert {name: after[name] for name in before} == before
    made = {name.split("/")[0] for name in after.keys() - before.keys()}
    assert made <= ({"results", "evidence"} if code in (0, 1) else set())
    assert not list(tmp_path.glob("brasscap-defect-*"))
