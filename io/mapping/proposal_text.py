"""A proposed mapping as its file: what is open stands behind #, with the reason."""

import json
from collections.abc import Sequence
from hashlib import sha256

from ...networks.units import exact, units_of
from ..tables.header import read_header
from ..tables.schema import Schema
from ..tables.sheet import Sheet
from .columns import ColumnMapping, Taken
from .proposing import Proposed


def has_header(sheet: Sheet) -> bool:
    """Return whether the first row of a file names columns; numbers name none.

    Examples
    --------
    >>> has_header(Sheet("a.csv", ["Pt", "N", "E"]))
    True
    >>> has_header(Sheet("a.csv", ["101", "5000.00", "2000.00", "IP"]))
    False
    """
    return sum(_is_number(cell.strip()) for cell in sheet.header) < 2


def _is_number(text: str) -> bool:
    try:
        exact(text.replace(",", "."))
    except ValueError:
        return False
    return True


def numbered(sheet: Sheet) -> list[Proposed]:
    """Return the columns of a file without a header: all open, with what is in them."""
    found = []
    for i, name in enumerate(sheet.header):
        first = [
            sheet.grid.record(k)[i].strip() for k in range(min(3, len(sheet.grid)))
        ]
        begins = ", ".join(repr(text) for text in first)
        reason = f"no header, and the order of columns is not guessed; begins {begins}"
        found.append(Proposed(name, reason=reason))
    return found


def proposal_text(
    file: str,
    content: bytes,
    frame: ColumnMapping,
    schema: Schema,
    columns: Sequence[Proposed],
) -> str:
    """Return the mapping file of a proposal.

    Parameters
    ----------
    file : str
        Name of the file of others.
    content : bytes
        Its bytes, whose hash is stated.
    frame : ColumnMapping
        The table, and how the file was read; without columns.
    schema : Schema
    columns : sequence of Proposed
    """
    lines = [
        f"# Proposed from the header and the values of {json.dumps(file)[1:-1]},",
        f"# SHA-256 {sha256(content).hexdigest()}",
        "# What is understood is stated: look at it all the same. What is open stands",
        "# behind #, below its reason: complete it and take the # away, or name the",
        "# column in leave_out.",
        "schema = 1",
        f"table = {_quoted(frame.table)}",
        f"header = {'true' if frame.header else 'false'}",
        *(['separator = "blank"'] if frame.separator else []),
        *(['decimal = "comma"'] if frame.decimal == "comma" else []),
        "leave_out = []",
        "",
        "[columns]",
    ]
    for one in columns:
        lines += _column(one, schema)
    lines += _lacking(file, schema, columns)
    lines += _every_row(schema, columns)
    return "\n".join(lines) + "\n"


def _column(one: Proposed, schema: Schema) -> list[str]:
    line = f"{_quoted(one.theirs)} = {{ours = {_quoted(one.ours or '…')}"
    column = schema.by_name.get(one.ours)
    if column and (one.unit or len(units_of(column.measure)) > 1):
        line += f", unit = {_quoted(one.unit or '…')}"
    if one.sign != "+":
        line += f", sign = {_quoted(one.sign)}"
    if column and column.name.startswith("sd_") and column.is_number:
        line += f", confidence = {_quoted(one.confidence or '…')}"
    line += "}"
    return [f"# open: {one.reason}", f"# {line}"] if one.reason else [line]


def _lacking(file: str, schema: Schema, columns: Sequence[Proposed]) -> list[str]:
    """Return what the table needs and no column that is understood leads to."""
    headers = [
        Taken(one.theirs, schema.by_name[one.ours], one.unit).header
        for one in columns
        if not one.reason
    ]
    findings = read_header(Sheet(file, headers), schema)[1]
    lacks = [f for f in findings if f.slug == "missing-column"]
    lines = [
        "# needed: " + f.booked.replace("the header has no ", "") + f" ({f.against})"
        for f in lacks
    ]
    return ["", *lines] if lines else []


def _every_row(schema: Schema, columns: Sequence[Proposed]) -> list[str]:
    there = {one.ours for one in columns}
    asked = [
        column
        for column in schema.columns
        if column.choices and column.offered and column.name not in there
    ]
    # What theirs is stated at stands with each column.
    asked = [column for column in asked if column.name != "stated_at"]
    lines = ["", "[every_row]"]
    for column in asked:
        choices = " | ".join(column.choices)
        lines.append(f'# {column.header} = "…"  # {column.says}: {choices}')
    return lines


def _quoted(text: str) -> str:
    # JSON texts are TOML texts, but for one character that JSON leaves as it is.
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")
