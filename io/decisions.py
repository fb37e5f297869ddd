"""Rows added to ``decisions.csv``; what stands there is never changed."""

import csv
from collections.abc import Mapping
from io import StringIO
from pathlib import Path

from ..networks import Finding, InputError
from .files import write_whole

COLUMNS = (
    "decision",
    "when_utc",
    "who",
    "action",
    "about_kind",
    "about",
    "value",
    "reason",
    "evidence",
    "answers_query",
    "supersedes",
)
"""Of a new table, in order."""


def append_decision(folder: Path, row: Mapping[str, str]) -> None:
    """Add one row at the end of ``decisions.csv``, which is made if absent.

    The bytes before it stay as they are, whatever wrote them: separator, line ends
    and order of columns are taken from the file.

    Parameters
    ----------
    folder : Path
        The job's folder.
    row : mapping of str to str
        Column to text; a column that the table lacks must be empty.

    Raises
    ------
    InputError
        The table lacks a column that the row needs, or is not UTF-8.
    CannotWrite

    Examples
    --------
    >>> import tempfile
    >>> job = Path(tempfile.mkdtemp())
    >>> append_decision(job, {"decision": "K7F3", "who": "AB", "reason": "a, b"})
    >>> (job / "decisions.csv").read_text().splitlines()[1]
    'K7F3,,AB,,,,,"a, b",,,'
    """
    path = folder / "decisions.csv"
    before = path.read_bytes() if path.exists() else b""
    head = _header_line(before)
    if head is None:
        lead = before + (b"\n" if before and not before.endswith(b"\n") else b"")
        text = _line(COLUMNS, ",", "\n") + _line(_values(COLUMNS, row), ",", "\n")
        write_whole(path, lead + text.encode())
        return
    mark = next((m for m in "\t;" if m in head and "," not in head), ",")
    columns = [name.strip() for name in next(csv.reader([head], delimiter=mark))]
    missing = [name for name, text in row.items() if text and name not in columns]
    if missing:
        raise InputError([_lacks(head, missing)])
    end = "\r\n" if b"\r\n" in before else "\n"
    joint = "" if before.endswith(b"\n") else end
    text = joint + _line(_values(columns, row), mark, end)
    write_whole(path, before + text.encode())


def _header_line(raw: bytes) -> str | None:
    """Return the line of the headers: the first that is no comment; None if none."""
    try:
        lines = raw.decode("utf-8-sig").splitlines()
    except UnicodeDecodeError as error:
        raise InputError(
            [
                Finding(
                    "wrong-encoding",
                    "fault",
                    "decisions",
                    file="decisions.csv",
                    booked=f"byte {error.start + 1}",
                    against="UTF-8",
                    mend="save the table as UTF-8; nothing was written",
                )
            ]
        ) from None
    sound = (line for line in lines if line.strip() and not line.startswith("#"))
    return next(sound, None)


def _values(columns: tuple[str, ...] | list[str], row: Mapping[str, str]) -> list[str]:
    return [row.get(name, "") for name in columns]


def _line(cells: tuple[str, ...] | list[str], mark: str, end: str) -> str:
    memory = StringIO()
    csv.writer(memory, delimiter=mark, lineterminator=end).writerow(cells)
    return memory.getvalue()


def _lacks(head: str, missing: list[str]) -> Finding:
    return Finding(
        "missing-column",
        "fault",
        "decisions",
        file="decisions.csv",
        booked=head,
        against=f"columns {', '.join(missing)}",
        likely="the headers were typed by hand",
        mend=f"add {', '.join(missing)} to the headers; nothing was written",
    )
