"""The manifest of a record: every file with its size and SHA-256, written last.

A folder without a manifest is no record. The manifest has one lawful spelling, so a
byte changed in it is found like any other. It proves that nothing was changed by
accident or by hand; whoever makes a manifest anew can make another record, so the
SHA-256 of the manifest is printed at issue, to be kept elsewhere.
"""

import json
import os
from collections.abc import Iterator
from dataclasses import dataclass
from hashlib import sha256
from pathlib import Path
from typing import Any

from ...networks.errors import CommandError

MANIFEST = "manifest.json"
_SCHEMA = "brasscap/record-manifest/1"


@dataclass(frozen=True, slots=True)
class Damage:
    """A file of a record that is not as it was recorded."""

    file: str
    what: str
    """In words: what was recorded, what is there."""


def canonical(thing: dict[str, Any]) -> bytes:
    r"""Return an object as JSON in the one spelling that records use.

    Examples
    --------
    >>> canonical({"b": 1, "a": []})
    b'{\n "a": [],\n "b": 1\n}\n'
    """
    text = json.dumps(
        thing, sort_keys=True, ensure_ascii=False, indent=1, allow_nan=False
    )
    return (text + "\n").encode()


def read_canonical(path: Path) -> dict[str, Any] | None:
    """Return the object of a file; None unless it is spelled as we write it."""
    try:
        raw = path.read_bytes()
        thing = json.loads(raw)
        sound = isinstance(thing, dict) and canonical(thing) == raw
    except (OSError, ValueError, RecursionError):
        return None
    return thing if sound else None


def file_hash(path: Path) -> tuple[int, str]:
    """Return size and SHA-256 of a file, which may be large."""
    digest, size = sha256(), 0
    with path.open("rb") as file:
        while block := file.read(1 << 20):
            digest.update(block)
            size += len(block)
    return size, digest.hexdigest()


def files_below(folder: Path, *, follow: bool = False) -> Iterator[str]:
    """Yield the files in a folder and those below it, parted by ``/``, sorted.

    Parameters
    ----------
    folder : Path
    follow : bool
        Whether to go into folders that are links; else such a link is a file.
    """
    found = []
    for place, folders, names in os.walk(folder, followlinks=follow):
        if not follow:
            names += [name for name in folders if (Path(place) / name).is_symlink()]
        found += [(Path(place) / name).relative_to(folder).as_posix() for name in names]
    yield from sorted(found)


def manifest_of(folder: Path) -> bytes:
    """Return the manifest of all files in a folder, the manifest itself left out."""
    rows = []
    for name in files_below(folder):
        if name != MANIFEST:
            size, digest = file_hash(folder / name)
            rows.append({"file": name, "bytes": size, "sha256": digest})
    return canonical({"schema": _SCHEMA, "files": rows})


def manifest_hash(folder: Path) -> str:
    """Return the SHA-256 of a record's manifest, which stands for the whole record."""
    return file_hash(folder / MANIFEST)[1]


def recorded_files(folder: Path) -> dict[str, str]:
    """Return the files of a record and their SHA-256, as its manifest has them.

    Raises
    ------
    CommandError
        There is no sound manifest.
    """
    rows = _rows(folder)
    if rows is None:
        raise CommandError(
            f"{folder} has no sound {MANIFEST}: it is no record, or a damaged one; "
            f"brasscap record verify {folder}"
        )
    return {name: digest for name, (_, digest) in rows.items()}


def damages(folder: Path) -> list[Damage]:
    """Return every file of a record that is changed, missing or one too many."""
    rows = _rows(folder)
    if rows is None:
        there = (folder / MANIFEST).is_file()
        what = "not as it was written" if there else "missing; no record without it"
        return [Damage(MANIFEST, what)]
    found = []
    present = set(files_below(folder)) - {MANIFEST}
    for name, (size, digest) in rows.items():
        if name not in present:
            found.append(Damage(name, "missing"))
        elif what := _changed(folder / name, size, digest):
            found.append(Damage(name, what))
    extra = sorted(present - rows.keys())
    found += [Damage(name, "not in the manifest: put here later") for name in extra]
    return sorted(found, key=lambda damage: damage.file)


def _rows(folder: Path) -> dict[str, tuple[int, str]] | None:
    manifest = read_canonical(folder / MANIFEST)
    if manifest is None or manifest.get("schema") != _SCHEMA:
        return None
    if manifest.keys() != {"schema", "files"}:
        return None
    rows = {}
    try:
        for row in manifest["files"]:
            if row.keys() != {"file", "bytes", "sha256"}:
                return None
            rows[str(row["file"])] = (int(row["bytes"]), str(row["sha256"]))
    except (TypeError, ValueError, AttributeError):
        return None
    return rows


def _changed(path: Path, size: int, digest: str) -> str:
    """Return in words what differs from the recorded file; nothing if it is equal."""
    if path.is_symlink():
        return "a link in its place: a record holds its files itself"
    try:
        now = file_hash(path)
        if now == (size, digest):
            return ""
        plain = path.read_bytes().replace(b"\r\n", b"\n")
    except OSError as error:
        return f"cannot be read: {(error.strerror or 'no reason given').lower()}"
    if sha256(plain).hexdigest() == digest:
        return "changed: its line ends were made CR LF by a copy that converts text"
    grown = f", {size} bytes recorded, {now[0]} there" if now[0] != size else ""
    return f"changed{grown}"


def plain_object(thing: Any) -> dict[str, Any]:
    """Return an object as JSON reads it back, so that it is spelled the same again."""
    made: dict[str, Any] = json.loads(json.dumps(thing, default=str))
    return made
