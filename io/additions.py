"""Tables that are added to a job beside what it has; nothing is ever replaced."""

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from ..networks import CannotWrite, Finding, InputError
from .files import make_folder, write_whole
from .tables.rows import read_table
from .tables.schema import Schema, schemas
from .tables.schemas.topo import SHOTS
from .tables.sheet import read_sheet

SHOTS_TABLE = "topo/shots"


def importable() -> Mapping[str, Schema]:
    """Return the tables that an import can add to, by the name that is asked for."""
    tables = {name: one for name, one in schemas().items() if name != "decisions"}
    return tables | {SHOTS_TABLE: SHOTS}


def folder_of(table: str) -> str:
    """Return the folder of a job in which imports of a table stand."""
    return "topo" if table == SHOTS_TABLE else table


@dataclass(frozen=True, slots=True)
class Addition:
    """One table of somebody else's, with our headers, that can be added."""

    file: str
    """Where it will stand in the job's folder: ``baselines/day2.csv``."""
    content: bytes
    """As it came, to the byte."""
    rows: int
    columns: tuple[str, ...]
    """Headers as written, unit included."""
    findings: tuple[Finding, ...]
    """Queries and notes."""


def read_addition(path: Path, table: str, name: str) -> Addition:
    """Return a file as it will be added to a table.

    Parameters
    ----------
    path : Path
    table : str
        ``baselines`` …
    name : str
        Of the import; its file is ``TABLE/NAME.csv``.

    Raises
    ------
    InputError
        With every fault of the file.
    """
    try:
        content = path.read_bytes()
    except OSError as error:
        raise InputError([cannot_read(path, error)]) from error
    sheet, findings = read_sheet(path.name, content)
    columns: tuple[str, ...] = ()
    rows = 0
    if sheet is not None:
        read, found = read_table([sheet], importable()[table])
        findings, rows = findings + found, len(read)
        columns = tuple(read.header.values())
    if not rows and not findings:
        findings.append(Finding("no-rows", "fault", f"table {table}", file=path.name))
    if any(f.verdict == "fault" for f in findings):
        raise InputError(findings)
    return Addition(
        f"{folder_of(table)}/{name}.csv", content, rows, columns, tuple(findings)
    )


def cannot_read(path: Path, error: OSError) -> Finding:
    """Return the fault of a file that cannot be read.

    Examples
    --------
    >>> cannot_read(Path("a.snx"), FileNotFoundError(2, "No such file")).against
    'no such file'
    """
    why = (error.strerror or "cannot be read").lower()
    mend = "name a file that exists and may be read"
    return Finding(
        "cannot-read", "fault", f"file {path}", file=path.name, against=why, mend=mend
    )


def add_files(folder: Path, files: Mapping[str, bytes]) -> None:
    """Write new files into a job's folder.

    Covariances go first: positions that came without them would pass as independent,
    while covariances without their positions are a fault that says so.

    Raises
    ------
    CannotWrite
        One of them exists already, or the folder cannot be written.
    """
    for name in files:
        # Covariances alone are what a killed import leaves; they are made anew.
        if (folder / name).exists() and not name.startswith("covariances/"):
            raise CannotWrite(
                f"{folder / name} exists, and an import only adds; nothing was "
                "written; give another name with --name"
            )
    for name in sorted(files, key=lambda name: (not name.startswith("cov"), name)):
        make_folder((folder / name).parent)
        write_whole(folder / name, files[name])
