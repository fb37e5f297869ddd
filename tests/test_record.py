"""A record: frozen whole, every byte checked, its result made again from itself."""

import json
import shutil
from pathlib import Path

import pytest
from jsonschema import Draft202012Validator

from brasscap.__main__ import main
from brasscap.io.record.manifest import canonical, files_below
from brasscap.json_schemas import schema_of

AT = ("--dated", "2026-05-04T14:30:00Z", "--quiet")


@pytest.fixture(scope="module")
def issued(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a job with one issue; tests take copies of it."""
    folder = tmp_path_factory.mktemp("made") / "job"
    assert main(["new", str(folder), "--example", "tramway", "--quiet"]) == 0
    words = ["record", "issue", "--who", "AB", "--with-open", *AT]
    assert main([*words, "--job", str(folder)]) == 0
    return folder


@pytest.fixture
def job(issued: Path, tmp_path: Path) -> Path:
    return Path(shutil.copytree(issued, tmp_path / "job"))


@pytest.fixture
def ask(capsys):
    def asked(job: Path, *words: str):
        capsys.readouterr()
        code = main([*words, "--job", str(job), "--json", *AT])
        found = json.loads(capsys.readouterr().out)
        Draft202012Validator(schema_of(found["schema"].split("/")[1])).validate(found)
        return code, found

    return asked


def test_an_issue_holds_what_it_was_made_from(job):
    record = job / "records" / "1"
    for table in job.glob("*.csv"):
        assert (record / "input" / table.name).read_bytes() == table.read_bytes()
    kept = (record / "input" / "evidence" / "criteria.json").read_bytes()
    assert kept == (job / "evidence" / "criteria.json").read_bytes()
    head = json.loads((record / "record.json").read_text())
    assert head["issued_by"] == "AB"
    assert head["replaces"] is None
    assert {"brasscap", "python", "numpy", "scipy", "proj"} <= head["versions"].keys()
    assert len(head["versions"]["proj_database"]) == 64
    report = (record / "report.html").read_text()
    assert "Issue 1" in report
    assert "neither a seal nor a signature" in report


def test_the_same_input_at_the_same_time_gives_the_same_bytes(job, tmp_path):
    shutil.copytree(job, tmp_path / "other")
    shutil.rmtree(tmp_path / "other" / "records")
    other = str(tmp_path / "other")
    main(["record", "issue", "--who", "AB", "--with-open", *AT, "--job", other])
    for name in files_below(job / "records"):
        made = tmp_path / "other" / "records" / name
        assert made.read_bytes() == (job / "records" / name).read_bytes(), name


def test_it_verifies_here_and_alone_elsewhere(ask, job, tmp_path):
    code, found = ask(job, "record", "verify", "1")
    assert (code, found["verdict"]) == (0, "meets")
    assert found["values_count"] > 100
    assert found["live"] == []
    alone = shutil.copytree(job / "records" / "1", tmp_path / "elsewhere" / "copy")
    code, found = ask(tmp_path, "record", "verify", str(alone))
    assert (code, found["verdict"], found["live"]) == (0, "meets", None)


def changed_bytes(record: Path) -> list[Path]:
    return [record / name for name in files_below(record)]


def test_any_changed_byte_is_found_and_its_file_named(ask, job):
    """Every file, its first, middle and last byte; the manifest included."""
    record = job / "records" / "1"
    for path in changed_bytes(record):
        raw = path.read_bytes()
        for at in (0, len(raw) // 2, len(raw) - 1):
            path.write_bytes(raw[:at] + bytes([raw[at] ^ 1]) + raw[at + 1 :])
            code, found = ask(job, "record", "verify", "1")
            assert code == 5, (path, at)
            named = {one["file"] for one in found["damages"]}
            assert path.relative_to(record).as_posix() in named, (path, at)
        path.write_bytes(raw)
    assert ask(job, "record", "verify", "1")[0] == 0


def test_bytes_all_over_the_manifest_count(job):
    from brasscap.io.record.manifest import damages

    record = job / "records" / "1"
    path = record / "manifest.json"
    raw = path.read_bytes()
    for at in range(0, len(raw), 3):
        path.write_bytes(raw[:at] + bytes([raw[at] ^ 1]) + raw[at + 1 :])
        assert damages(record), at


def test_a_missing_and_an_extra_file_are_found(ask, job):
    record = job / "records" / "1"
    (record / "input" / "levels.csv").unlink()
    (record / "notes.txt").write_text("mine\n")
    code, found = ask(job, "record", "verify", "1")
    assert code == 5
    assert [one["file"] for one in found["damages"]] == [
        "input/levels.csv",
        "notes.txt",
    ]
    assert found["rebuilt"] == "not tried"


def test_a_changed_record_beside_its_job_is_not_said_to_stand_alone(job, capsys):
    """Regression: live tables that nothing was compared with were not there."""
    (job / "records" / "1" / "input" / "levels.csv").unlink()
    assert main(["record", "verify", "1", "--job", str(job)]) == 5
    said = " ".join(capsys.readouterr().out.split())
    assert "stands alone" not in said
    assert "live tables are compared with nothing that was changed" in said


def test_a_link_is_no_file_of_a_record(ask, job):
    record = job / "records" / "1"
    (record / "input" / "levels.csv").unlink()
    (record / "input" / "levels.csv").symlink_to(job / "levels.csv")
    (record / "more").symlink_to(job / "evidence")
    code, found = ask(job, "record", "verify", "1")
    assert code == 5
    assert [one["file"] for one in found["damages"]] == ["input/levels.csv", "more"]


def test_evidence_is_copied_whole(ask, job):
    deep = job / "evidence" / "photos" / "day 1"
    deep.mkdir(parents=True)
    (deep / "staff.jpg").write_bytes(bytes(range(256)))
    code, _ = ask(job, "record", "issue", "--who", "AB", "--with-open")
    assert code == 0
    copy = job / "records" / "2" / "input" / "evidence" / "photos" / "day 1"
    assert (copy / "staff.jpg").read_bytes() == bytes(range(256))
    assert ask(job, "record", "verify", "2")[0] == 0


def test_another_version_is_said_and_is_no_failure(ask, job, monkeypatch):
    import brasscap

    monkeypatch.setattr(brasscap, "__version__", "9.9.9")
    code, found = ask(job, "record", "verify", "1")
    assert code == 0
    assert [note for note in found["notes"] if "9.9.9" in note]


def test_a_record_that_cannot_be_rebuilt_is_said(ask, job):
    """Bytes and manifest fit, but the tables no longer make a network."""
    from brasscap.io.record.manifest import manifest_of

    record = job / "records" / "1"
    (record / "input" / "levels.csv").write_text("section\nL1\n")
    (record / "manifest.json").write_bytes(manifest_of(record))
    code, found = ask(job, "record", "verify", "1")
    assert code == 5
    assert found["damages"] == []
    assert "levels.csv" in found["rebuilt"]


def test_a_manifest_made_anew_does_not_hide_a_changed_result(ask, job):
    """The hashes fit, but the tables do not come to that height."""
    from brasscap.io.record.manifest import manifest_of

    record = job / "records" / "1"
    result = json.loads((record / "result.json").read_text())
    mark = result["solutions"][-1]["marks"][3]
    mark["height_m"] = round(mark["height_m"] + 2e-6, 6)
    (record / "result.json").write_bytes(canonical(result))
    (record / "manifest.json").write_bytes(manifest_of(record))
    code, found = ask(job, "record", "verify", "1")
    assert code == 5
    assert found["damages"] == []
    assert [d["where"].endswith("height_m") for d in found["differences"]] == [True]


def test_line_ends_of_another_platform_are_a_query(ask, job):
    path = job / "levels.csv"
    path.write_bytes(path.read_bytes().replace(b"\n", b"\r\n"))
    code, found = ask(job, "record", "verify", "1")
    assert (code, found["verdict"]) == (0, "query")
    assert found["live"] == [{"file": "levels.csv", "how": "line ends only"}]
    assert ask(job, "record", "verify", "1", "--strict")[0] == 1


def test_tables_that_moved_on_are_a_query(ask, job):
    with (job / "levels.csv").open("a") as file:
        file.write("# seen\n")
    (job / "names.csv").write_text("name_used,station,reason,who,when_utc\n")
    code, found = ask(job, "record", "verify", "1")
    assert code == 0
    assert {(one["file"], one["how"]) for one in found["live"]} == {
        ("levels.csv", "changed"),
        ("names.csv", "new"),
    }


def test_line_ends_of_the_record_itself_are_a_change(ask, job):
    path = job / "records" / "1" / "input" / "levels.csv"
    path.write_bytes(path.read_bytes().replace(b"\n", b"\r\n"))
    code, found = ask(job, "record", "verify", "1")
    assert code == 5
    assert "line ends" in found["damages"][0]["what"]


def test_a_second_issue_says_which_it_replaces(ask, job):
    words = ("record", "issue", "--who", "AB", "--with-open", "--note", "final")
    code, found = ask(job, *words)
    assert code == 0
    assert found["issue"] == 2
    assert found["replaces"]["issue"] == 1
    _, first = ask(job, "record", "verify", "1")
    assert found["replaces"]["manifest_sha256"] == first["manifest_sha256"]
    assert "replaced by issue 2" in first["notes"]


def test_a_half_made_folder_is_no_issue(ask, job, capsys):
    half = job / "records" / "2"
    shutil.copytree(job / "records" / "1", half)
    (half / "manifest.json").unlink()
    code, found = ask(job, "record", "verify", "2")
    assert code == 5
    assert found["damages"][0]["file"] == "manifest.json"
    code, found = ask(job, "record", "issue", "--who", "AB", "--with-open")
    assert (code, found["issue"], found["replaces"]["issue"]) == (0, 3, 1)
    main(["record", "issue", "--who", "AB", "--with-open", "--job", str(job)])
    assert "records/2 is half made" in capsys.readouterr().err


def test_open_points_are_refused_and_nothing_is_written(ask, tmp_path):
    job = tmp_path / "job"
    main(["new", str(job), "--example", "harbour", "--quiet"])
    code, found = ask(job, "record", "issue", "--who", "AB")
    assert (code, found["issue"]) == (1, None)
    assert {"query", "fails"} == {one["verdict"] for one in found["open"]}
    assert not (job / "records").exists()
    code, found = ask(job, "record", "issue", "--who", "AB", "--with-open")
    assert (code, found["issue"]) == (0, 1)
    report = (job / "records" / "1" / "report.html").read_text()
    head = report.partition("Verdict</h2>")[0]
    assert all(one["query"] in head for one in found["open"])


def test_faults_are_refused(ask, job):
    with (job / "levels.csv").open("a") as file:
        file.write("L99,NOWHERE\n")
    code, found = ask(job, "record", "issue", "--who", "AB", "--with-open")
    assert code == 3
    assert found["findings"]


def test_initials_are_needed(ask, job):
    toml = (job / "job.toml").read_text().splitlines(keepends=True)
    (job / "job.toml").write_text("".join(t for t in toml if not t.startswith("who")))
    code, found = ask(job, "record", "issue", "--with-open")
    assert code == 2
    assert "--who" in found["error"]


def test_no_permission_is_said(ask, job, monkeypatch):
    def refuse(*_: object, **__: object) -> None:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(Path, "mkdir", refuse)
    code, found = ask(job, "record", "issue", "--who", "AB", "--with-open")
    monkeypatch.undo()
    assert code == 7
    assert "permission denied" in found["error"]
    assert [path.name for path in (job / "records").iterdir()] == ["1"]


@pytest.mark.parametrize("word", ["7", "nowhere"])
def test_a_record_that_is_not_there(ask, job, word):
    code, found = ask(job, "record", "verify", word)
    assert code == 2
    assert "there is no" in found["error"]


def second_issue(job: Path) -> None:
    """Issue again, with one rise booked otherwise and one criterion changed."""
    path = job / "levels.csv"
    rows = path.read_text().splitlines(keepends=True)
    at = next(i for i, row in enumerate(rows) if not row.startswith("#")) + 1
    cells = rows[at].split(",")
    column = rows[at - 1].split(",").index("rise_m")
    cells[column] = f"{float(cells[column]) + 0.02:.5f}"
    rows[at] = ",".join(cells)
    # Another order of rows is no change.
    path.write_text("".join([*rows[:-2], rows[-1], rows[-2]]))
    toml = (job / "job.toml").read_text()
    assert "outlier_alpha" in toml
    (job / "job.toml").write_text(
        "".join(
            "outlier_alpha = 0.01\n" if line.startswith("outlier_alpha") else line
            for line in toml.splitlines(keepends=True)
        )
    )
    words = ["record", "issue", "--who", "AB", "--with-open", *AT]
    assert main([*words, "--job", str(job)]) == 0


def test_compare_says_what_changed(ask, job):
    second_issue(job)
    code, found = ask(job, "record", "compare", "1", "2")
    assert code == 0
    changes = {(c["table"], c["what"], c["column"]) for c in found["inputs"]}
    assert ("levels", "changed", "rise_m") in changes
    assert len([c for c in found["inputs"] if c["table"] == "levels"]) == 1
    (changed,) = (c for c in found["inputs"] if c["table"] == "levels")
    gap = float(changed["after"]) - float(changed["before"])
    assert gap == pytest.approx(0.02, abs=1e-6)
    assert [c["criterion"] for c in found["criteria"]] == ["tests outlier_alpha"]
    assert found["decisions"] == []
    assert any(row["over"] for row in found["coordinates"])
    assert any(one["about"] == "solution" or one["after"] for one in found["verdicts"])


def test_compare_names_decisions_with_their_reasons(ask, job):
    words = ["decide", "check-only", "known mark height", "DEPOT SILL", "--who", "AB"]
    assert main([*words, "--reason", "it sank", *AT, "--job", str(job)]) == 0
    words = ["record", "issue", "--who", "AB", "--with-open", *AT]
    assert main([*words, "--job", str(job)]) == 0
    _, found = ask(job, "record", "compare", "1", "2")
    (decision,) = found["decisions"]
    assert decision["what"] == "added"
    assert "it sank" in decision["after"]
    assert found["inputs"] == []


def test_a_record_compared_with_itself_is_the_same(ask, job):
    code, found = ask(job, "record", "compare", "1", "1")
    assert code == 0
    for key in ("inputs", "decisions", "criteria", "coordinates", "verdicts"):
        assert found[key] == []


def test_a_damaged_record_is_not_compared(ask, job):
    second_issue(job)
    path = job / "records" / "2" / "result.json"
    path.write_bytes(path.read_bytes().replace(b"meets", b"fails", 1))
    code, found = ask(job, "record", "compare", "1", "2")
    assert code == 5
    assert "result.json" in found["error"]


INITIAL = ("record", "initial", "1", "--as", "checker")


def test_a_second_reader_leaves_the_record_as_it_is(ask, job):
    before = {name: (job / "records/1" / name).read_bytes() for name in files(job)}
    code, found = ask(job, *INITIAL, "--who", "CD", "--ticked", "tests,control")
    assert code == 0
    assert found["ticked"] == ["control", "tests"]
    assert "report" in found["not_ticked"]
    assert ask(job, *INITIAL, "--who", "EF", "--ticked", "all")[0] == 0
    assert before == {n: (job / "records/1" / n).read_bytes() for n in files(job)}
    code, found = ask(job, "record", "verify", "1")
    assert code == 0
    assert [one["who"] for one in found["initials"]] == ["CD", "EF"]


def files(job: Path) -> list[str]:
    return list(files_below(job / "records" / "1"))


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--who", "ab", "--ticked", "all"), "AB issued it"),
        (("--ticked", "all"), "who read it"),
        (("--who", "CD"), "what was read"),
        (("--who", "CD", "--ticked", "contrl"), "did you mean control"),
        (("--who", "C/D", "--ticked", "all"), "letters or digits"),
    ],
)
def test_initials_that_are_refused(ask, job, words, said):
    code, found = ask(job, *INITIAL, *words)
    assert code == 2
    assert said in found["error"]
    assert not (job / "records" / "1-initials").exists()


def test_changed_initials_are_found(ask, job):
    for who in ("CD", "EF", "GH"):
        ask(job, *INITIAL, "--who", who, "--ticked", "control")
    folder = job / "records" / "1-initials"
    path = folder / "02-EF-checker.json"
    raw = path.read_bytes()
    for at in range(len(raw)):
        path.write_bytes(raw[:at] + bytes([raw[at] ^ 1]) + raw[at + 1 :])
        from brasscap.io.record.initials import read_initials

        bad = {one.file for one in read_initials(job / "records" / "1")[1]}
        assert "1-initials/02-EF-checker.json" in bad, at
    path.unlink()
    code, found = ask(job, "record", "verify", "1")
    assert code == 5
    assert found["damages"][0]["file"] == "1-initials/03-GH-checker.json"


def test_a_damaged_record_is_not_initialled(ask, job):
    (job / "records" / "1" / "input" / "levels.csv").write_text("x\n")
    code, found = ask(job, *INITIAL, "--who", "CD", "--ticked", "all")
    assert code == 5
    assert "levels.csv" in found["error"]


def test_where_the_job_stands_names_its_issues(ask, job):
    _, found = ask(job)
    assert found["issues"][0]["words"].startswith("issue 1 stands; the input is as")
    second_issue(job)
    with (job / "levels.csv").open("a") as file:
        file.write("# seen\n")
    _, found = ask(job)
    assert [one["words"] for one in found["issues"]] == [
        "issue 1 was replaced by issue 2",
        "issue 2 stands; the input has moved on since: levels.csv",
    ]


def test_what_is_judged_otherwise_is_said_in_words():
    """Vial and word before, vial and word after; what was not there has no vial."""
    from brasscap.reports.content_compare import _verdicts

    change = {"about": "mark A", "before": "", "after": "fails"}
    (table,) = _verdicts([change, change | {"before": "meets"}])
    new, old = (row.cells for row in table.rows)
    assert new[:3] == ("mark A", "", "not there")
    assert (old[1].verdict, old[2], old[3].verdict, old[4]) == (
        "meets",
        "meets",
        "fails",
        "fails",
    )
