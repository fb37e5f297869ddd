"""A control sheet for each mark: what a stranger must know before relying on it."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace

from .content import title
from .content_mark_checks import checked_line, checks_facts, tests_parts
from .content_mark_places import Places, place_facts, places_of, places_table
from .content_mark_role import decision_facts, role_facts
from .content_marks import known_table, marks_table
from .content_reliability import Hidden
from .document import (
    Document,
    Facts,
    Paragraph,
    Part,
    Section,
    VerdictLine,
    Vial,
    anchor,
)
from .glossary import CAUTIONS
from .heading import Heading
from .judged import Judged
from .mark_notes import MarkNotes, cautions_of
from .mark_things import AtMark, at_marks
from .rounding import Units
from .words import frame_words

COMPUTED = (
    "Computed, not certified. Whether this mark may be used, and for what, the "
    "licensed person in charge decides; local rules come first."
)
"""What ends every sheet."""
FAILS = (
    "The solution behind these figures fails its own tests: settle that before "
    "anything relies on this mark."
)


def sheeted(judged: Judged) -> list[int]:
    """Return the marks that have a sheet: all but where an instrument stood free."""
    status = judged.network.marks.status
    return [i for i, said in enumerate(status) if said != "free station"]


def sheets_documents(
    judged: Judged,
    hidden: Hidden,
    heading: Heading,
    notes: Mapping[str, MarkNotes],
    most: int = 500,
) -> Iterator[Document]:
    """Yield the control sheets, a section each, after a page that lists them.

    Parameters
    ----------
    judged : Judged
    hidden : Hidden
        With what observations and set-ups could hide.
    heading : Heading
    notes : mapping of str to MarkNotes
        Of the marks, by name.
    most : int, optional
        Sheets in one document.
    """
    here, places = at_marks(judged), places_of(judged)
    names, every = judged.network.marks.name, sheeted(judged)
    foot = f"input {heading.input_hash[:16]}" if heading.input_hash else ""
    for first in range(0, len(every), most):
        chosen = every[first : first + most]
        sheets = [
            Section(
                f"Mark {names[mark]}",
                (
                    *_said(judged, mark, here[mark], heading, notes),
                    *_figures(judged, hidden, places, mark, here[mark], heading),
                    *_compared(judged, names[mark], heading.units),
                    _ended(heading),
                ),
                anchor("sheet", names[mark]),
            )
            for mark in chosen
        ]
        yield Document(
            f"Control sheets: {heading.title or 'control'}",
            (_front(judged, heading, chosen), *sheets),
            foot,
        )


def _front(judged: Judged, heading: Heading, chosen: Sequence[int]) -> Section:
    """Return the page before the sheets: the solution, and every mark of them."""
    whole = [marks_table(judged, heading.units, mark) for mark in chosen]
    rows = tuple(
        replace(row, anchor="", link=anchor("sheet", str(row.cells[0])))
        for table in whole
        for row in table.rows
    )
    facts = [
        ("solution", title(judged)),
        ("surveyor in charge", heading.in_charge),
        ("frame", frame_words(judged, heading.unit)),
        ("input", f"hash {heading.input_hash[:16] or 'not computed'}"),
        *([("dated", heading.dated)] if heading.dated else []),
    ]
    parts: list[Part] = [Facts(tuple(facts)), _verdict(judged)]
    if whole:
        parts.append(replace(whole[0], rows=rows, note=""))
    parts += [Paragraph(words) for words in CAUTIONS]
    return Section("Marks", tuple(parts), "marks")


def _verdict(judged: Judged) -> VerdictLine:
    return VerdictLine(
        "solution",
        Vial(judged.verdict),
        "",
        "variance factor, blunder tests and known marks together; the report has each",
    )


def _said(
    judged: Judged,
    mark: int,
    here: AtMark,
    heading: Heading,
    notes: Mapping[str, MarkNotes],
) -> list[Part]:
    """Return what is booked of a mark, who decided what of it, and what to mind."""
    marks = judged.network.marks
    name = marks.name[mark]
    note, description = notes.get(name, MarkNotes()), marks.description[mark]
    booked = [
        ("mark", note.kind or "kind not booked"),
        *([("stamping", note.stamping)] if note.stamping else []),
        ("status", marks.status[mark] or "not booked"),
        ("description", description or "not booked"),
        *([("ties", note.ties)] if note.ties else []),
        ("access", note.access or "not booked"),
        *([("sky", note.sky)] if note.sky else []),
        *((f"file {file}", said) for file, said in note.files),
        ("observed (UTC)", note.observed or "no date booked"),
        *role_facts(judged, mark, heading),
        *decision_facts(judged, mark, here, heading),
    ]
    cautions = cautions_of("; ".join((description, note.access, note.sky)))
    minded = [Paragraph(f"Caution. {words}", "caution") for words in cautions]
    return [Facts(tuple(booked)), *minded]


def _figures(
    judged: Judged,
    hidden: Hidden,
    places: Places,
    mark: int,
    here: AtMark,
    heading: Heading,
) -> list[Part]:
    units, name = heading.units, judged.network.marks.name[mark]
    parts: list[Part] = [
        Paragraph(f"{title(judged)}. {frame_words(judged, heading.unit)}", "soft"),
        *([Paragraph(FAILS, "caution")] if judged.verdict == "fails" else []),
        places_table(judged, places, mark, units),
    ]
    facts = place_facts(judged, places, mark, units)
    if facts:
        parts.append(Facts(tuple(facts)))
    return [
        *parts,
        checked_line(judged, mark),
        checks_facts(judged, hidden, mark, here, units),
        *tests_parts(judged, here, name, units),
    ]


def _compared(judged: Judged, name: str, units: Units) -> list[Part]:
    """Return known minus survey of a mark; nothing for one that is held or new."""
    known = known_table(judged, units, name)
    return [known] if known else []


def _ended(heading: Heading) -> Part:
    who = f"Surveyor in charge: {heading.in_charge}."
    return Paragraph(f"{COMPUTED} {who} {CAUTIONS[1]}")
