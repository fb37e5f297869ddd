"""A file of pairs of marks: one pair a row, or the corners of a boundary in order."""

from collections.abc import Iterator, Mapping
from itertools import pairwise
from pathlib import Path

import numpy as np

from ...networks.covariances import Ints
from ...networks.errors import InputError
from ...networks.findings import Finding
from .sheet import Sheet, read_sheet
from .spelling import nearest

_PAIR, _IN_ORDER = ("from_station", "to_station"), "station"


def read_pairs(folder: Path, name: str, marks: Mapping[str, int]) -> Ints:
    """Return the pairs of marks that a file names.

    Either columns ``from_station`` and ``to_station``, a pair a row; or one column
    ``station``, the corners in order, each with the next; a boundary that closes
    names its first corner again at the end.

    Parameters
    ----------
    folder : Path
        The job's.
    name : str
        Of the file, relative to it.
    marks : mapping of str to int
        Number of each mark by its name.

    Returns
    -------
    ndarray of int, shape (P, 2)

    Raises
    ------
    InputError
        With every fault of the file.
    """
    try:
        content = (folder / name).read_bytes()
    except OSError as error:
        against = (error.strerror or "it cannot be read").lower()
        raise InputError([_fault("pairs-file", name, 0, name, against)]) from None
    sheet, findings = read_sheet(name, content)
    if sheet is None or any(f.verdict == "fault" for f in findings):
        raise InputError(findings)
    columns = [cell.strip() for cell in sheet.header]
    if set(_PAIR) <= set(columns):
        at = [columns.index(word) for word in _PAIR]
        named = [(row, [cells[k].strip() for k in at]) for row, cells in _rows(sheet)]
    elif _IN_ORDER in columns:
        k = columns.index(_IN_ORDER)
        corners = [(row, cells[k].strip()) for row, cells in _rows(sheet)]
        both = pairwise(corners)
        named = [(row, [before, corner]) for (_, before), (row, corner) in both]
    else:
        against = "from_station,to_station, or station for corners in order"
        booked = ",".join(columns)
        raise InputError([_fault("pairs-file", name, 1, booked, against)])
    faults = [fault for row, two in named for fault in _wrong(name, row, two, marks)]
    if not named:
        faults = [_fault("pairs-none", name, 0, "no pair", "two marks at the least")]
    if faults:
        raise InputError(faults)
    return np.array([[marks[station] for station in two] for _, two in named])


def _rows(sheet: Sheet) -> Iterator[tuple[int, list[str]]]:
    yield from zip(sheet.rows.tolist(), sheet.records, strict=True)


def _wrong(
    name: str, row: int, two: list[str], marks: Mapping[str, int]
) -> Iterator[Finding]:
    for station in two:
        if station not in marks:
            near = nearest(station, list(marks)) or ""
            yield _fault(
                "unknown-name", name, row, station or "empty", "a mark of the job", near
            )
    if two[0] == two[1] and two[0] in marks:
        yield _fault("pairs-file", name, row, two[0], "two different marks")


def _fault(
    slug: str, file: str, row: int, booked: str, against: str, likely: str = ""
) -> Finding:
    return Finding(
        slug,
        "fault",
        f"pairs file {file}",
        file=file,
        row=row,
        booked=booked,
        against=against,
        likely=likely,
        mend="name marks as in stations.csv, or use  --pairs all  or  --pairs adjacent",
    )
