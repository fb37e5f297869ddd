"""A record whose manifest was made anew: the result made again, and its SHA-256."""

import contextlib
import io
import json
import shutil
from pathlib import Path

import pytest

from brasscap.__main__ import main
from brasscap.io.record.manifest import MANIFEST, file_hash, manifest_of


def say(*words: str):
    out = io.StringIO()
    with contextlib.redirect_stdout(out):
        code = main([*words, "--json", "--quiet"])
    return code, json.loads(out.getvalue())


@pytest.fixture
def record(topo_job, tmp_path) -> Path:
    """A record far from its job."""
    folder = topo_job({})
    assert say("record", "issue", "--with-open", "--job", str(folder))[0] == 0
    return shutil.copytree(folder / "records" / "1", tmp_path / "posted" / "record")


def forge(record: Path, name: str, old: str, new: str) -> None:
    """Change a file of a record, and its manifest so that it fits."""
    path = record / name
    path.chmod(0o644)
    text = path.read_text("utf-8")
    assert old in text
    path.write_text(text.replace(old, new, 1), "utf-8")
    (record / MANIFEST).chmod(0o644)
    (record / MANIFEST).write_bytes(manifest_of(record))


def test_a_result_that_is_not_that_of_its_tables_is_told(record):
    """B stands 100 m east of A at 1000 m (the tables)."""
    forge(record, "result.json", '"east_m": 1100.0', '"east_m": 1100.001')
    code, found = say("record", "verify", str(record))
    assert code == 5
    assert found["damages"] == []
    assert {one["found"] for one in found["differences"]} == {1100.0}
    assert "no version differs" in found["next"]


def test_only_the_written_sha256_tells_another_record(record):
    """Tables changed, and the result with them, is a sound record: of another job."""
    written = file_hash(record / MANIFEST)[1]
    words = ("record", "verify", str(record), "--sha256")
    code, found = say(*words, written.upper())
    assert (code, found["written_down_sha256"]) == (0, written)
    forge(record, "record.json", '"issued_by": "AB"', '"issued_by": "XY"')
    assert say("record", "verify", str(record))[0] == 0
    code, found = say(*words, written)
    assert code == 5
    assert [one["file"] for one in found["damages"]] == [MANIFEST]
    assert "written down" in found["damages"][0]["what"]


@pytest.mark.parametrize("given", ["", "12ab", "x" * 64])
def test_what_is_no_sha256_is_refused(record, given):
    assert say("record", "verify", str(record), "--sha256", given)[0] == 2


def test_only_verify_takes_it(record):
    words = ("record", "compare", str(record), str(record), "--sha256", "0" * 64)
    assert say(*words)[0] == 2


def test_a_sentence_worded_otherwise_is_a_note_and_no_failure(record):
    """Another version of the program may word what it says of a verdict otherwise;
    the verdict and every figure still count."""
    forge(
        record, "result.json", "every shot hangs on marks", "each shot hangs on marks"
    )
    code, found = say("record", "verify", str(record))
    assert (code, found["verdict"], found["differences"]) == (0, "meets", [])
    assert any("worded otherwise now" in note for note in found["notes"])
    forge(record, "result.json", '"verdict": "unchecked"', '"verdict": "meets"')
    assert say("record", "verify", str(record))[0] == 5
