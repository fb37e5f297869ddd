"""The folder topo/ as it stands: typed tables of shots, and every fault in them.

Apart from the control network's tables, for its result does not depend on them: a
shot more changes no adjusted mark and no kept result.
"""

from dataclasses import dataclass
from hashlib import sha256
from pathlib import Path

from ...networks.findings import Finding
from .rows import read_table
from .schema import Schema
from .schemas.topo import CHECKS, CONSTRUCTIONS, FIELD_TEST, SHOTS, TOPO
from .sheet import Sheet, read_sheet
from .table import Table

MOST_FINDINGS = 50
"""Of one file that are told; the rest is counted."""

FOLDER = "topo"
_OWN = {
    "constructions.csv": CONSTRUCTIONS,
    "checks.csv": CHECKS,
    "field_test.csv": FIELD_TEST,
}


@dataclass(frozen=True)
class TopoTables:
    """What topo/ holds, each table by itself."""

    shots: Table | None
    constructions: Table | None
    checks: Table | None
    field_test: Table | None
    findings: tuple[Finding, ...]
    digest: str
    """SHA-256 over the names and bytes of its tables."""


def read_topo(folder: Path) -> TopoTables:
    """Return the tables of a job's topo/; nothing is raised for faults in them.

    Parameters
    ----------
    folder : Path
        Of the job.

    Returns
    -------
    TopoTables
    """
    findings: list[Finding] = []
    contents = _contents(folder / FOLDER, findings)
    sheets: dict[str, list[Sheet]] = {}
    for name, content in contents.items():
        sheet, found = read_sheet(f"{FOLDER}/{name}", content)
        findings += found
        if sheet:
            sheets.setdefault(_OWN.get(name, SHOTS).name, []).append(sheet)
    tables: dict[str, Table] = {}
    for schema in TOPO:
        if schema.name in sheets:
            tables[schema.name], found = read_table(sheets[schema.name], schema)
            findings += found
    if not tables:
        findings.append(_nothing())
    return TopoTables(
        tables.get("shots"),
        tables.get("constructions"),
        tables.get("checks"),
        tables.get("field_test"),
        tuple(first_told(findings)),
        _digest(contents),
    )


def has_topo(folder: Path) -> bool:
    """Return whether a job has a topo/ with tables in it."""
    return bool(_names(folder / FOLDER))


def _names(place: Path) -> list[str]:
    try:
        return sorted(
            path.name
            for path in place.iterdir()
            if path.name.endswith(".csv") and path.name[0] not in ".~"
        )
    except OSError:
        return []


def _contents(place: Path, findings: list[Finding]) -> dict[str, bytes]:
    contents = {}
    for name in _names(place):
        try:
            contents[name] = (place / name).read_bytes()
        except OSError as error:
            findings.append(
                Finding(
                    "cannot-read",
                    "fault",
                    f"{FOLDER}/{name}",
                    file=f"{FOLDER}/{name}",
                    booked=error.strerror or str(error),
                    against="a file that can be read",
                    mend="mind its name and its permissions",
                )
            )
    return contents


def _digest(contents: dict[str, bytes]) -> str:
    digest = sha256()
    for name, content in sorted(contents.items()):
        digest.update(f"{name}\0{len(content)}\0".encode())
        digest.update(content)
    return digest.hexdigest()


def first_told(findings: list[Finding]) -> list[Finding]:
    """Return the findings with the faults first, at most so many of one kind and file.

    A hundred thousand shots of one file may all lack the same thing.
    """
    counts: dict[tuple[str, str], int] = {}
    told: list[Finding] = []
    for finding in sorted(findings, key=lambda f: f.verdict != "fault"):
        key = finding.file, finding.slug
        counts[key] = counts.get(key, 0) + 1
        if counts[key] <= MOST_FINDINGS:
            told.append(finding)
    told += [_more(*key, n) for key, n in counts.items() if n > MOST_FINDINGS]
    return told


def _more(file: str, slug: str, count: int) -> Finding:
    return Finding(
        "more-findings",
        "note",
        file,
        file=file,
        booked=f"{slug}: {count - MOST_FINDINGS} more findings",
        against=f"the first {MOST_FINDINGS} are told",
        mend="mend these and check again; many may have one cause",
    )


def _nothing() -> Finding:
    return Finding(
        "no-shots",
        "fault",
        FOLDER,
        file=FOLDER,
        booked="no table of shots",
        against="topo/NAME.csv with  shot, code, north_m, east_m, height_m, set_up …",
        mend="put the day's shots there; an example:  "
        "brasscap new DIR --example harbour",
    )


def columns_help(schema: Schema) -> str:
    """Return the columns of a table, a line each, for ``--help``."""
    return "\n".join(
        f"  {column.header:<24} {column.says}" for column in schema.columns
    )
