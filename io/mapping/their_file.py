"""Somebody else's file as a sheet with a header, whatever it begins with."""

import re
from dataclasses import replace

from ...networks.findings import Finding
from ..tables.sheet import Sheet, read_sheet

_SEPARATORS = (b",", b";", b"\t")


def read_theirs(
    file: str, content: bytes, *, header: bool = True, width: int = 0
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

    Examples
    --------
    >>> sheet, findings = read_theirs("p.txt", b"1,500.1,A\n2,501.2\n", header=False)
    >>> sheet.header, sheet.records, sheet.rows.tolist()
    (['1', '2', '3'], [['1', '500.1', 'A'], ['2', '501.2', '']], [1, 2])
    """
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


def _numbered(content: bytes, width: int) -> bytes:
    """Return the file below a header of numbers; rows that end early are filled up."""
    lines = re.split(rb"\r\n|\r|\n", content.removeprefix(b"\xef\xbb\xbf"))
    bare = [re.sub(rb'"[^"]*"', b"", line).strip() for line in lines]
    # A row behind # is filled up as well, so that it is told as one left out.
    rows = [i for i, line in enumerate(bare) if line]
    points = [bare[i] for i in rows if bare[i][:1] != b"#"]
    if not points:
        return content
    separator = max(_SEPARATORS, key=points[0].count)
    width = width or max(line.count(separator) for line in points) + 1
    for i in rows:
        # A quoted text may go on in the next line: its end is where it is filled up.
        if lines[i].count(b'"') % 2 == 0:
            lines[i] += separator * (width - 1 - bare[i].count(separator))
    names = separator.join(str(k + 1).encode() for k in range(width))
    return names + b"\n" + b"\n".join(lines)
