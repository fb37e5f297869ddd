"""What `stability` says: which marks moved, by how much, what would not be seen."""

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

from .content import quoted
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
from .objects_stability import overall
from .rounding import Units, number, percent

if TYPE_CHECKING:
    from ..adjust.follow.congruency import Congruency
    from ..adjust.follow.moved_marks import Movement
    from ..adjust.follow.stability import Part as Compared
    from ..adjust.follow.stability import Stability

_ROLES = {
    "stable": "stable",
    "moved": "moved",
    "undecided": "one of several moved",
    "watched": "not presumed stable",
}


def stability_document(
    found: "Stability",
    records: Sequence[str],
    unit: str = "m",
    notes: Sequence[Mapping[str, str]] = (),
) -> Document:
    """Return two epochs compared: verdict, evidence, numbers, next step.

    Parameters
    ----------
    found : Stability
    records : sequence of str
        As they were named.
    unit : str
        Of printed lengths.
    notes : sequence of mapping
        ``verdict`` and ``text`` of what weakens the comparison.
    """
    units = Units(unit)
    sections = [Section("", (*_premises(found, notes), Paragraph("")))]
    sections += [_section(part, found, units) for part in found.parts]
    if not found.parts:
        words = "the two records have no mark in common"
        sections.append(
            Section("", (VerdictLine("marks", Vial("unchecked"), "", words),))
        )
    verdict = overall(found, notes)
    step = f"next: {_next(found, verdict, records)}"
    sections.append(Section("", (Paragraph(step, "next"),)))
    title = f"Stability from record {records[0]} to {records[1]}: {verdict}"
    return Document(title, tuple(sections))


def _premises(
    found: "Stability", notes: Sequence[Mapping[str, str]]
) -> tuple[Part, ...]:
    kind = {
        "stated": "the stated covariances",
        "pooled": "the variance of both, pooled",
        "none": "nothing: the two are not equally good",
    }[found.scale.kind]
    words = (
        f"judged by {kind}; {percent(found.confidence)} limits; least movement seen "
        f"with power {percent(found.power)}"
    )
    parts: list[Part] = [Paragraph(words)]
    if found.scale_words:
        parts.append(Paragraph(found.scale_words))
    parts += [
        VerdictLine("premise", Vial(note["verdict"]), "", note["text"])
        for note in notes
    ]
    for which, names in (("first", found.only_first), ("second", found.only_second)):
        if names:
            parts.append(Paragraph(f"only in the {which}: {', '.join(names)}", "soft"))
    return tuple(parts)


def _section(part: "Compared", found: "Stability", units: Units) -> Section:
    parts: list[Part] = []
    if part.together is None or part.after is None:
        parts.append(VerdictLine(part.part, Vial("unchecked"), "", part.refused))
        return Section(part.part.capitalize(), tuple(parts))
    parts.append(_test_line("all together", part.together))
    for step in part.steps:
        twins = f"; or {', '.join(step.twins)}: they cannot be told apart"
        parts.append(
            Paragraph(
                f"without {step.station} T falls by {number(step.falls_by, 'limit')} "
                f"of {number(step.statistic, 'limit')}{twins if step.twins else ''}"
            )
        )
    if part.steps:
        parts.append(_test_line("the others", part.after))
    parts.append(Paragraph(f"{part.words}."))
    if part.marks:
        parts.append(_table(part, found, units))
    return Section(part.part.capitalize(), tuple(parts))


def _test_line(what: str, test: "Congruency") -> VerdictLine:
    words = (
        f"T {number(test.statistic, 'limit')}, limit {number(test.limit, 'limit')}, "
        f"{test.degrees_of_freedom} "
        f"{'degree' if test.degrees_of_freedom == 1 else 'degrees'} of freedom"
    )
    if test.verdict == "unchecked":
        words = "nothing to compare: too few marks, or no variance to judge by"
        return VerdictLine(what, Vial("unchecked"), "", words)
    vial = Vial(test.verdict, min(test.test, 1.0))
    return VerdictLine(what, vial, number(test.test, "test"), words)


def _table(part: "Compared", found: "Stability", units: Units) -> Table:
    ways = ("east", "north") if part.part == "plan" else ("height",)
    small = units.small_unit
    columns = [Column("station", False)]
    for way in ways:
        columns += [Column(f"{way} ({small})"), Column(f"± ({small})")]
    columns += [
        Column("test"),
        Column("verdict", False),
        Column(f"least movement seen ({small})"),
        Column("taken for", False),
    ]
    rows = tuple(_row(mark, units) for mark in part.marks)
    caption = (
        f"movement in {part.part}, second minus first, on the marks taken for stable; "
        f"± at {percent(found.confidence)} of each component alone"
    )
    note = "a movement common to all stable marks cannot be seen"
    return Table(caption, tuple(columns), rows, note)


def _row(mark: "Movement", units: Units) -> Row:
    cells: list[str | Vial] = [mark.station]
    for move, limit in zip(mark.move, mark.limit, strict=True):
        cells += [units.small(float(move)), units.small(float(limit))]
    least = units.small(mark.least) or "none would be"
    vial = Vial(mark.verdict, min(mark.test, 1.0) if mark.test == mark.test else 0.5)
    cells += [number(mark.test, "test"), vial, least, _ROLES[mark.role]]
    return Row(tuple(cells))


def _next(found: "Stability", verdict: str, records: Sequence[str]) -> str:
    moved = [
        mark.station
        for part in found.parts
        for mark in part.marks
        if mark.verdict == "fails"
    ]
    if verdict == "fails" and moved:
        return (
            f"look at {moved[0]} on the ground, then  "
            f"brasscap decide check-only 'known mark' {quoted(moved[0])} --reason …"
        )
    if verdict in ("fails", "unchecked"):
        return "survey more of the old marks, and compare again"
    if verdict == "query":
        return "look at the premises above, or survey the marks in doubt again"
    return f"brasscap record verify {records[1]}"
