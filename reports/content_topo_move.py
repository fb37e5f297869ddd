"""What `topo move` says: which shots moved with their control, and which did not."""

from collections import Counter
from typing import TYPE_CHECKING

import numpy as np

from .content_topo_tables import MOST_ROWS, more_words
from .document import (
    Column,
    Document,
    Paragraph,
    Part,
    Row,
    Section,
    Table,
    VerdictLine,
    Vial,
)
from .heading import Heading
from .rounding import Units

if TYPE_CHECKING:
    from ..adjust.follow.moved_day import MovedDay
    from ..adjust.follow.moving import Moved


def move_document(
    day: "MovedDay", heading: Heading, file: str, again: bool
) -> Document:
    """Return what `topo move` prints.

    Parameters
    ----------
    day : MovedDay
    heading : Heading
    file : str
        Where the moved shots are.
    again : bool
        Whether that file was there already, the same.
    """
    units, moved = heading.units, day.shots
    parts: list[Part] = [_line(day, again)]
    parts.append(_marks_table(moved, units))
    counts = Counter(words for words in day.by if words)
    parts += [
        Paragraph(f"{n} point{'s' * (n > 1)}: {words}") for words, n in counts.items()
    ]
    if day.moved.any():
        parts.append(_points_table(day, units))
    untouched = _untouched_table(day)
    parts += [untouched] if untouched is not None else []
    said = f"written: {file}; topo/ stays as booked"
    if again:
        said = f"{file} was there already, the same: nothing moves twice"
    parts.append(Paragraph(said))
    step = f"give {file} to whoever holds the old coordinates; topo/ keeps its record"
    parts.append(Paragraph(f"next: {step}", "next"))
    title = f"Shots from issue {moved.old.number} to issue {moved.new.number}"
    return Document(
        f"{title} — {heading.title}" if heading.title else title,
        (Section("", tuple(parts)),),
    )


def _line(day: "MovedDay", again: bool) -> VerdictLine:
    count, whole = int(day.moved.sum()), len(day.moved)
    kinds = Counter(_word(day.kind[i]) for i in np.flatnonzero(day.moved).tolist())
    said = f"{count} of {whole} points moved with their control"
    if count:
        words = (f"{n} {kind}{'s' * (n > 1)}" for kind, n in kinds.items())
        said += f": {', '.join(words)}"
    if count < whole:
        said += f"; {whole - count} untouched, listed below"
    if again:
        said += "; done before, nothing moves twice"
    return VerdictLine("moved", Vial("meets" if count else "query"), "", said)


def _word(kind: str) -> str:
    return kind if kind in ("shot", "polar shot") else "made point"


def _marks_table(moved: "Moved", units: Units) -> Table:
    unit = units.small_unit
    rows = tuple(
        Row(
            (
                one.station,
                *(units.small(float(x)) for x in one.shift[[1, 0, 2]]),
                *(units.small(float(x)) for x in one.sd[[1, 0, 2]]),
            )
        )
        for one in moved.shifts
    )
    ways = ("north", "east", "height")
    return Table(
        "what the revision did to the marks that shots hang on, new minus old; sd of "
        "the new place",
        (
            Column("mark", number=False),
            *(Column(f"{way} ({unit})") for way in ways),
            *(Column(f"sd {way} ({unit})") for way in ways),
        ),
        rows,
    )


def _points_table(day: "MovedDay", units: Units) -> Table:
    goes = np.flatnonzero(day.moved)
    rows = []
    for i in goes[:MOST_ROWS].tolist():
        before, after = day.before[i][[1, 0, 2]], day.after[i][[1, 0, 2]]
        rows.append(
            Row(
                (
                    day.name[i],
                    *(units.coordinate(float(x)) for x in before),
                    *(units.coordinate(float(x)) for x in after),
                )
            )
        )
    unit, old, new = units.unit, day.shots.old.number, day.shots.new.number
    ways = ("north", "east", "height")
    return Table(
        "before and after" + more_words(len(goes), len(rows)),
        (
            Column("point", number=False),
            *(Column(f"{way}, issue {old} ({unit})") for way in ways),
            *(Column(f"{way}, issue {new} ({unit})") for way in ways),
        ),
        tuple(rows),
    )


def _untouched_table(day: "MovedDay") -> Table | None:
    reasons: dict[str, list[str]] = {}
    for name, words in zip(day.name, day.why, strict=True):
        if words:
            reasons.setdefault(words, []).append(name)
    if not reasons:
        return None
    rows = []
    for words, names in reasons.items():
        more = len(names) - MOST_ROWS
        said = ", ".join(names[:MOST_ROWS]) + (f" and {more} more" if more > 0 else "")
        rows.append(Row((words, str(len(names)), said)))
    return Table(
        "untouched, by reason",
        (
            Column("why", number=False),
            Column("points"),
            Column("which", number=False, below=True),
        ),
        tuple(rows),
    )
