"""A mapping proposed from a file of others, and what of it is still open."""

import shlex
from pathlib import Path
from typing import TYPE_CHECKING, Any

from brasscap.arguments import Request, wrong

if TYPE_CHECKING:
    from brasscap.answer import Answer
    from brasscap.io.mapping.columns import ColumnMapping
    from brasscap.io.mapping.proposing import Proposed
    from brasscap.io.tables.sheet import Sheet
    from brasscap.reports.document import Document


def proposed(request: Request, table: str) -> "Answer":
    """Return the answer to ``import FILE --as TABLE --propose-mapping``.

    The mapping is written to the job's folder, or where --mapping says; one that is
    there is never replaced.

    Raises
    ------
    InputError
        The file cannot be read, or is none of rows and columns.
    CannotWrite
        There is a mapping already.
    """
    from brasscap.answer import Answer

    if len(request.words) != 1:
        raise wrong("import: --propose-mapping takes one file at a time")
    path = Path(request.words[0])
    target = Path(request.values.get("mapping") or request.folder / "mapping.toml")
    columns, text = _proposal(request, path, table)
    writes = "read-only" not in request.values
    if writes:
        _write(target, text)
    data: dict[str, Any] = {
        "schema": "brasscap/import/1",
        "table": table,
        "files": [str(target)] if writes else [],
        "imports": [],
        "proposal": {
            "file": path.name,
            "columns": [
                {
                    "theirs": one.theirs,
                    "ours": one.ours,
                    "unit": one.unit,
                    "sign": one.sign,
                    "confidence": one.confidence,
                    "open": one.reason,
                }
                for one in columns
            ],
        },
    }
    named = target if writes else None
    return Answer(_document(request, table, columns, named), data, 0)


def _proposal(request: Request, path: Path, table: str) -> tuple[list["Proposed"], str]:
    from brasscap.io.additions import cannot_read, importable
    from brasscap.io.mapping.proposal_text import numbered, proposal_text
    from brasscap.io.mapping.proposing import Asked, propose
    from brasscap.networks import InputError

    try:
        content = path.read_bytes()
    except OSError as error:
        raise InputError([cannot_read(path, error)]) from error
    schema = importable()[table]
    sheet, frame = _read(path.name, content, table)
    values = request.values
    unit, covariance = values.get("length-unit", ""), values.get("covariance", "")
    asked = Asked(_is_local(request), unit, covariance, frame.decimal)
    columns = propose(sheet, schema, asked) if frame.header else numbered(sheet)
    return columns, proposal_text(path.name, content, frame, schema, columns)


def _read(file: str, content: bytes, table: str) -> "tuple[Sheet, ColumnMapping]":
    """Return the cells of a file, and how they had to be read."""
    from brasscap.io.mapping import their_file
    from brasscap.io.mapping.columns import ColumnMapping
    from brasscap.io.mapping.proposal_text import has_header
    from brasscap.io.mapping.proposing import decimal_of
    from brasscap.networks import InputError

    read = their_file.read_theirs
    sheet, findings = read(file, content)
    if sheet is None:
        raise InputError(findings)
    if blanks := their_file.parted_by_blanks(sheet, content):
        sheet, findings = read(file, content, blanks=True)
    header = sheet is None or has_header(sheet)
    if not header:
        width = their_file.spaced_width(content) if blanks else 0
        sheet, findings = read(file, content, header=False, width=width, blanks=blanks)
    if sheet is None or any(f.verdict == "fault" for f in findings):
        raise InputError(findings)
    parted, decimal = "blank" if blanks else "", decimal_of(sheet)
    frame = ColumnMapping(
        file, table, (), header=header, separator=parted, decimal=decimal
    )
    return sheet, frame


def _is_local(request: Request) -> bool:
    """Return whether the job has no ellipsoid; a job.toml with faults has not said."""
    from brasscap.io.tables.job_file import read_job

    content = (request.folder / "job.toml").read_bytes()
    job = read_job(content, request.folder)[0]
    return job is not None and job.frame.geographic_epsg is None


def _write(target: Path, text: str) -> None:
    from brasscap.io.files import write_whole
    from brasscap.networks import CannotWrite

    if target.exists():
        raise CannotWrite(
            f"{target} exists, and a proposal replaces no mapping; nothing was "
            "written; name another file with --mapping FILE"
        )
    write_whole(target, text)


def _document(
    request: Request, table: str, columns: list["Proposed"], target: Path | None
) -> "Document":
    from brasscap.reports.document import Document, Facts, Paragraph, Section

    known = [one for one in columns if not one.reason]
    still = [one for one in columns if one.reason]
    facts = tuple((one.theirs, _said(one)) for one in known)
    asked = tuple((one.theirs, one.reason) for one in still)
    sections = [Section("understood", (Facts(facts),))] if facts else []
    if asked:
        sections.append(Section("open", (Facts(asked),)))
    title = f"{table}: {len(known)} of {len(columns)} columns understood"
    if target is None:
        step = "nothing was written; leave --read-only out to write the proposal"
        return Document(title, (*sections, Section("", (Paragraph(step),))))
    file, by = shlex.quote(request.words[0]), shlex.quote(str(target))
    line = f"brasscap import {file} --as {table} --mapping {by}"
    read = f"next: read {target} line by line, complete what is open, then  {line}"
    lines = (Paragraph(f"written: {target}"), Paragraph(read, "next"))
    return Document(title, (*sections, Section("", lines)))


def _said(one: "Proposed") -> str:
    parts = [one.ours, one.unit and f"in {one.unit}"]
    parts += ["sign changed"] if one.sign == "-" else []
    parts += [f"stated at {one.confidence}"] if one.confidence else []
    return ", ".join(part for part in parts if part)
