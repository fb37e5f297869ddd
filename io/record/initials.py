"""A second reader's initials and ticks, beside a record that they do not change.

They stand in ``records/N-initials``, a file a reading, each with the SHA-256 of the
record's manifest, of the file before it and of itself: one that was changed, taken out
from between or put to another record is found. That the last one was taken away can
be seen only by who knows of it; so can a folder of initials that is gone.
"""

from dataclasses import dataclass
from hashlib import sha256
from pathlib import Path

from ...networks.errors import CommandError
from ..files import make_folder, write_whole
from .manifest import Damage, canonical, file_hash, manifest_hash, read_canonical

ITEMS = {
    "field-notes": "tables read against field notes and logs",
    "control": "known marks read against their source, frame and epoch",
    "set-ups": "heights of antennas, instruments and targets, both readings",
    "decisions": "every decision and its reason",
    "criteria": "criteria, and when they were set",
    "tests": "variance factor and tests; what is over a limit",
    "unchecked": "what nothing checks, and what could hide",
    "coordinates": "coordinates and their limits",
    "report": "the report as a whole",
}
"""What a reader can tick."""

ROLES = ("checker", "approver")
_SCHEMA = "brasscap/record-initials/1"
_KEYS = frozenset(
    [
        "schema",
        "manifest_sha256",
        "who",
        "as",
        "when_utc",
        "ticked",
        "note",
        "previous_sha256",
        "own_sha256",
    ]
)


@dataclass(frozen=True, slots=True)
class Initials:
    """One reading of a record."""

    file: str
    """Beside the record: ``1-initials/01-CD-checker.json``."""
    who: str
    role: str
    when_utc: str
    ticked: tuple[str, ...]
    note: str


def initials_folder(record: Path) -> Path:
    """Return where the initials of a record stand, whether or not there are any."""
    place = record if record.name.strip(".") else record.resolve()
    return place.with_name(f"{place.name}-initials")


def read_initials(record: Path) -> tuple[list[Initials], list[Damage]]:
    """Return the readings of a record, and each file of them that is not sound.

    Parameters
    ----------
    record : Path
        The record's folder, with a manifest.
    """
    folder, found, bad = initials_folder(record), [], []
    before = ""
    for number, path in enumerate(_files(folder), 1):
        name = f"{folder.name}/{path.name}"
        thing = read_canonical(path)
        what = _unsound(thing, record, before, number, path.name)
        before = file_hash(path)[1]
        if what or thing is None:
            bad.append(Damage(name, what))
            continue
        ticked = tuple(str(item) for item in thing["ticked"])
        found.append(
            Initials(
                name,
                str(thing["who"]),
                str(thing["as"]),
                str(thing["when_utc"]),
                ticked,
                str(thing["note"]),
            )
        )
    return found, bad


def _files(folder: Path) -> list[Path]:
    if not folder.is_dir():
        return []
    # What a killed write left is hidden, and is no reading.
    return sorted(path for path in folder.iterdir() if path.name[0] != ".")


def _unsound(
    thing: dict[str, object] | None, record: Path, before: str, number: int, name: str
) -> str:
    """Return in words what is wrong with a file of initials; nothing if it is sound."""
    if thing is None or thing.get("schema") != _SCHEMA or thing.keys() != _KEYS:
        return "not as it was written"
    rest = {key: value for key, value in thing.items() if key != "own_sha256"}
    if thing["own_sha256"] != sha256(canonical(rest)).hexdigest():
        return "changed"
    if thing["manifest_sha256"] != manifest_hash(record):
        return "of another record than the one beside it"
    if thing["previous_sha256"] != before or name != _name(number, thing):
        return "a file of initials before it was changed, put in or taken out"
    return ""


def _name(number: int, thing: dict[str, object]) -> str:
    return f"{number:02d}-{thing['who']}-{thing['as']}.json"


def add_initials(
    record: Path, who: str, role: str, when_utc: str, ticked: list[str], note: str
) -> Path:
    """Write one more reading beside a record; return its file.

    Raises
    ------
    CommandError
        The initials already there are not sound, or these are no initials.
    CannotWrite
    """
    if not who.isalnum() or len(who) > 8:
        raise CommandError(
            f"record initial --who {who!r}: initials are up to eight letters or "
            "digits; nothing was written"
        )
    _, bad = read_initials(record)
    if bad:
        raise CommandError(
            f"{bad[0].file}: {bad[0].what}; nothing was written; put the file back"
        )
    folder = initials_folder(record)
    files = _files(folder)
    thing: dict[str, object] = {
        "schema": _SCHEMA,
        "manifest_sha256": manifest_hash(record),
        "who": who,
        "as": role,
        "when_utc": when_utc,
        "ticked": ticked,
        "note": note,
        "previous_sha256": file_hash(files[-1])[1] if files else "",
    }
    thing["own_sha256"] = sha256(canonical(thing)).hexdigest()
    make_folder(folder)
    path = folder / _name(len(files) + 1, thing)
    write_whole(path, canonical(thing))
    return path
