"""Covariances given as a triangle: ``covariances/NAME.csv`` in matrix form."""

from dataclasses import dataclass

import numpy as np

from ...networks.findings import Finding
from ...networks.units import UNITS, convert, units_of
from .schema import schemas, split_header
from .sheet import Sheet
from .table import Floats

_TABLES = ("control", "positions", "baselines")
_AXES = frozenset(("x", "y", "z", "e", "n", "u", "north", "east", "height"))


@dataclass(frozen=True)
class Matrix:
    """A symmetric covariance matrix of axes of rows of one table.

    The first cell of the file says table and unit: ``baselines cov_mm2``; the rest
    of the heading, and the first cell of each row, a name and an axis: ``B17 x``.
    """

    file: str
    table: str
    rows: tuple[str, ...]
    """(n,) name of the row of that table."""
    axes: tuple[str, ...]
    """(n,) its axis."""
    covariance: Floats
    """(n, n) m², both triangles."""
    line: tuple[int, ...]
    """(n,) line of the file."""


def is_matrix(content: bytes) -> bool:
    """Return whether a file of covariances is a triangle rather than a list."""
    lines = content.removeprefix(b"\xef\xbb\xbf").splitlines()
    header = next((t for t in lines if t.strip() and t.lstrip()[:1] != b"#"), b"")
    return bool(header) and b"axis" not in header.lower()


def read_matrix(sheet: Sheet) -> tuple[Matrix | None, list[Finding]]:
    r"""Return the matrix of a sheet, or None and its faults.

    Examples
    --------
    >>> from brasscap.io.tables.sheet import read_sheet
    >>> table = b"positions m2,P1 x,P1 y\nP1 x,4\nP1 y,1,9\n"
    >>> sheet, _ = read_sheet("covariances/S4.csv", table, ragged=True)
    >>> matrix, findings = read_matrix(sheet)
    >>> matrix.rows, matrix.axes, matrix.covariance.tolist()
    (('P1', 'P1'), ('x', 'y'), [[4.0, 1.0], [1.0, 9.0]])
    """
    corner = sheet.header[0].strip()
    table, _, unit_text = corner.rpartition(" ")
    unit = split_header(unit_text)[1] or unit_text
    findings = _check_corner(sheet, corner, table, unit)
    labels = [cell.strip() for cell in sheet.header[1:]]
    parts = [label.rpartition(" ") for label in labels]
    for label, (name, _, axis) in zip(labels, parts, strict=True):
        if not name or axis not in _AXES:
            findings.append(
                _fault(
                    sheet,
                    "matrix-label-not-understood",
                    label,
                    "a name, a blank and an axis: B17 x",
                    "write name and axis with a blank between",
                )
            )
    if len(set(labels)) < len(labels):
        twice = next(label for label in labels if labels.count(label) > 1)
        findings.append(
            _fault(
                sheet,
                "duplicate-name",
                twice,
                "each name and axis once",
                "take one of the two out, row and column",
            )
        )
    if findings:
        return None, findings
    covariance, findings = _triangle(sheet, labels, unit)
    if findings:
        return None, findings
    names, _, axes = zip(*parts, strict=True) if parts else ((), (), ())
    matrix = Matrix(
        sheet.file, table, names, axes, covariance, tuple(sheet.lines.tolist())
    )
    return matrix, []


def _check_corner(sheet: Sheet, corner: str, table: str, unit: str) -> list[Finding]:
    if table in _TABLES and unit in units_of("variance"):
        return []
    return [
        _fault(
            sheet,
            "matrix-corner-not-understood",
            corner,
            f"one of {', '.join(_TABLES)}, then cov_mm2 or cov_m2; for a list, the "
            "columns " + ", ".join(c.header for c in schemas()["covariances"].columns),
            "say table and unit in the first cell: baselines cov_mm2",
        )
    ]


def _triangle(
    sheet: Sheet, labels: list[str], unit: str
) -> tuple[Floats, list[Finding]]:
    n = len(labels)
    findings = []
    if len(sheet.grid) != n:
        findings.append(
            _fault(
                sheet,
                "matrix-wrong-size",
                f"{len(sheet.grid)} rows",
                f"{n} rows, as many as the heading has names",
                "give every name of the heading its row",
            )
        )
    matrix = np.full((n, n), np.nan)
    for k, cells in enumerate(sheet.records[:n]):
        label = cells[0].strip()
        if label != labels[k]:
            findings.append(
                _row_fault(
                    sheet, k, "matrix-label-differs", label, labels[k], "heading order"
                )
            )
        findings += _fill(sheet, matrix, k, cells[1:], unit)
    upper = np.isfinite(matrix.T) & np.isfinite(matrix) & (matrix != matrix.T)
    for k in map(int, np.flatnonzero(upper.any(axis=1))):
        column = int(np.flatnonzero(upper[k])[0])
        if column < k:
            text = sheet.grid.record(k)[column + 1].strip()
            against = (
                f"{sheet.grid.record(column)[k + 1].strip()} in the other triangle"
            )
            findings.append(
                _row_fault(
                    sheet, k, "matrix-not-symmetric", text, against, "both equal"
                )
            )
    lower = np.tril(np.nan_to_num(matrix)) if not findings else matrix
    return lower + np.tril(lower, -1).T, findings


def _fill(
    sheet: Sheet, matrix: Floats, k: int, cells: list[str], unit: str
) -> list[Finding]:
    findings = []
    for column, cell in enumerate(cells):
        text = cell.strip()
        try:
            if text:
                matrix[k, column] = convert(text, unit)
                continue
        except ValueError:
            words = f"a number in {UNITS[unit].words}"
            findings.append(
                _row_fault(sheet, k, "not-a-number", text, words, "the source")
            )
    lacking = np.flatnonzero(np.isnan(matrix[k, : k + 1]))
    if len(lacking) and not findings:
        label = sheet.header[int(lacking[0]) + 1].strip()
        findings.append(
            _row_fault(
                sheet,
                k,
                "missing-value",
                f"no covariance with {label}",
                "the whole lower triangle; 0 where there is none",
                "the source",
            )
        )
    return findings


def _row_fault(
    sheet: Sheet, k: int, slug: str, booked: str, against: str, compare: str
) -> Finding:
    return Finding(
        slug,
        "fault",
        f"covariance {sheet.grid.record(k)[0].strip()}",
        file=sheet.file,
        row=int(sheet.rows[k]),
        line=int(sheet.lines[k]),
        booked=booked,
        against=against,
        mend=f"compare with {compare}",
    )


def _fault(sheet: Sheet, slug: str, booked: str, against: str, mend: str) -> Finding:
    return Finding(
        slug,
        "fault",
        f"matrix {sheet.file}",
        file=sheet.file,
        row=sheet.header_row,
        line=sheet.header_line,
        booked=booked,
        against=against,
        mend=mend,
    )
