"""``record verify``: the record's bytes, its result made again, what moved on since."""

from pathlib import Path
from typing import TYPE_CHECKING, Any

from brasscap.arguments import Request, wrong

if TYPE_CHECKING:
    from brasscap.answer import Answer
    from brasscap.progress import Progress

MISMATCH = 5
"""Exit code: a record does not match."""


def verify(request: Request, progress: "Progress") -> "Answer":
    """Check every byte, rebuild the result from the record alone, look at the job."""
    from brasscap.answer import Answer
    from brasscap.io.record.issues import record_folder
    from brasscap.reports.content_record import verify_document

    record = record_folder(request.folder, request.words[1])
    written = _written_down(request)
    found = verified(record, request.words[1], progress, written)
    verdict = found["verdict"]
    code = (
        MISMATCH if verdict == "fails" else int(request.strict and verdict == "query")
    )
    return Answer(verify_document(found), found, code)


def _written_down(request: Request) -> str:
    """Return the SHA-256 that was kept in another place; empty for none."""
    given = request.values.get("sha256")
    if given is None:
        return ""
    plain = "".join(given.lower().split())
    if len(plain) != 64 or set(plain) - set("0123456789abcdef"):
        raise wrong(
            f"record verify --sha256 {given!r}: write the 64 digits 0–9 a–f that "
            "record issue printed"
        )
    return plain


def verified(
    record: Path, word: str, progress: "Progress", written: str = ""
) -> dict[str, Any]:
    """Return everything that is to be said about a record."""
    from brasscap.io.record.initials import read_initials
    from brasscap.io.record.issues import HEAD
    from brasscap.io.record.manifest import MANIFEST, damages, file_hash, read_canonical

    progress("checking every byte")
    bad = damages(record)
    head = read_canonical(record / HEAD) or {}
    bad += _of_another_number(word, head)
    there = (record / MANIFEST).is_file()
    read, unsound = read_initials(record) if there else ([], [])
    bad += unsound + _not_as_written(record, written if there else "")
    found: dict[str, Any] = {
        "schema": "brasscap/record-verify/1",
        "record": record.as_posix(),
        "issue": head.get("issue"),
        "issued_utc": head.get("issued_utc", ""),
        "manifest_sha256": file_hash(record / MANIFEST)[1] if there else "",
        "written_down_sha256": written,
        "files_count": _count(record),
        "damages": [{"file": one.file, "what": one.what} for one in bad],
        "initials": [
            {
                "file": one.file,
                "who": one.who,
                "as": one.role,
                "when_utc": one.when_utc,
                "ticked": list(one.ticked),
                "note": one.note,
            }
            for one in read
        ],
        "notes": [],
        "rebuilt": "not tried",
        "values_count": 0,
        "differences": [],
        "live": None,
    }
    if not bad:
        found |= _made_again(record, progress)
        found["notes"] = [*found["notes"], *_notes(record, head)]
        found["live"] = _live(record)
    found["verdict"] = _verdict(found)
    found["next"] = _next(found)
    return found


def _of_another_number(word: str, head: dict[str, Any]) -> list[Any]:
    """Return a damage where a folder was given the number of another issue."""
    from brasscap.io.record.issues import HEAD
    from brasscap.io.record.manifest import Damage

    if not word.isdigit() or head.get("issue") in (None, int(word)):
        return []
    return [Damage(HEAD, f"this is issue {head['issue']}, under another number")]


def _not_as_written(record: Path, written: str) -> list[Any]:
    """Return a damage where the manifest is sound, but not the one that was issued."""
    from brasscap.io.record.manifest import MANIFEST, Damage, file_hash

    if not written or file_hash(record / MANIFEST)[1] == written:
        return []
    words = "its SHA-256 is not the one written down: another record, or one made anew"
    return [Damage(MANIFEST, words)]


def _count(record: Path) -> int:
    from brasscap.io.record.manifest import files_below

    return sum(1 for _ in files_below(record))


def _made_again(record: Path, progress: "Progress") -> dict[str, Any]:
    """Return how the result of the record's own tables compares with the recorded."""
    from shutil import copytree
    from tempfile import TemporaryDirectory

    from brasscap.io.record.copies import INPUT
    from brasscap.io.record.issues import result_of
    from brasscap.io.record.values import differences, figures, rewordings
    from brasscap.networks import InputError, NoSolution
    from brasscap.rebuilding import rebuilt

    recorded = result_of(record)
    with TemporaryDirectory() as scratch:
        # A folder of its own: nothing around the record can lend it anything.
        copy = copytree(record / INPUT, Path(scratch) / INPUT)
        try:
            again = rebuilt(Path(copy), progress).result
        except (InputError, NoSolution) as error:
            return {"rebuilt": str(error)}
    rows = [
        {"where": one.where, "recorded": one.recorded, "found": one.found}
        for one in differences(recorded, again)
    ]
    return {
        "rebuilt": "done",
        "values_count": figures(recorded),
        "differences": rows,
        "notes": [
            f"worded otherwise now, {one.where}: recorded “{one.recorded}”, here "
            f"“{one.found}”"
            for one in rewordings(recorded, again)
        ],
    }


def _notes(record: Path, head: dict[str, Any]) -> list[str]:
    from brasscap import __version__
    from brasscap.io.record.issues import job_of, replaced_by
    from brasscap.io.record.manifest import manifest_hash
    from brasscap.io.record.versions import versions
    from brasscap.io.tables.job import Job

    now, then = versions(__version__, Job(), record), head["versions"]
    notes = [
        f"made with {name} {then[name]}; verified with {now[name]}"
        for name in sorted(now.keys() - {"grids"})
        if then.get(name) != now[name]
    ]
    job, before = job_of(record), head["replaces"]
    if job is None:
        return notes
    by = replaced_by(job, head["issue"])
    if by:
        notes.append(f"replaced by issue {by}")
    older = record.resolve().parent / str(before["issue"]) if before else None
    if older and older.is_dir() and before:
        same = (older / "manifest.json").is_file()
        if not same or manifest_hash(older) != before["manifest_sha256"]:
            notes.append(
                f"issue {before['issue']} beside it is not the one that this replaces: "
                f"brasscap record verify {before['issue']}"
            )
    return notes


def _live(record: Path) -> list[dict[str, str]] | None:
    from brasscap.io.record.copies import moved_on
    from brasscap.io.record.issues import job_of
    from brasscap.io.tables.reading import read_folder

    job = job_of(record)
    if job is None:
        return None
    read = read_folder(job).job
    moved = moved_on(record, job, read.frame.geoid if read else "")
    return [{"file": one.file, "how": one.how} for one in moved]


def _verdict(found: dict[str, Any]) -> str:
    if found["damages"] or found["rebuilt"] != "done" or found["differences"]:
        return "fails"
    return "query" if found["live"] else "meets"


def _next(found: dict[str, Any]) -> str:
    if found["damages"]:
        return "take a copy of the record from another place, and verify that"
    if found["verdict"] == "fails":
        if any(note.startswith("made with") for note in found["notes"]):
            return "compare the versions above: another library, or another program"
        return (
            "the recorded result is not that of the recorded tables, and no version "
            "differs: ask who issued it for the SHA-256 that was printed then, and "
            "verify with --sha256"
        )
    if found["live"]:
        return "brasscap check, then issue again if the job has changed"
    return "keep the SHA-256 of the manifest in another place"
