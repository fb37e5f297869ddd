"""A file of others made into one of our tables, as a mapping states."""

import csv
import io
from collections.abc import Iterator
from dataclasses import replace
from hashlib import sha256
from pathlib import Path

from ...networks import Finding, InputError
from ..additions import Addition, cannot_read, folder_of, importable
from ..tables.rows import read_table
from ..tables.sheet import Sheet, read_sheet
from ..tables.spelling import nearest
from .columns import ColumnMapping, Taken
from .their_file import read_theirs


def mapped_addition(path: Path, mapping: ColumnMapping, name: str) -> Addition:
    """Return a file of others as it will be added to a table.

    Parameters
    ----------
    path : Path
        The file.
    mapping : ColumnMapping
    name : str
        Of the import; its file is ``TABLE/NAME.csv``.

    Raises
    ------
    InputError
        With every fault of the file, in the rows of the file as it came.
    """
    try:
        content = path.read_bytes()
    except OSError as error:
        raise InputError([cannot_read(path, error)]) from error
    sheet, findings = read_theirs(
        path.name,
        content,
        header=mapping.header,
        width=_width(mapping),
        blanks=mapping.separator == "blank",
    )
    if sheet is None:
        raise InputError(findings)
    places, told = _places(sheet, mapping)
    findings += told
    if not places:
        raise InputError(findings)
    head = _comments(path.name, content, mapping)
    made, blank = _made(sheet, mapping, places, head)
    headers, told = _checked(sheet, made, blank, mapping)
    rows = len(sheet.grid) - len(blank)
    findings += _blank(sheet, blank) + _but_for_lost(told, findings)
    if not rows and all(f.verdict != "fault" for f in findings):
        about = f"table {mapping.table}"
        findings.append(Finding("no-rows", "fault", about, file=path.name))
    if any(f.verdict == "fault" for f in findings):
        raise InputError(findings)
    file = f"{folder_of(mapping.table)}/{name}.csv"
    return Addition(file, made, rows, headers, tuple(findings))


def _but_for_lost(told: list[Finding], before: list[Finding]) -> list[Finding]:
    """Return what is told, without a column that lacks because theirs is not there."""
    if all(f.slug != "column-not-there" for f in before):
        return told
    return [f for f in told if f.slug != "missing-column"]


def _width(mapping: ColumnMapping) -> int:
    """Return the columns of a file without a header: the last that is named."""
    if mapping.header:
        return 0
    return max((int(name) for name in mapping.named if name.isdecimal()), default=1)


def _places(
    sheet: Sheet, mapping: ColumnMapping
) -> tuple[list[tuple[int, Taken]], list[Finding]]:
    """Return where each column that is taken stands, and what is not as stated."""
    header = [cell.strip() for cell in sheet.header]
    places = []
    findings = []
    for one in mapping.columns:
        if (count := header.count(one.theirs)) == 1:
            places.append((header.index(one.theirs), one))
        else:
            findings.append(_not_one(sheet, mapping, one.theirs, count))
    for theirs in mapping.leave_out:
        if theirs not in header:
            findings.append(_not_one(sheet, mapping, theirs, 0))
    # A duplicate is told already.
    rest = [cell for cell in dict.fromkeys(header) if cell not in mapping.named]
    if rest:
        findings.append(_not_mapped(sheet, mapping, rest))
    return places, findings


def _not_one(sheet: Sheet, mapping: ColumnMapping, theirs: str, count: int) -> Finding:
    near = "" if count else nearest(theirs, sheet.header)
    return Finding(
        "column-not-there",
        "fault",
        f"header of {sheet.file}",
        file=sheet.file,
        row=sheet.header_row,
        line=sheet.header_line,
        column=theirs,
        booked=f'{count or "no"} columns "{theirs}"' if count != 1 else theirs,
        against=f"one of this name, which {mapping.file} takes; the file has: "
        + ", ".join(f'"{cell.strip()}"' for cell in sheet.header)[:300],
        likely=near,
        mend=f'write "{near}" in {mapping.file}'
        if near
        else f"write the header in {mapping.file} as it stands in the file"
        if not count
        else "in a copy of the file, give each column a name of its own",
    )


def _not_mapped(sheet: Sheet, mapping: ColumnMapping, rest: list[str]) -> Finding:
    words = ", ".join(f'"{cell}"' for cell in rest)
    return Finding(
        "column-not-mapped",
        "query",
        f"header of {sheet.file}",
        file=sheet.file,
        row=sheet.header_row,
        line=sheet.header_line,
        column=rest[0],
        booked=words,
        against=f"each column of the file is named in {mapping.file}; "
        "what is not named is not imported",
        mend=f"give them a line under [columns] of {mapping.file}, or list them in "
        "leave_out",
    )


def _comments(file: str, content: bytes, mapping: ColumnMapping) -> list[str]:
    """Return what the import says of where it comes from, and of what was changed."""
    digest = mapping.digest
    comma = ["# decimal commas written as points"] if mapping.decimal == "comma" else []
    lines = [
        f"# imported from {file}, SHA-256 {sha256(content).hexdigest()}",
        f"# by {mapping.file}" + (f", SHA-256 {digest}" if digest else ""),
        *comma,
        *(f"# {one.said}" for one in mapping.columns if one.header != one.theirs),
        *(f"# {key} in every row as stated there" for key in mapping.every_row),
    ]
    # A name may hold anything but the end of this line.
    return ["".join(c if c.isprintable() else " " for c in line) for line in lines]


def _made(
    sheet: Sheet,
    mapping: ColumnMapping,
    places: list[tuple[int, Taken]],
    head: list[str],
) -> tuple[bytes, list[int]]:
    """Return the table's bytes, and the rows that have nothing in any column taken."""
    out = io.StringIO()
    out.write("".join(f"{line}\n" for line in head))
    header = [*(one.header for _, one in places), *mapping.every_row]
    plain = csv.writer(out, lineterminator="\n")
    quoted = csv.writer(out, lineterminator="\n", quoting=csv.QUOTE_ALL)
    plain.writerow(header)
    blank: list[int] = []
    for at, rows in _rows(sheet, places, mapping.decimal):
        filled = [any(row) for row in rows]
        blank += [at + i for i, has in enumerate(filled) if not has]
        tail = tuple(mapping.every_row.values())
        kept = [(*row, *tail) for row, has in zip(rows, filled, strict=True) if has]
        # A name that begins with # must not become a comment.
        hidden = any(row[0][:1] == "#" for row in kept)
        (quoted if hidden else plain).writerows(kept)
    return out.getvalue().encode(), blank


def _rows(
    sheet: Sheet, places: list[tuple[int, Taken]], decimal: str
) -> Iterator[tuple[int, list[tuple[str, ...]]]]:
    """Yield the number of a first row, and from there some rows as they will be."""
    at = 0
    for block in sheet.grid.blocks():
        texts = [
            one.changed(block.column(position).words()[0].tolist(), decimal)
            for position, one in places
        ]
        rows = list(zip(*texts, strict=True))
        yield at, rows
        at += len(rows)


def _blank(sheet: Sheet, blank: list[int]) -> list[Finding]:
    if not blank:
        return []
    rows = ", ".join(str(sheet.rows[i]) for i in blank[:20])
    more = f" and {len(blank) - 20} more" if len(blank) > 20 else ""
    return [
        Finding(
            "row-not-mapped",
            "query",
            f"row {rows}{more}",
            file=sheet.file,
            row=int(sheet.rows[blank[0]]),
            line=int(sheet.lines[blank[0]]),
            booked="nothing in any column that is taken",
            against="a row has something to import; these were left out",
            mend="look at them in the file: a title, or a column that is not mapped?",
        )
    ]


def _checked(
    sheet: Sheet, made: bytes, blank: list[int], mapping: ColumnMapping
) -> tuple[tuple[str, ...], list[Finding]]:
    """Return the headers, and what is wrong with the table, in rows of their file."""
    ours, findings = read_sheet(sheet.file, made)
    if ours is None:
        return (), findings
    import numpy as np

    rows, lines = (np.delete(which, blank) for which in (sheet.rows, sheet.lines))
    ours = replace(ours, rows=rows, lines=lines, header_row=0, header_line=0)
    table, found = read_table([ours], importable()[mapping.table])
    return tuple(table.header.values()), findings + [
        _in_mapping(f, mapping) for f in found
    ]


def _in_mapping(finding: Finding, mapping: ColumnMapping) -> Finding:
    """Return a finding with a mend that the mapping's writer can follow."""
    if finding.slug != "missing-column":
        return finding
    return replace(
        finding,
        about=f"columns of {mapping.file}",
        file=mapping.file,
        booked=finding.booked.replace("the header has no", "no column leads to"),
        mend=f"map a column of theirs to it under [columns] of {mapping.file}, or "
        "state it under [every_row]",
    )
