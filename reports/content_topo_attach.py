"""What `topo attach` says: what each shot hangs on, and where the line breaks."""

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from .document import (
    Column,
    Document,
    Found,
    Paragraph,
    Part,
    Row,
    Section,
    Table,
    VerdictLine,
    Vial,
)
from .heading import Heading

if TYPE_CHECKING:
    from ..adjust.follow import Hung
    from ..adjust.follow.descent import Instrument
    from ..networks.covariances import Ints

MOST_ROWS = 20
NO_RECORD = "not yet in a record"
ANEW = "no need"
_OF_RECORDS = ("record-changed", "record-not-there")


def attach_document(
    hung: "Hung", heading: Heading, stood: "Sequence[Instrument]" = ()
) -> Document:
    """Return what `topo attach` prints.

    Parameters
    ----------
    hung : Hung
    heading : Heading
        Its findings are those of the shots.
    stood : sequence of Instrument
        Those of polar shots.
    """
    bad, gone = (any(f.slug == s for f in heading.findings) for s in _OF_RECORDS)
    parts: list[Part] = [descent_line(hung, stood), carriers_table(hung, stood)]
    if bad or gone:
        parts.insert(1, _records_line(bad))
    broken = broken_table(hung)
    parts += [broken] if broken is not None else []
    parts += [Found(f) for f in heading.findings if f.verdict != "note"]
    step = next((f.mend for f in heading.findings if f.slug in _OF_RECORDS), "")
    parts.append(Paragraph(f"next: {step or _next(hung)}", "next"))
    title = f"Lines of descent of {len(hung.shots) + _polar(stood)} shots"
    return Document(
        f"{title} — {heading.title}" if heading.title else title,
        (Section("", tuple(parts)),),
    )


def _records_line(changed: bool) -> VerdictLine:
    """Return what is wrong with the records that shots name."""
    if changed:
        said = "one that shots name is not as it was recorded"
        return VerdictLine("records", Vial("fails"), "", said)
    return VerdictLine("records", Vial("query"), "", "one that shots name is not there")


def _polar(stood: "Sequence[Instrument]") -> int:
    return sum(len(one.shots) for one in stood)


def descent_line(hung: "Hung", stood: "Sequence[Instrument]" = ()) -> VerdictLine:
    """Return whether every shot hangs on the control, and on which record."""
    found, polar = hung.descent, _polar(stood)
    lost = int((~found.whole).sum())
    free = int((found.record == 0).sum())
    count = len(hung.shots) + polar
    said = f"{count - lost} of {count} shots reach a mark"
    if len(hung.shots):
        said += f"; {free} {NO_RECORD}" if free else "; each names its record"
    if polar:
        said += f"; {polar} polar shots need none: they are computed from the control"
    return VerdictLine("descent", Vial("query" if lost else "meets"), "", said)


def carriers_table(hung: "Hung", stood: "Sequence[Instrument]" = ()) -> Table:
    """Return each base, real-time network and instrument, its marks, its shots."""
    shots, bases, found = hung.shots, hung.bases, hung.descent
    names = hung.adjustment.network.marks.name
    rows = []
    for k, base in enumerate(bases.name):
        mine = np.flatnonzero(shots.base == k)
        mark = names[bases.mark[k]] if bases.mark[k] >= 0 else "none"
        rows.append(_carrier("base", base, mark, mine, hung))
    for k, service in enumerate(shots.service.names):
        mine = np.flatnonzero(shots.service.number == k)
        marks = ", ".join(names[m] for m in found.service_marks[k]) or "none"
        rows.append(_carrier("real-time network", service, marks, mine, hung))
    rows += [
        Row(("instrument", one.name, ", ".join(one.marks), str(len(one.shots)), ANEW))
        for one in stood
    ]
    return Table(
        "what the shots hang on; a real-time network hangs on its check shots at "
        "marks, a free station on the marks that it sighted",
        (
            Column("kind", number=False),
            Column("name", number=False),
            Column("marks", number=False),
            Column("shots"),
            Column("record", number=False),
        ),
        tuple(rows),
    )


def _carrier(kind: str, name: str, marks: str, mine: "Ints", hung: "Hung") -> Row:
    return Row((kind, name, marks, str(len(mine)), _records(hung, mine)))


def _records(hung: "Hung", mine: "Ints") -> str:
    numbers = np.unique(hung.descent.record[mine]).tolist()
    return ", ".join(f"issue {n}" if n else NO_RECORD for n in numbers)


def broken_table(hung: "Hung") -> Table | None:
    """Return the shots that hang on nothing, by reason."""
    reasons: dict[str, list[int]] = {}
    for i, words in enumerate(hung.descent.broken):
        if words:
            reasons.setdefault(words, []).append(i)
    if not reasons:
        return None
    rows = []
    for words, some in reasons.items():
        named = [hung.shots.name[i] for i in some[:MOST_ROWS]]
        more = f" and {len(some) - len(named)} more" if len(some) > len(named) else ""
        rows.append(Row((words, str(len(some)), ", ".join(named) + more)))
    return Table(
        "shots that hang on nothing: they cannot be judged or moved",
        (
            Column("why", number=False),
            Column("shots"),
            Column("which", number=False, below=True),
        ),
        tuple(rows),
    )


def _next(hung: "Hung") -> str:
    if not hung.descent.whole.all():
        first = int(np.flatnonzero(~hung.descent.whole)[0])
        from .content import quoted

        return f"brasscap show shot {quoted(hung.shots.name[first])}"
    return "brasscap topo check"
