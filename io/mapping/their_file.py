"""Somebody else's file as a sheet with a header, whatever it begins with."""

import re
from dataclasses import replace

from ...networks.findings import Finding
from ..tables.sheet import Sheet, read_sheet

_NUMBER = re.compile(rb"[+-]?(\d*[.,]\d+|\d+\.?)")
_SEPARATORS = (b"\t", b";", b",")


def read_theirs(
    file: str,
    content: bytes,
    *,
    header: bool = True,
    width: int = 0,
    blanks: bool = False,
) -> tuple[Sheet | None, list[Finding]]:
    r"""Return the cells of a file; without a header its columns are numbered from 1.

    Parameters
    ----------
    file : str
        Its name, for messages.
    content : bytes
    header : bool, optional
        Whether its first row has the names of the columns. Without one, a row may end
        early: a point without a description.
    width : int, optional
        Columns of a file without a header; 0 = as many as its longest row.
    blanks : bool, optional
        Whether blanks part the columns; the last then takes what is left of its row.

    Examples
    --------
    >>> sheet, findings = read_theirs("p.txt", b"1,500.1,A\n2,501.2\n", header=False)
    >>> sheet.header, sheet.records, sheet.rows.tolist()
    (['1', '2', '3'], [['1', '500.1', 'A'], ['2', '501.2', '']], [1, 2])
    """
    if blanks:
        content = _tabbed(content, width)
    if header:
        return read_sheet(file, content)
    sheet, findings = read_sheet(file, _numbered(content, width))
    # The line of numbers above is ours.
    findings = [
        replace(f, row=f.row - 1, line=f.line - 1) if f.row else f for f in findings
    ]
    if sheet is not None:
        rows, lines = sheet.rows - 1, sheet.lines - 1
        sheet = replace(sheet, header_row=0, header_line=0, rows=rows, lines=lines)
    return sheet, findings


def _lines(content: bytes) -> list[bytes]:
    return re.split(rb"\r\n|\r|\n", content.removeprefix(b"\xef\xbb\xbf"))


def parted_by_blanks(sheet: Sheet, content: bytes) -> bool:
    r"""Return whether it is blanks that part the columns of a file.

    They are where the first row has blanks alone, or where each row has a name and two
    numbers between blanks.

    Examples
    --------
    >>> rows = b"101  5000,00  2000,00  IP\n"
    >>> parted_by_blanks(Sheet("p.txt", ["101  5000", "00  2000", "00  IP"]), rows)
    True
    """
    alone = len(sheet.header) == 1 and len(sheet.header[0].split()) > 1
    return alone or _numbers_end(_spaced(content)) > 2


def spaced_width(content: bytes) -> int:
    r"""Return the columns of points parted by blanks: name, numbers, and what is left.

    Examples
    --------
    >>> spaced_width(b"A 1.5 2 IP north side\nB 3 4\n")
    4
    """
    rows = _spaced(content)
    width = _numbers_end(rows)
    return width + any(len(row) > width for row in rows)


def _spaced(content: bytes) -> list[list[bytes]]:
    rows = [line.split() for line in _lines(content) if line.strip()]
    return [row for row in rows if row[0][:1] != b"#"]


def _numbers_end(rows: list[list[bytes]]) -> int:
    """Return how many columns there are with the first and the numbers after it."""
    shortest = min(map(len, rows), default=0)
    width = 1
    while width < shortest and all(_NUMBER.fullmatch(row[width]) for row in rows):
        width += 1
    return width


def _tabbed(content: bytes, width: int) -> bytes:
    """Return the file with tabs between its columns, as many as there are names."""
    lines = _lines(content)
    rows = [line for line in lines if line.strip() and line.lstrip()[:1] != b"#"]
    if rows and not width:
        width = len(rows[0].split())
    return b"\n".join(
        b"\t".join(line.split(None, max(width - 1, 0))).rstrip() for line in lines
    )


def _numbered(content: bytes, width: int) -> bytes:
    """Return the file below a header of numbers; rows that end early are filled up."""
    lines = _lines(content)
    bare = [re.sub(rb'"[^"]*"', b"", line).strip() for line in lines]
    # A row behind # is filled up as well, so that it is told as one left out.
    rows = [i for i, line in enumerate(bare) if line]
    points = [bare[i] for i in rows if bare[i][:1] != b"#"]
    if not points:
        return content
    # Commas in a description must not pass for what parts the columns.
    in_all = [mark for mark in _SEPARATORS if all(mark in line for line in points)]
    separator = in_all[0] if in_all else max(_SEPARATORS, key=points[0].count)
    width = width or max(line.count(separator) for line in points) + 1
    for i in rows:
        # A quoted text may go on in the next line: its end is where it is filled up.
        if lines[i].count(b'"') % 2 == 0:
            lines[i] += separator * (width - 1 - bare[i].count(separator))
    names = separator.join(str(k + 1).encode() for k in range(width))
    return names + b"\n" + b"\n".join(lines)
