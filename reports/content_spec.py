"""What `spec` says: precision and reliability against what is asked, two verdicts."""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from ..networks.specifications import CLASSED, CLASSES
from .content_tests import factor_line
from .document import (
    Column,
    Document,
    Facts,
    Paragraph,
    Part,
    Row,
    Section,
    Table,
    VerdictLine,
    Vial,
)
from .heading import Heading
from .rounding import Units, number, percent
from .words import MODES
from .words_spec import class_words, limit_words, measure_words, statement

if TYPE_CHECKING:
    from ..adjust import Adjustment
    from ..adjust.precision.compliance import Compliance


@dataclass(frozen=True, slots=True)
class Held:
    """Specifications held against the solutions they ask for."""

    lines: "tuple[Compliance, ...]"
    """One for plan and one for height, of pairs and of marks."""
    worst: int = 10
    per_mark: bool = False
    statement: bool = False
    record: str = ""
    """The issue that stands, and its date, in words; empty for none."""

    @property
    def verdicts(self) -> tuple[str, ...]:
        """All verdicts: of the solutions, on precision and on reliability."""
        own = [
            worst_of(verdicts)
            for one in self.lines
            for verdicts in ((one.precision,) if one.limited else ())
            + ((one.reliability,) if one.limited or any(one.reliability) else ())
        ]
        return (*own, *(line.vial.verdict for line in solution_lines(self)))


_ORDER = ("meets", "query", "unchecked", "fails")


def worst_of(verdicts: tuple[str, ...]) -> str:
    """Return the worst of some verdicts; ``unchecked`` for none.

    Where nothing is limited there are no verdicts, but empty words.

    Examples
    --------
    >>> worst_of(("meets", "query", "meets")), worst_of(()), worst_of(("", ""))
    ('query', 'unchecked', '')
    """
    said = [one for one in verdicts if one]
    if said or not verdicts:
        return max(said, key=_ORDER.index, default="unchecked")
    return ""


def spec_document(held: Held, heading: Heading) -> Document:
    """Return what `spec` prints.

    Parameters
    ----------
    held : Held
    heading : Heading
    """
    units = heading.units
    parts: list[Part] = [*solution_lines(held), *verdict_lines(held, units)]
    parts.append(Paragraph(""))
    for one in held.lines:
        parts.append(table_of(one, held.worst, units))
        if one.specification.kind == "local accuracy":
            parts.append(averages_table(one, units))
        if held.per_mark and not one.of_marks:
            parts.append(per_mark_table(one, units))
    parts += basis_parts(held)
    if held.statement:
        said = statement(held.lines, heading, held.record)
        parts += [Paragraph(text) for text in said]
    parts.append(Paragraph(f"next: {next_step(held)}", "next"))
    title = "Does it meet the specification?"
    return Document(title, (Section("", tuple(parts)),))


SECTION_WORST = 5
"""Lines of each specification that a report shows."""


def spec_parts(held: Held, units: Units) -> tuple[Part, ...]:
    """Return the section of a report: both verdicts, worst lines, what they rest on.

    Parameters
    ----------
    held : Held
    units : Units
    """
    parts: list[Part] = list(verdict_lines(held, units))
    for one in held.lines:
        parts.append(table_of(one, SECTION_WORST, units))
        if one.specification.kind == "local accuracy":
            parts.append(averages_table(one, units))
    return (*parts, *basis_parts(held))


def solution_lines(held: Held) -> Iterator[VerdictLine]:
    """Yield the variance factor of each solution: what the precision rests on."""
    from ..adjust.judge import variance_factor_test

    for one in solutions_of(held):
        line = factor_line(variance_factor_test(one))
        yield replace(line, what=f"{one.datum.mode} solution: {line.what}")


def solutions_of(held: Held) -> "list[Adjustment]":
    """Return the solutions that were used, each once."""
    made = {one.adjustment.datum.mode: one.adjustment for one in held.lines}
    return list(made.values())


def verdict_lines(held: Held, units: Units) -> Iterator[VerdictLine | Paragraph]:
    """Yield two verdicts for each specification and part: precision, reliability."""
    for one in held.lines:
        name = f"{one.specification.name}, {_what(one)}"
        if not one.limited:
            yield from class_lines(one, units)
            continue
        yield VerdictLine(
            f"{name}: precision", _precision_vial(one), *_precision_words(one, units)
        )
        yield VerdictLine(
            f"{name}: reliability",
            Vial(worst_of(one.reliability)),
            *_reliability_words(one, units),
        )


def _what(one: "Compliance") -> str:
    return f"{'marks' if one.of_marks else 'pairs'} in {one.part}"


def _precision_vial(one: "Compliance") -> Vial:
    verdict = worst_of(one.precision)
    shares = _shares(one)
    return Vial(verdict, float(np.nanmax(shares, initial=0.0)))


def _shares(one: "Compliance") -> "np.ndarray[tuple[int], np.dtype[np.float64]]":
    return np.asarray(one.value / one.limit)


def _precision_words(one: "Compliance", units: Units) -> tuple[str, str]:
    judged = np.flatnonzero(np.isfinite(one.value))
    what = "mark" if one.of_marks else "pair"
    count = f"{len(one.value)} {what}{'s' if len(one.value) != 1 else ''}"
    if not len(judged):
        return "", f"cannot be judged: {one.part} is not estimated in this job"
    worst = int(one.order()[0])
    over = sum(verdict == "fails" for verdict in one.precision)
    said = (
        f"{count}; largest {name_of(one, worst)}: "
        f"{units.small(float(one.value[worst]))} of "
        f"{units.small(float(one.limit[worst]))} {units.small_unit}"
    )
    if not one.sound:
        said += (
            "; cannot be judged: the solution fails its own tests, and precision that "
            "rests on it says nothing"
        )
    return f"{over} over" if over else "", said


def _reliability_words(one: "Compliance", units: Units) -> tuple[str, str]:
    verdicts = one.reliability
    blind = sum(verdict == "unchecked" for verdict in verdicts)
    over = sum(verdict == "query" for verdict in verdicts)
    if blind:
        words = f"{blind} of {len(verdicts)}: an error of any size could go unseen"
        return "", words
    if over:
        return "", (
            f"{over} of {len(verdicts)}: one blunder just too small to be seen moves "
            "more than the limit"
        )
    if not len(verdicts):
        return "", "no line"
    most = units.small(float(one.effect.max()))
    said = f"no single unseen blunder moves more than {most} {units.small_unit}"
    return "", said


def name_of(one: "Compliance", line: int) -> str:
    """Return the mark or the pair of a line."""
    names = one.adjustment.network.marks.name
    first, second = one.pairs[line].tolist()
    return names[second] if first < 0 else f"{names[first]} – {names[second]}"


def table_of(one: "Compliance", most: int, units: Units) -> Table:
    """Return the worst lines of a specification.

    Parameters
    ----------
    one : Compliance
    most : int
    units : Units
    """
    order = one.order()
    left = len(order) - most
    share = "a smaller share" if one.limited else "smaller"
    note = f"and {left} more, each {share}:  brasscap spec --worst {len(order)}"
    against = limit_words(one, units) if one.limited else "no limit stated"
    return Table(
        f"{one.specification.name}, {_what(one)}: {measure_words(one)}, "
        f"{against}; {MODES[one.adjustment.datum.mode].lower()}",
        _columns(one, units),
        tuple(_row(one, int(k), units) for k in order[:most]),
        note if left > 0 else "",
    )


def _columns(one: "Compliance", units: Units) -> tuple[Column, ...]:
    small = units.small_unit
    first = (
        (Column("mark", number=False),)
        if one.of_marks
        else (Column("pair", number=False), Column(f"distance ({units.unit})"))
    )
    cubic = (Column(f"by the cubic ({small})"),) if _has_cubic(one) else ()
    limit = (Column(f"limit ({small})"), Column("share (%)"))
    classed = (Column("class", number=False),) if is_classed(one) else ()
    judged = (Column("precision", number=False),) if one.limited else ()
    return (
        *first,
        Column(f"value ({small})"),
        *cubic,
        *classed,
        *(limit if one.limited else ()),
        *judged,
        Column(f"unseen ({small})"),
        Column("reliability", number=False),
        Column("by", number=False, below=True),
    )


def is_classed(one: "Compliance") -> bool:
    """Return whether its values are sorted into accuracy classes."""
    stated = one.specification
    return stated.kind in CLASSED and stated.confidence == 0.95


def _has_cubic(one: "Compliance") -> bool:
    return bool(np.isfinite(one.cubic).any())


def _row(one: "Compliance", k: int, units: Units) -> Row:
    value, limit = float(one.value[k]), float(one.limit[k])
    cells: list[str | Vial] = [name_of(one, k)]
    if not one.of_marks:
        cells.append(units.coordinate(float(one.distance[k])))
    cells.append(units.small(value))
    if _has_cubic(one):
        cells.append(units.small(float(one.cubic[k])))
    if is_classed(one):
        cells.append(class_words(value))
    share = value / limit if limit > 0 else float("nan")
    effect = float(one.effect[k])
    by = int(one.by[k])
    hypothesis = one.hypotheses[by] if by >= 0 else None
    if one.limited:
        cells += [units.small(limit), number(100 * share, "whole angle")]
        cells.append(Vial(one.precision[k], share if share == share else 0.5))
    place = min(effect / limit, 1.0) if limit > 0 else 0.5
    reliability = one.reliability[k]
    return Row(
        (
            *cells,
            unseen_words(effect, bool(one.at_most[k]), units),
            Vial(reliability, place) if reliability else "",
            f"{hypothesis.kind} {hypothesis.about}" if hypothesis else "",
        )
    )


def unseen_words(effect: float, at_most: bool, units: Units) -> str:
    """Return what one unseen blunder does: "any", a size, or what it is no more than.

    Parameters
    ----------
    effect : float
        m.
    at_most : bool
        Whether it is a bound.
    units : Units
    """
    if effect == float("inf"):
        return "any"
    return f"≤ {units.small(effect)}" if at_most else units.small(effect)


def class_lines(one: "Compliance", units: Units) -> Iterator[Paragraph]:
    """Yield what a classification says in a sentence: how many of each class."""
    name = f"{one.specification.name}, {_what(one)}"
    judged = one.value[np.isfinite(one.value)].tolist()
    if not judged:
        words = f"{name}: cannot be judged: {one.part} is not estimated in this job"
        yield Paragraph(words)
        return
    worst = max(judged)
    if not is_classed(one):
        said = f"largest {units.small(worst)} {units.small_unit}; classes are of 95 %"
    else:
        found = [class_words(value) for value in judged]
        order = [*(word for _, word in CLASSES), "none"]
        counts = [f"{found.count(word)} of class {word}" for word in order
                  if word in found]  # fmt: skip
        said = f"{', '.join(counts)}; largest {units.small(worst)} {units.small_unit}"
    blind = sum(verdict == "unchecked" for verdict in one.reliability)
    also = f"; of {blind} nothing checks some observation: any size" if blind else ""
    yield Paragraph(f"{name}: {said}{also}; no limit is stated, so no verdict")


def averages_table(one: "Compliance", units: Units) -> Table:
    """Return one local accuracy a mark, as standards report it: the average."""
    from ..adjust.precision.compliance import averages

    made = averages(one)
    names, small = one.adjustment.network.marks.name, units.small_unit
    classed = is_classed(one)
    columns = (
        Column("mark", number=False),
        Column("neighbours"),
        Column(f"average ({small})"),
        *((Column("class", number=False),) if classed else ()),
        Column(f"worst ({small})"),
    )
    rows = []
    for k, mark in enumerate(made.mark.tolist()):
        average = float(made.average[k])
        own = (class_words(average),) if classed else ()
        rows.append(
            Row(
                (
                    names[mark],
                    str(int(made.neighbours[k])),
                    units.small(average),
                    *own,
                    units.small(float(made.worst[k])),
                )
            )
        )
    return Table(
        f"{one.specification.name}, {one.part}: each mark, average over its neighbours",
        columns,
        tuple(rows),
    )


def per_mark_table(one: "Compliance", units: Units) -> Table:
    """Return each mark by its worst pair."""
    worst: dict[int, tuple[int, int]] = {}
    for k in one.order().tolist():
        first, second = one.pairs[k].tolist()
        worst.setdefault(first, (k, second))
        worst.setdefault(second, (k, first))
    names = one.adjustment.network.marks.name
    head = (Column("mark", number=False), Column("against", number=False))
    return Table(
        f"{one.specification.name}, {one.part}: each mark by its worst pair",
        (*head, *_columns(one, units)[1:]),
        tuple(
            Row((names[mark], names[other], *_row(one, k, units).cells[1:]))
            for mark, (k, other) in sorted(worst.items())
        ),
    )


def basis_parts(held: Held) -> list[Part]:
    """Return what the figures rest on: confidence, multipliers, sources."""
    facts, seen = [], set()
    for one in held.lines:
        key = (one.specification.name, one.adjustment.datum.mode)
        if key in seen:
            continue
        seen.add(key)
        scale = one.multipliers
        said = (
            f"{percent(one.specification.confidence)}; {scale.kind} variance factor; "
            f"{number(scale.ellipse, 'multiplier')} × the axes, "
            f"{number(scale.height, 'multiplier')} × the sd in one direction; "
            f"{one.adjustment.datum.text}"
        )
        facts.append((f"{key[0]} rests on", said))
        if one.specification.source:
            memory = " (figures from memory)" if one.specification.from_memory else ""
            facts.append(("stated in", f"{one.specification.source}{memory}"))
    words = (
        "Precision: the value at the stated confidence against the limit; it says "
        "nothing of blunders. Reliability: what one blunder just too small to be seen "
        "could do to the same pair or mark."
    )
    return [Paragraph(words, "soft"), Facts(tuple(facts))]


def next_step(held: Held) -> str:
    """Return the command that goes on from here."""
    if any(line.vial.verdict == "fails" for line in solution_lines(held)):
        return "brasscap suspects"
    if "fails" in held.verdicts:
        return "brasscap reliability"
    blind = "unchecked" in held.verdicts or "query" in held.verdicts
    return "brasscap reliability" if blind else "brasscap spec --statement"
