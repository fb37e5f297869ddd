"""What `record compare` says: two issues side by side, in words and tables."""

from collections import Counter
from collections.abc import Mapping, Sequence
from typing import Any

from .content_compare_topo import judged_cells, shot_parts, shot_words
from .document import Column, Document, Paragraph, Part, Row, Section, Table
from .rounding import number

_SHOWN, _LONGEST = 50, 120
"""Rows of a table, letters of a cell; the object has all of them."""


def compare_document(found: Mapping[str, Any]) -> Document:
    """Return what changed from one record to another.

    Parameters
    ----------
    found : mapping
        The object of `brasscap/record-compare/1`.
    """
    one, other = found["records"]
    head = [
        Paragraph(
            f"{_name(side)}: issued {side['issued_utc']} by {side['issued_by']}, "
            f"result {side['verdict']}"
        )
        for side in (one, other)
    ]
    head += [Paragraph(line) for line in _words(found)]
    sections = [Section("", tuple(head))]
    for title, parts in (
        ("Input", _changes(found["inputs"])),
        ("Decisions", _changes(found["decisions"])),
        ("Criteria", _criteria(found["criteria"])),
        ("Coordinates", _coordinates(found)),
        ("Verdicts", _verdicts(found["verdicts"])),
        ("Shots", shot_parts(found["topo"])),
    ):
        if parts:
            sections.append(Section(title, parts))
    step = f"next: brasscap record verify {other['issue']}"
    sections.append(Section("", (Paragraph(step, "next"),)))
    title = f"From {_name(one)} to {_name(other)}: {_headline(found)}"
    return Document(title, tuple(sections))


def _name(side: Mapping[str, Any]) -> str:
    return f"issue {side['issue']}"


def _headline(found: Mapping[str, Any]) -> str:
    one, other = (side["verdict"] for side in found["records"])
    moved = sum(row["over"] for row in found["coordinates"])
    said = f"{moved} {'mark' if moved == 1 else 'marks'} beyond the limits"
    return f"{one} → {other}, {said}" if one != other else f"{one} still, {said}"


def _words(found: Mapping[str, Any]) -> list[str]:
    """Return what changed, a sentence for each kind of thing."""
    lines = [f"input: {_counted(found['inputs'])}"]
    lines.append(f"decisions: {_counted(found['decisions'])}")
    changed = ", ".join(one["criterion"] for one in found["criteria"])
    lines.append(f"criteria: {changed or 'the same'}")
    if found["coordinates_refused"]:
        lines.append(f"coordinates: not compared, {found['coordinates_refused']}")
    else:
        rows = found["coordinates"]
        over = sum(row["over"] for row in rows)
        said = f"{len(rows)} marks differ, {over} of them beyond the limits"
        lines.append(f"coordinates: {said if rows else 'the same'}")
    for word in ("added", "removed"):
        if found[f"marks_{word}"]:
            lines.append(f"marks {word}: {', '.join(found[f'marks_{word}'])}")
    count = len(found["verdicts"])
    lines.append(f"verdicts: {f'{count} differ' if count else 'the same'}")
    return lines + shot_words(found["topo"])


def _counted(changes: Sequence[Mapping[str, str]]) -> str:
    counts = Counter((one["table"], one["what"]) for one in changes)
    words = [f"{table}, {n} {what}" for (table, what), n in sorted(counts.items())]
    return "; ".join(words) or "the same"


def _changes(changes: Sequence[Mapping[str, str]]) -> tuple[Part, ...]:
    if not changes:
        return ()
    rows = tuple(
        Row(
            (
                one["table"],
                one["about"],
                one["what"],
                one["column"],
                _short(one["before"]),
                _short(one["after"]),
            )
        )
        for one in changes[:_SHOWN]
    )
    heads = ("table", "about", "what", "column", "before", "after")
    columns = tuple(Column(head, False) for head in heads)
    return (Table("what changed", columns, rows, _more(changes)),)


def _short(text: str) -> str:
    return text if len(text) <= _LONGEST else f"{text[:_LONGEST]} …"


def _more(rows: Sequence[Any]) -> str:
    more = len(rows) - _SHOWN
    return f"and {more} more; --json has all of them" if more > 0 else ""


def _criteria(changes: Sequence[Mapping[str, str]]) -> tuple[Part, ...]:
    if not changes:
        return ()
    rows = tuple(Row((o["criterion"], o["before"], o["after"])) for o in changes)
    columns = tuple(Column(head, False) for head in ("criterion", "before", "after"))
    return (Table("criteria that changed", columns, rows),)


def _coordinates(found: Mapping[str, Any]) -> tuple[Part, ...]:
    if not found["coordinates"]:
        return ()
    ways = ("north", "east", "height")
    rows = tuple(
        Row(
            (
                row["station"],
                *(text for way in ways for text in _pair(row, way)),
                "beyond" if row["over"] else "within",
            )
        )
        for row in found["coordinates"][:_SHOWN]
    )
    heads = [head for way in ways for head in (f"{way} (mm)", "± (mm)")]
    columns = (
        Column("station", False),
        *(Column(head) for head in heads),
        Column("limits", False),
    )
    caption = "second minus first; ± 95 %, both together as if they were independent"
    note = (
        "Two issues share observations as a rule, so the limits are on the wide side: "
        "what is beyond them has changed, what is within may have."
    )
    more = _more(found["coordinates"])
    return (Table(caption, columns, rows, f"{note} {more}".strip()),)


def _pair(row: Mapping[str, Any], way: str) -> tuple[str, str]:
    by, limit = row[f"{way}_mm"], row[f"limit_{way}_mm"]
    if by is None:
        return "", ""
    return number(by, "small mm"), number(limit, "small mm")


def _verdicts(changes: Sequence[Mapping[str, str]]) -> tuple[Part, ...]:
    if not changes:
        return ()
    rows = tuple(
        Row((one["about"], *judged_cells(one["before"]), *judged_cells(one["after"])))
        for one in changes[:_SHOWN]
    )
    heads = ("about", "", "before", "", "after")
    columns = tuple(Column(head, False) for head in heads)
    return (Table("judged otherwise", columns, rows, _more(changes)),)
