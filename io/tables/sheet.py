"""Bytes of a table file to its rows of cells, and everything wrong with that."""

import csv
import io
import re
from array import array
from collections.abc import Iterator
from dataclasses import dataclass, field

import numpy as np

from ...networks.covariances import Ints
from ...networks.findings import Finding
from .grid import Grid, grid_of
from .lines import Lines, regular_rows

MOST_COLUMNS = 300
"""No table has as many; a longer header is something else."""

_SEPARATORS = {",": "comma", ";": "semicolon", "\t": "tab"}
_CONTROL = re.compile(rb"[\x00-\x08\x0b\x0c\x0e-\x1f\x7f]")
_MARK = b"\xef\xbb\xbf"
"""Byte order mark of UTF-8."""


@dataclass(frozen=True)
class Sheet:
    """The cells of one file; comment lines and empty rows are left out."""

    file: str
    header: list[str]
    header_row: int = 1
    header_line: int = 1
    grid: Grid = field(default_factory=lambda: grid_of([]))
    """Rows with as many cells as the header."""
    rows: Ints = field(default_factory=lambda: np.zeros(0, dtype=np.int64))
    """Row of each, as a spreadsheet shows it."""
    lines: Ints = field(default_factory=lambda: np.zeros(0, dtype=np.int64))
    """Line of the file on which each begins."""

    @property
    def records(self) -> list[list[str]]:
        """The cells of every row, for small files."""
        return [self.grid.record(i) for i in range(len(self.grid))]


Comment = tuple[int, int, str]
"""Row as a spreadsheet shows it, line of the file, text."""
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
    >>> sheet.header, sheet.records, sheet.rows.tolist()
    (['station', 'status'], [['T1', 'found']], [2])
    """
    clean, findings = _cleaned(file, content)
    if clean is None:
        return None, findings
    separator, findings = _separator(file, clean)
    try:
        if b'"' in clean:
            sheet, found, comments = _quoted(file, clean, separator, ragged)
        else:
            sheet, found, comments = _unquoted(file, clean, separator, ragged)
    except csv.Error as error:
        return None, [*findings, _quotes_fault(file, clean.decode(), str(error))]
    findings += found
    if sheet is not None:
        commas = len(sheet.header) - 1
        findings += [
            _commented_out(file, *comment)
            for comment in comments
            if comment[0] > sheet.header_row
            and comment[2].count(separator) == commas > 1
        ]
    return sheet, findings


def _cleaned(file: str, content: bytes) -> tuple[bytes | None, list[Finding]]:
    """Return UTF-8 without a byte order mark, its lines ended alike."""
    if content[:2] in (b"\xff\xfe", b"\xfe\xff"):
        return None, [_encoding(file, 1, "UTF-16", "UTF-16")]
    if not content.isascii():
        try:
            content.decode()
        except UnicodeDecodeError as error:
            line = content.count(b"\n", 0, error.start) + 1
            booked = f"byte {content[error.start]:#04x}"
            return None, [_encoding(file, line, booked, "Windows-1252 or ISO 8859-1")]
    clean = content.removeprefix(_MARK)
    if b"\r" in clean:
        clean = clean.replace(b"\r\n", b"\n").replace(b"\r", b"\n")
    if found := _CONTROL.search(clean):
        line = clean.count(b"\n", 0, found.start()) + 1
        booked = f"control character {ord(found.group()):#04x}"
        return None, [_encoding(file, line, booked, "UTF-16, or not a text file")]
    return clean, []


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


def _separator(file: str, content: bytes) -> tuple[str, list[Finding]]:
    lines = enumerate((line.decode().strip() for line in io.BytesIO(content)), 1)
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


_Read = tuple[Sheet | None, list[Finding], list[Comment]]


def _unquoted(file: str, content: bytes, separator: str, ragged: bool) -> _Read:
    """Return sheet, findings and comments of a file without quotation marks."""
    number, at = 0, 0
    for line in io.BytesIO(content):
        number, at = number + 1, at + len(line)
        bare = line.decode().strip()
        if bare[:1] != "#" and bare.strip(separator):
            break
    else:
        return None, [_empty(file)], []
    header = _header(line.decode().rstrip("\n").split(separator))
    if len(header) > MOST_COLUMNS:
        return None, [_too_wide(file, number, number, len(header))], []
    lines = Lines(content, separator, len(header), number, at)
    findings: list[Finding] = []
    comments: list[Comment] = []

    def odd(line: int, text: str) -> int:
        bare = text.strip()
        if bare[:1] == "#":
            comments.append((line, line, bare))
        elif bare.strip(separator):
            cells = text.split(separator)
            kept = _kept(cells, len(header), ragged)
            if kept:
                return kept
            findings.append(_ragged(file, len(header), (line, line, cells)))
        return 0

    first, last, numbers = regular_rows(lines, odd)
    grid = Grid(content, separator, first, last, len(header))
    sheet = Sheet(file, header, number, number, grid, numbers, numbers)
    return sheet, findings, comments


def _header(cells: list[str]) -> list[str]:
    while cells and not cells[-1].strip():
        cells.pop()
    return cells


def _kept(cells: list[str], width: int, ragged: bool) -> int:
    """Return how many cells of a row are kept; 0 where it cannot be used."""
    if len(cells) > width and not any(cell.strip() for cell in cells[width:]):
        return width
    fits = len(cells) == width or (ragged and len(cells) < width)
    return len(cells) if fits else 0


def _quoted(file: str, content: bytes, separator: str, ragged: bool) -> _Read:
    """Return the same of a file in which cells are quoted, a row at a time."""
    comments: list[Comment] = []
    records = _quoted_records(content.decode(), separator, comments)
    row, line, cells = next(records, (0, 0, []))
    if not row:
        return None, [_empty(file)], comments
    header = _header(cells)
    if len(header) > MOST_COLUMNS:
        return None, [_too_wide(file, row, line, len(header))], comments
    findings = []
    body, ends, rows, lines = bytearray(), array("q"), array("q"), array("q")
    for row_number, line_number, cells in records:
        kept = _kept(cells, len(header), ragged)
        if not kept:
            record = row_number, line_number, cells
            findings.append(_ragged(file, len(header), record))
            continue
        body += "\x1f".join(cells[:kept]).encode()
        ends.append(len(body))
        rows.append(row_number)
        lines.append(line_number)
    last = np.array(ends, dtype=np.int64)
    first = np.r_[np.int64(0), last][:-1]
    grid = Grid(bytes(body), "\x1f", first, last, len(header))
    at = (np.array(some, dtype=np.int64) for some in (rows, lines))
    return Sheet(file, header, row, line, grid, *at), findings, comments


def _quoted_records(
    text: str, separator: str, comments: list[Comment]
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


def _ragged(file: str, width: int, record: Record) -> Finding:
    row, line, cells = record
    longer = len(cells) > width
    return Finding(
        "ragged-row",
        "fault",
        f"row {row}",
        file=file,
        row=row,
        line=line,
        booked=f"{len(cells)} cells, the first {cells[0].strip()[:40]!r}",
        against=f"{width} columns in the header",
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
