"""The issues of a job: which there are, which stands, and one more."""

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from ...networks.errors import CommandError
from ..files import new_folder, write_new
from .manifest import MANIFEST, canonical, manifest_hash, manifest_of, read_canonical

RECORDS = "records"
HEAD = "record.json"
RESULT = "result.json"
REPORT = "report.html"


@dataclass(frozen=True, slots=True)
class Shelf:
    """What the folder ``records`` of a job holds."""

    issues: tuple[int, ...]
    """Numbers of the folders that have a manifest, rising."""
    half_made: tuple[str, ...]
    """Folders without one: left by something that was killed; no issue."""
    next: int
    """The number that no folder has had yet."""


def shelf(job: Path) -> Shelf:
    """Return the issues of a job, and what is half made among them."""
    issues, half, taken = [], [], [0]
    folder = job / RECORDS
    try:
        entries = sorted(folder.iterdir()) if folder.is_dir() else []
    except OSError:
        entries = []
    for path in entries:
        name = path.name
        if not path.is_dir() or name.endswith("-initials"):
            continue
        if name.isascii() and name.isdigit():
            taken.append(int(name))
            if (path / MANIFEST).is_file():
                issues.append(int(name))
            else:
                half.append(name)
        elif name.startswith(".") and name.endswith(".part"):
            half.append(name)
    return Shelf(tuple(sorted(issues)), tuple(half), max(taken) + 1)


def record_folder(job: Path, word: str) -> Path:
    """Return the folder of a record that is named by its number or its path.

    Raises
    ------
    CommandError
        There is none.

    Examples
    --------
    >>> record_folder(Path("nowhere"), "3")
    Traceback (most recent call last):
    ...
    brasscap.networks.errors.CommandError: there is no issue 3 in nowhere/records; \
there are none
    """
    number = word.isascii() and word.isdigit()
    path = job / RECORDS / str(int(word)) if number else Path(word)
    if path.is_dir():
        return path
    if number:
        known = ", ".join(str(n) for n in shelf(job).issues) or "none"
        raise CommandError(
            f"there is no issue {word} in {(job / RECORDS).as_posix()}; "
            f"there are {known}"
        )
    raise CommandError(f"there is no folder {word}; name a record by number or folder")


def job_of(record: Path) -> Path | None:
    """Return the live job beside which a record lies; None if it stands alone."""
    place = record.resolve().parent
    job = place.parent
    return job if place.name == RECORDS and (job / "job.toml").is_file() else None


def head_of(record: Path) -> dict[str, Any]:
    """Return ``record.json``: who issued what, when, instead of which issue.

    Raises
    ------
    CommandError
        The folder holds no sound one.
    """
    head = read_canonical(record / HEAD)
    if head is None or head.get("schema") != "brasscap/record-head/1":
        raise CommandError(
            f"{record} holds no sound {HEAD}: it is no record, or a damaged one; "
            f"brasscap record verify {record}"
        )
    return head


def result_of(record: Path) -> dict[str, Any]:
    """Return ``result.json``: the values and verdicts of a record.

    Raises
    ------
    CommandError
        The folder holds no sound one.
    """
    result = read_canonical(record / RESULT)
    if result is None:
        raise CommandError(
            f"{record} holds no sound {RESULT}; brasscap record verify {record}"
        )
    return result


def replaced(job: Path, number: int) -> dict[str, Any] | None:
    """Return the issue that a new one replaces, with the hash of its manifest."""
    before = [n for n in shelf(job).issues if n < number]
    if not before:
        return None
    digest = manifest_hash(job / RECORDS / str(before[-1]))
    return {"issue": before[-1], "manifest_sha256": digest}


def replaced_by(job: Path, number: int) -> int | None:
    """Return the issue that replaces this one; None if it stands."""
    for later in shelf(job).issues:
        head = read_canonical(job / RECORDS / str(later) / HEAD) or {}
        if (head.get("replaces") or {}).get("issue") == number:
            return later
    return None


@contextmanager
def new_record(job: Path, number: int) -> Iterator[Path]:
    """Give a folder to fill, which becomes issue ``number`` when the block ends.

    The manifest is written last, then the folder takes its name: whatever
    interrupts, the record is there complete or not at all.
    """
    with new_folder(job / RECORDS / str(number)) as part:
        yield part
        write_new(part / MANIFEST, manifest_of(part))


def write_contents(
    part: Path, head: dict[str, Any], result: dict[str, Any], report: str
) -> None:
    """Write head, result and report into a record that is being made."""
    write_new(part / HEAD, canonical(head))
    write_new(part / RESULT, canonical(result))
    write_new(part / REPORT, report.encode())
