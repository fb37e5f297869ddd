"""Which jobs of a field sheet were done: by the sheet's twin, or by a list."""

from dataclasses import dataclass
from pathlib import Path

from ..networks import Finding, InputError
from .additions import cannot_read
from .tables.sheet import Sheet, read_sheet

_NAMED = ("set_up", "station", "session", "support")
"""Columns that the twin fills in itself: they do not say that anything was done."""


@dataclass(frozen=True, slots=True)
class Finished:
    """One job that was done: its set-ups and marks, or the proposal that it was."""

    name: str
    set_ups: tuple[str, ...] = ()
    stations: tuple[str, ...] = ()
    proposal: str = ""


def read_finished(path: Path) -> tuple[Finished, ...]:
    """Return the jobs that a file says were done.

    Either the twin of a field sheet, where a row counts as soon as one of its cells is
    filled in beside the names; or a list with the column ``proposal``.

    Parameters
    ----------
    path : Path

    Raises
    ------
    InputError
        It cannot be read, is neither, or nothing in it was done.
    """
    try:
        content = path.read_bytes()
    except OSError as error:
        raise InputError([cannot_read(path, error)]) from error
    sheet, findings = read_sheet(path.name, content)
    if sheet is None or any(f.verdict == "fault" for f in findings):
        raise InputError(findings)
    header = [cell.strip() for cell in sheet.header]
    if {"set_up", "station", "session"} <= set(header):
        made = _by_twin(sheet, header)
    elif "proposal" in header:
        made = _by_list(sheet, header.index("proposal"))
    else:
        against = "the twin of a field sheet, or a list with the column proposal"
        raise InputError([_fault(path, ",".join(header), against)])
    if not made:
        raise InputError(
            [_fault(path, "no job", "a row with a height or a time in it")]
        )
    return made


def _by_twin(sheet: Sheet, header: list[str]) -> tuple[Finished, ...]:
    at = {name: header.index(name) for name in ("set_up", "station", "session")}
    said = [k for k, name in enumerate(header) if name not in _NAMED]
    jobs: dict[str, list[tuple[str, str]]] = {}
    for cells in sheet.records:
        if any(cells[k].strip() for k in said):
            name, station, session = (cells[k].strip() for k in at.values())
            jobs.setdefault(session, []).append((name, station))
    return tuple(
        Finished(
            session, tuple(name for name, _ in rows), tuple(place for _, place in rows)
        )
        for session, rows in jobs.items()
    )


def _by_list(sheet: Sheet, column: int) -> tuple[Finished, ...]:
    names = (cells[column].strip() for cells in sheet.records)
    return tuple(Finished(name, proposal=name) for name in dict.fromkeys(names) if name)


def _fault(path: Path, booked: str, against: str) -> Finding:
    return Finding(
        "done-file",
        "fault",
        f"file {path.name}",
        file=path.name,
        booked=booked,
        against=against,
        mend="name the sheet's filled-in .csv, or a list of proposals that were done",
    )
