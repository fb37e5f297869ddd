"""A job folder as it stands: job.toml, typed tables, and every fault in them.

Whether the tables fit each other, and what decisions change, is not known here.
"""

import re
from dataclasses import dataclass
from hashlib import sha256
from pathlib import Path

from ...networks.errors import InputError
from ...networks.findings import Finding
from .job import Job
from .job_file import read_job
from .matrix import Matrix, is_matrix, read_matrix
from .rows import read_table
from .schema import Schema, schemas
from .sheet import Sheet, read_sheet
from .spelling import nearest
from .table import Table

MOST_FINDINGS = 50
"""Of one file that are told; the rest is counted."""

# Folders of a job that hold no tables in force; later/ has what comes into force when
# somebody copies it over.
_OTHER_FOLDERS = frozenset(
    ("topo", "evidence", "records", "results", "reports", "later")
)


@dataclass(frozen=True)
class Reading:
    """What a job folder holds, each table by itself."""

    folder: Path
    job: Job | None
    """None where job.toml has a fault."""
    tables: dict[str, Table]
    """The tables that exist, also those with faults in them."""
    findings: list[Finding]
    """Faults first within each file; at most 50 a file."""
    input_hash: str
    """SHA-256 over the names and bytes of job.toml, all tables and the geoid file."""
    matrices: tuple[Matrix, ...] = ()
    """Covariances given in matrix form, ``covariances/NAME.csv``."""
    field_hash: str = ""
    """The same without decisions.csv."""


def read_folder(folder: Path) -> Reading:
    """Return job, tables and findings of a job folder; nothing is raised for faults.

    Parameters
    ----------
    folder : Path

    Returns
    -------
    Reading

    Raises
    ------
    InputError
        The folder does not exist or cannot be listed.

    Examples
    --------
    >>> read_folder(Path("nowhere"))
    Traceback (most recent call last):
    ...
    brasscap.networks.errors.InputError: nowhere: no-such-folder
    """
    files, findings = _list_tables(folder)
    contents: dict[str, bytes] = {}
    for name in ["job.toml", *(name for names in files.values() for name in names)]:
        _read_bytes(folder, name, contents, findings)
    job, found = read_job(contents.get("job.toml"), folder)
    findings += found
    findings = _without_pairs(findings, job)
    tables: dict[str, Table] = {}
    matrices: list[Matrix] = []
    for table_name, names in files.items():
        held = {name: contents[name] for name in names if name in contents}
        schema = schemas()[table_name]
        sheets = _sheets(schema, held, matrices, findings)
        if sheets:
            tables[table_name], found = read_table(sheets, schema)
            findings += found + _no_rows(tables[table_name])
    if job and job.frame.geoid not in ("none", "table"):
        _read_bytes(folder, job.frame.geoid, contents, findings)
    decided = files.get("decisions", [])
    field = {name: held for name, held in contents.items() if name not in decided}
    return Reading(
        folder,
        job,
        tables,
        first_of_each_file(_by_file(findings), MOST_FINDINGS),
        _digest(contents),
        tuple(matrices),
        _digest(field),
    )


def _list_tables(folder: Path) -> tuple[dict[str, list[str]], list[Finding]]:
    """Return the files of each table that exists, and what is not understood."""
    try:
        entries = sorted(folder.iterdir(), key=lambda path: path.name)
    except OSError as error:
        raise InputError([_no_folder(folder, error)]) from None
    files: dict[str, list[str]] = {name: [] for name in schemas()}
    findings = []
    for path in entries:
        name = path.name
        if name == "topo" and (parts := _parts(path)):
            findings.append(_topo(parts))
        if name[0] in ".~" or name in _OTHER_FOLDERS:
            continue
        if path.suffix.lower() == ".csv" and not path.is_dir():
            if name.removesuffix(".csv") in files:
                files[name.removesuffix(".csv")].insert(0, name)
            else:
                findings.append(_unknown_table(name))
        elif path.is_dir() and (parts := _parts(path)):
            if name in files:
                files[name] += [f"{name}/{part}" for part in parts]
            else:
                findings.append(_unknown_table(f"{name}/{parts[0]}"))
    return {name: names for name, names in files.items() if names}, findings


def _parts(folder: Path) -> list[str]:
    try:
        names = (path.name for path in folder.iterdir() if not path.is_dir())
        return sorted(n for n in names if n.endswith(".csv") and n[0] not in ".~")
    except OSError:
        return []


def _read_bytes(
    folder: Path, name: str, contents: dict[str, bytes], findings: list[Finding]
) -> None:
    path = folder / name
    try:
        if path.is_file():
            contents[name] = path.read_bytes()
        elif path.exists():
            findings.append(_cannot_read(name, "this is not a file"))
        elif name != "job.toml":
            # A job folder without job.toml is told by read_job.
            findings.append(_cannot_read(name, "there is no such file"))
    except (OSError, ValueError) as error:
        findings.append(_cannot_read(name, getattr(error, "strerror", str(error))))


def _sheets(
    schema: Schema,
    held: dict[str, bytes],
    matrices: list[Matrix],
    findings: list[Finding],
) -> list[Sheet]:
    sheets = []
    for name, content in held.items():
        triangle = schema.name == "covariances" and is_matrix(content)
        sheet, found = read_sheet(name, content, ragged=triangle)
        findings += found
        if triangle and sheet:
            matrix, found = read_matrix(sheet)
            matrices += [matrix] if matrix else []
            findings += found
        elif sheet:
            sheets.append(sheet)
    return sheets


def first_of_each_file(findings: list[Finding], most: int) -> list[Finding]:
    """Return findings, of a file with more than ``most`` the first and a count.

    Faults first, then what is open, then the rest, each in the order of the rows.
    """
    by_file: dict[str, list[Finding]] = {}
    for finding in findings:
        by_file.setdefault(finding.file, []).append(finding)
    if all(len(found) <= most for found in by_file.values()):
        return findings
    kept = []
    for file, found in by_file.items():
        if len(found) > most:
            found.sort(key=lambda f: (f.verdict != "fault", not f.is_open, f.row))
            found[most:] = [_more(file, found[most:], most)]
        kept += found
    return kept


def _by_file(findings: list[Finding]) -> list[Finding]:
    """Return the findings file by file, faults first, in the order of the rows."""
    files = {file: k for k, file in enumerate(dict.fromkeys(f.file for f in findings))}
    return sorted(findings, key=lambda f: (files[f.file], f.verdict != "fault", f.row))


def _more(file: str, rest: list[Finding], most: int) -> Finding:
    faults = sum(finding.verdict == "fault" for finding in rest)
    return Finding(
        "more-findings",
        "note",
        file,
        file=file,
        booked=f"{len(rest)} more findings, {faults} of them faults",
        against=f"the first {most} are told",
        mend="mend these and check again; many may have one cause",
    )


def _no_rows(table: Table) -> list[Finding]:
    if len(table) or table.name in ("decisions", "names"):
        return []
    file = next(iter(table.file_headers))
    return [
        Finding(
            "no-rows",
            "note",
            file,
            file=file,
            booked="a header and no rows",
            mend="fill it, or delete the file if the job does not need it",
        )
    ]


def _no_folder(folder: Path, error: OSError) -> Finding:
    missing = isinstance(error, FileNotFoundError)
    return Finding(
        "no-such-folder" if missing else "cannot-read",
        "fault",
        str(folder),
        file=str(folder),
        booked=error.strerror or str(error),
        against="a job folder with job.toml",
        mend="name the folder by --job DIR, or make one by  brasscap new DIR",
    )


def _cannot_read(name: str, reason: str) -> Finding:
    return Finding(
        "cannot-read",
        "fault",
        name,
        file=name,
        booked=reason,
        against="a file that can be read",
        mend="mind its name and its permissions",
    )


def _without_pairs(findings: list[Finding], job: Job | None) -> list[Finding]:
    """Return the findings without files of pairs of marks, which ``spec`` reads.

    They are those that a [spec.NAME] names, and by name: ``…pairs.csv``, ``pairs/``.
    """
    stated = job.specifications.values() if job else ()
    named = {str(one.get("pairs", "")) for one in stated}
    return [
        finding
        for finding in findings
        if finding.slug != "unknown-table"
        or not (finding.file in named or _PAIRS.fullmatch(finding.file))
    ]


_PAIRS = re.compile(r"(?:.*[-_ ])?pairs\.csv|pairs/.*", re.IGNORECASE)


def _unknown_table(name: str) -> Finding:
    words = name.partition("/")[0].removesuffix(".csv").removesuffix(".CSV")
    near = nearest(words, schemas())
    return Finding(
        "unknown-table",
        "query",
        name,
        file=name,
        booked=name,
        against="the tables of a job; this one is not read",
        likely=f"{near}.csv" if near else "",
        mend=f"rename it to {near}.csv"
        if near
        else "move it to evidence/; a "
        "file of pairs of marks for  spec  is one named …-pairs.csv",
    )


def _topo(parts: list[str]) -> Finding:
    return Finding(
        "table-not-used",
        "note",
        "topo",
        file="topo",
        booked=", ".join(parts),
        against="topographic shots take no part in the control network",
        mend="nothing; they hang on it, and are judged by  brasscap topo check",
    )


def _digest(contents: dict[str, bytes]) -> str:
    digest = sha256()
    for name in sorted(contents):
        digest.update(f"{name}\0{len(contents[name])}\0".encode())
        digest.update(contents[name])
    return digest.hexdigest()
