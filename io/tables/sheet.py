"""Bytes of a table file to its rows of cells, and everything wrong with that."""

import csv
import io
import re
from collections.abc import Iterator
from dataclasses import dataclass, field

from ...networks.findings import Finding

MOST_COLUMNS = 300
"""No table has as many; a longer header is something else."""

_SEPARATORS = {",": "comma", ";": "semicolon", "\t": "tab"}
_CONTROL = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\x7f]")


@dataclass(frozen=True)
class Sheet:
    """The cells of one file; comment lines and empty rows are left out."""

    file: str
    header: list[str]
    header_row: int = 1
    header_line: int = 1
    records: list[list[str]] = field(default_factory=list)
    """Rows with as many cells as the header."""
    rows: list[int] = field(default_factory=list)
    """Row of each, as a spreadsheet shows it."""
    lines: list[int] = field(default_factory=list)
    """Line of the file on which each begins."""


Record = tuple[int, int, list[str]]
"""Row as a spreadsheet shows it, line of the file, cells."""


def read_sheet(
    file: str, content: bytes, *, ragged: bool = False
) -> tuple[Sheet | None, list[Finding]]:
    r"""Return the rows of a file, and what is wrong with it as a file.

    Parameters
    ----------
    file : str
        Its name, for messages.
    content : bytes
    ragged : bool
        Whether rows may be shorter than the header: the triangle of a matrix.

    Returns
    -------
    sheet : Sheet or None
        None where there is no header that can be read.
    findings : list of Finding

    Examples
    --------
    >>> sheet, findings = read_sheet("stations.csv", b"station,status\nT1,found\n")
    >>> sheet.header, sheet.records, sheet.rows
    (['station', 'status'], [['T1', 'found']], [2])
    """
    text, findings = _decode(file, content)
    if text is None:
        return None, findings
    separator, findings = _separator(file, text)
    comments: list[tuple[int, int, str]] = []
    try:
        records = list(_records(text, separator, comments))
    except csv.Error as error:
        return None, [*findings, _quotes_fault(file, text, str(error))]
    if not records:
        return None, [*findings, _empty(file)]
    row, line, header = records.pop(0)
    while header and not header[-1].strip():
        header.pop()
    if len(header) > MOST_COLUMNS:
        return None, [*findings, _too_wide(file, row, line, len(header))]
    sheet = Sheet(file, header, row, line)
    findings += _keep_rows(sheet, records, ragged)
    findings += [
        _commented_out(file, *comment)
        for comment in comments
        if comment[0] > row and comment[2].count(separator) == len(header) - 1 > 1
    ]
    return sheet, findings


def _decode(file: str, content: bytes) -> tuple[str | None, list[Finding]]:
    if content[:2] in (b"\xff\xfe", b"\xfe\xff"):
        return None, [_encoding(file, 1, "UTF-16", "UTF-16")]
    try:
        text = content.decode("utf-8-sig").replace("\r\n", "\n").replace("\r", "\n")
    except UnicodeDecodeError as error:
        line = content.count(b"\n", 0, error.start) + 1
        booked = f"byte {content[error.start]:#04x}"
        return None, [_encoding(file, line, booked, "Windows-1252 or ISO 8859-1")]
    if found := _CONTROL.search(text):
        line = text.count("\n", 0, found.start()) + 1
        booked = f"control character {ord(found.group()):#04x}"
        return None, [_encoding(file, line, booked, "UTF-16, or not a text file")]
    return text, []


def _encoding(file: str, line: int, booked: str, likely: str) -> Finding:
    return Finding(
        "wrong-encoding",
        "fault",
        file,
        file=file,
        row=line,
        line=line,
        booked=booked,
        against="UTF-8",
        likely=likely,
        mend="save the file again as CSV UTF-8",
    )


def _separator(file: str, text: str) -> tuple[str, list[Finding]]:
    lines = enumerate((line.strip() for line in io.StringIO(text)), 1)
    empty = (0, "")
    number, header = next((n for n in lines if n[1] and n[1][0] != "#"), empty)
    bare = re.sub(r'"[^"]*"', "", header)
    used = [mark for mark in _SEPARATORS if mark in bare]
    if len(used) < 2:
        return (used[0] if used else ","), []
    mixed = Finding(
        "mixed-separators",
        "fault",
        file,
        file=file,
        row=number,
        line=number,
        booked=" and ".join(_SEPARATORS[mark] for mark in used),
        against="one separator throughout",
        mend="keep one separator between the cells of the header and all rows",
    )
    return max(used, key=bare.count), [mixed]


def _records(
    text: str, separator: str, comments: list[tuple[int, int, str]]
) -> Iterator[Record]:
    """Yield rows that hold something; comment lines go into ``comments``."""
    if '"' in text:
        yield from _quoted_records(text, separator, comments)
        return
    for number, line in enumerate(text.split("\n"), 1):
        bare = line.strip()
        if bare[:1] == "#":
            comments.append((number, number, bare))
        elif bare.strip(separator):
            yield number, number, line.split(separator)


def _quoted_records(
    text: str, separator: str, comments: list[tuple[int, int, str]]
) -> Iterator[Record]:
    # A "#" begins a comment only where a row begins, not inside a quoted cell.
    place = {"row": 0, "line": 0, "inside": 0}

    def lines() -> Iterator[str]:
        for line in io.StringIO(text):
            place["line"] += 1
            bare = line.strip()
            if not place["inside"]:
                place["row"] += 1
                if bare[:1] == "#" or not bare:
                    if bare:
                        comments.append((place["row"], place["line"], bare))
                    continue
                place["start"] = place["line"]
            place["inside"] = 1
            yield line

    for cells in csv.reader(lines(), delimiter=separator, strict=True):
        place["inside"] = 0
        if any(cell.strip() for cell in cells):
            yield place["row"], place["start"], cells


def _keep_rows(sheet: Sheet, records: list[Record], ragged: bool) -> list[Finding]:
    width = len(sheet.header)
    findings = []
    for row, line, cells in records:
        if len(cells) > width and not any(cell.strip() for cell in cells[width:]):
            del cells[width:]
        if len(cells) == width or (ragged and len(cells) < width):
            sheet.records.append(cells)
            sheet.rows.append(row)
            sheet.lines.append(line)
        else:
            findings.append(_ragged(sheet, row, line, cells))
    return findings


def _ragged(sheet: Sheet, row: int, line: int, cells: list[str]) -> Finding:
    longer = len(cells) > len(sheet.header)
    return Finding(
        "ragged-row",
        "fault",
        f"row {row}",
        file=sheet.file,
        row=row,
        line=line,
        booked=f"{len(cells)} cells, the first {cells[0].strip()[:40]!r}",
        against=f"{len(sheet.header)} columns in the header",
        likely="a decimal comma, or a separator in a text without quotes"
        if longer
        else "a separator left out, or the row cut short",
        mend="give every column of the header its cell; quote a text that holds the "
        "separator",
    )


def _quotes_fault(file: str, text: str, error: str) -> Finding:
    lines = io.StringIO(text)
    odd = next((n for n, line in enumerate(lines, 1) if line.count('"') % 2), 0)
    return Finding(
        "quotes-unbalanced",
        "fault",
        file,
        file=file,
        row=odd,
        line=odd,
        booked=error,
        against='a quoted cell ends with one " before the next separator',
        likely="a quotation mark inside a text, or an inch mark",
        mend='close the cell with ", and double a " that belongs to the text',
    )


def _empty(file: str) -> Finding:
    return Finding(
        "empty-file",
        "fault",
        file,
        file=file,
        booked="no header",
        against="a header line, then one row a thing",
        mend="delete the file, or fill it from  brasscap new --kind site",
    )


def _too_wide(file: str, row: int, line: int, count: int) -> Finding:
    return Finding(
        "too-many-columns",
        "fault",
        file,
        file=file,
        row=row,
        line=line,
        booked=f"{count} columns",
        against=f"at most {MOST_COLUMNS}",
        likely="the line ends are lost, or this is not a table",
        mend="save the table again with one line a row",
    )


def _commented_out(file: str, row: int, line: int, comment: str) -> Finding:
    return Finding(
        "row-commented-out",
        "query",
        f"row {row}",
        file=file,
        row=row,
        line=line,
        booked=comment[:80],
        against="a comment is prose; this one has as many cells as the header",
        likely="a row left out without a reason",
        mend="take the # away, and leave the row out by  brasscap decide leave-out",
    )
