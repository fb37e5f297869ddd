"""Bytes of a table file to its rows of cells, and everything wrong with that."""

import csv
import io
import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from functools import partial

from ...networks.findings import Finding

_SEPARATORS = {",": "comma", ";": "semicolon", "\t": "tab"}
_CONTROL = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\x7f]")


@dataclass
class Sheet:
    """The cells of one file; comment lines and empty rows are left out."""

    file: str
    header: list[str] = field(default_factory=list)
    header_row: int = 0
    header_line: int = 0
    records: list[list[str]] = field(default_factory=list)
    """Rows with as many cells as the header."""
    rows: list[int] = field(default_factory=list)
    lines: list[int] = field(default_factory=list)
    findings: list[Finding] = field(default_factory=list)


Record = tuple[int, int, list[str]]
"""Row as a spreadsheet shows it, line of the file, cells."""


def read_sheet(file: str, content: bytes, *, ragged: bool = False) -> Sheet:
    r"""Return the rows of a file; what is wrong stands in its findings.

    Parameters
    ----------
    file : str
        Its name, for messages.
    content : bytes
    ragged : bool
        Whether rows may be shorter than the header: the triangle of a matrix.

    Examples
    --------
    >>> sheet = read_sheet("stations.csv", b"station,status\nT1,found\n")
    >>> sheet.header, sheet.records, sheet.rows
    (['station', 'status'], [['T1', 'found']], [2])
    """
    sheet = Sheet(file)
    text = _decode(sheet, content)
    if text is None:
        return sheet
    separator = _separator(sheet, text)
    comments: list[tuple[int, int, str]] = []
    try:
        records = list(_records(text, separator, comments))
    except csv.Error as error:
        _quotes_fault(sheet, text, str(error))
        return sheet
    if not records:
        sheet.findings.append(_empty(file))
        return sheet
    sheet.header_row, sheet.header_line, sheet.header = records[0]
    _keep_rows(sheet, records[1:], ragged)
    for row, line, comment in comments:
        if comment.count(separator) == len(sheet.header) - 1 > 1 and row > (
            sheet.header_row
        ):
            sheet.findings.append(_commented_out(file, row, line, comment))
    return sheet


def _decode(sheet: Sheet, content: bytes) -> str | None:
    fault = partial(
        Finding,
        "wrong-encoding",
        "fault",
        sheet.file,
        file=sheet.file,
        against="UTF-8",
        mend="save the file again as CSV UTF-8",
    )
    if content[:2] in (b"\xff\xfe", b"\xfe\xff"):
        sheet.findings.append(fault(line=1, booked="UTF-16", likely="UTF-16"))
        return None
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = content.count(b"\n", 0, error.start) + 1
        booked = f"byte {content[error.start]:#04x}"
        likely = "Windows-1252 or ISO 8859-1"
        sheet.findings.append(fault(row=line, line=line, booked=booked, likely=likely))
        return None
    if found := _CONTROL.search(text):
        line = text.count("\n", 0, found.start()) + 1
        booked = f"control character {ord(found.group()):#04x}"
        likely = "UTF-16, or not a text file"
        sheet.findings.append(fault(row=line, line=line, booked=booked, likely=likely))
        return None
    return text


def _separator(sheet: Sheet, text: str) -> str:
    lines = (line.strip() for line in io.StringIO(text))
    header = next((line for line in lines if line and line[0] != "#"), "")
    bare = re.sub(r'"[^"]*"', "", header)
    used = [mark for mark in _SEPARATORS if mark in bare]
    if len(used) > 1:
        sheet.findings.append(
            Finding(
                "mixed-separators",
                "fault",
                sheet.file,
                file=sheet.file,
                row=text.count("\n", 0, text.find(header)) + 1,
                line=text.count("\n", 0, text.find(header)) + 1,
                booked=" and ".join(_SEPARATORS[mark] for mark in used),
                against="one separator throughout",
                mend="keep one separator between the cells of the header and all rows",
            )
        )
    return max(used, key=bare.count) if used else ","


def _records(
    text: str, separator: str, comments: list[tuple[int, int, str]]
) -> Iterator[Record]:
    """Yield rows that hold something; comment lines go into ``comments``."""
    if '"' in text:
        yield from _quoted_records(text, separator, comments)
        return
    lines = text.replace("\r\n", "\n").replace("\r", "\n").split("\n")
    for number, line in enumerate(lines, 1):
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
        for line in io.StringIO(text, newline=""):
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


def _keep_rows(sheet: Sheet, records: list[Record], ragged: bool) -> None:
    while sheet.header and not sheet.header[-1].strip():
        sheet.header.pop()
    width = len(sheet.header)
    for row, line, cells in records:
        if len(cells) > width and not any(cell.strip() for cell in cells[width:]):
            del cells[width:]
        if len(cells) == width or (ragged and len(cells) < width):
            sheet.records.append(cells)
            sheet.rows.append(row)
            sheet.lines.append(line)
        else:
            sheet.findings.append(_ragged(sheet, row, line, cells))


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


def _quotes_fault(sheet: Sheet, text: str, error: str) -> None:
    lines = io.StringIO(text, newline="")
    odd = next((n for n, line in enumerate(lines, 1) if line.count('"') % 2), 0)
    sheet.findings.append(
        Finding(
            "quotes-unbalanced",
            "fault",
            sheet.file,
            file=sheet.file,
            row=odd,
            line=odd,
            booked=error,
            against='a quoted cell ends with one " before the next separator',
            likely="a quotation mark inside a text, or an inch mark",
            mend='close the cell with ", and double a " that belongs to the text',
        )
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
