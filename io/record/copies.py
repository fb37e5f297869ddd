"""Which files of a job a record takes a copy of, and whether they have moved on."""

from dataclasses import dataclass
from hashlib import sha256
from pathlib import Path
from shutil import copyfile

from ...networks.errors import InputError
from ...networks.findings import Finding
from ..files import cannot_write, flush_file, make_folder
from .manifest import file_hash, files_below, recorded_files

INPUT = "input"
"""Folder of a record: a job folder like any other."""

_APART = frozenset(("records", "results", "reports", "later"))
"""Folders that are no input: what programs make, and what is not in force yet."""
_WHOLE = frozenset(("evidence", "topo"))
_TEXT = frozenset((".csv", ".toml", ".json", ".txt"))


def job_files(folder: Path, geoid: str = "") -> list[str]:
    """Return the files of a job that belong to its record, parted by ``/``.

    job.toml and mapping.toml, the tables and their imports, topo and evidence whole,
    and the geoid grid; what programs make (results, reports, records) and what is not
    in force yet (later) stay behind.

    Parameters
    ----------
    folder : Path
        The job's folder.
    geoid : str, optional
        The geoid file that job.toml names.
    """
    found = []
    for path in sorted(folder.iterdir()):
        if path.name[0] in ".~" or path.name in _APART:
            continue
        if path.is_dir():
            below = [f"{path.name}/{name}" for name in files_below(path, follow=True)]
            found += [name for name in below if _belongs(name)]
        elif path.suffix.lower() == ".csv" or path.name in ("job.toml", "mapping.toml"):
            found.append(path.name)
    if geoid and geoid not in ("none", "table") and geoid not in found:
        found.append(Path(geoid).as_posix())
    return sorted(found)


def _belongs(name: str) -> bool:
    first, *_, last = name.split("/")
    if first in _WHOLE:
        return not last.endswith(".part")
    return name.count("/") == 1 and last.endswith(".csv") and last[0] not in ".~"


def copy_job(folder: Path, into: Path, geoid: str = "") -> None:
    """Copy the files of a job into a record that is being made.

    Raises
    ------
    InputError
        A file cannot be read, or the geoid grid lies outside the job's folder.
    CannotWrite
    """
    for name in job_files(folder, geoid):
        source, target = folder / name, into / name
        inside = source.resolve().is_relative_to(folder.resolve())
        if name == Path(geoid).as_posix() and not inside:
            raise InputError([_outside(name)])
        try:
            with source.open("rb"):
                pass
        except OSError as error:
            raise InputError([_unreadable(name, error)]) from error
        make_folder(target.parent)
        try:
            copyfile(source, target)
            flush_file(target)
        except OSError as error:
            raise cannot_write(target, error) from error


def _outside(name: str) -> Finding:
    return Finding(
        "cannot-read",
        "fault",
        f"geoid grid {name}",
        file="job.toml",
        booked=f"geoid = {name!r}",
        against="a file in the job's folder: a record holds all that it was made from",
        mend="copy the grid into the folder, and name it by its name alone",
    )


def _unreadable(name: str, error: OSError) -> Finding:
    return Finding(
        "cannot-read",
        "fault",
        f"file {name}",
        file=name,
        against=(error.strerror or "cannot be read").lower(),
        mend="mind its permissions; a record holds all evidence",
    )


@dataclass(frozen=True, slots=True)
class Moved:
    """A file of the live job that is no longer as it was recorded."""

    file: str
    how: str
    """``changed``, ``line ends only``, ``new`` or ``gone``."""


def moved_on(record: Path, job: Path, geoid: str = "") -> list[Moved]:
    """Return which files of the live job differ from those of a record.

    Two hashes each: of the bytes, and of the text freed of line ends, so that a
    folder brought over from another platform is told from one that was edited.

    Parameters
    ----------
    record : Path
        The record's folder.
    job : Path
        The live job's folder.
    geoid : str, optional
        The geoid file that the live job.toml names.
    """
    start = f"{INPUT}/"
    then = {
        name.removeprefix(start): digest
        for name, digest in recorded_files(record).items()
        if name.startswith(start)
    }
    now = [name for name in job_files(job, geoid) if (job / name).is_file()]
    moved = [Moved(name, "new") for name in now if name not in then]
    moved += [Moved(name, "gone") for name in then if name not in now]
    for name in now:
        if name in then and (
            how := _how(record / INPUT / name, job / name, then[name])
        ):
            moved.append(Moved(name, how))
    return sorted(moved, key=lambda one: one.file)


def _how(recorded: Path, live: Path, digest: str) -> str:
    """Return how a live file differs from the recorded one; nothing if it does not."""
    try:
        if file_hash(live)[1] == digest:
            return ""
        text = live.suffix.lower() in _TEXT
        same = text and plain_hash(recorded.read_bytes()) == plain_hash(
            live.read_bytes()
        )
    except OSError:
        same = False
    return "line ends only" if same else "changed"


def plain_hash(raw: bytes) -> str:
    r"""Return the SHA-256 of a text freed of its line ends.

    Examples
    --------
    >>> plain_hash(b"a\r\nb\n") == plain_hash(b"a\nb")
    True
    """
    lines = raw.replace(b"\r\n", b"\n").replace(b"\r", b"\n").rstrip(b"\n")
    return sha256(lines).hexdigest()
