"""What `spec` says: precision and reliability against what is asked, two verdicts."""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

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
from .words_spec import limit_words, measure_words, statement

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

    @property
    def verdicts(self) -> tuple[str, ...]:
        """All verdicts: of the solutions, on precision and on reliability."""
        own = [
            verdict
            for one in self.lines
            for verdict in (worst_of(one.precision), worst_of(one.reliability))
        ]
        return (*own, *(line.vial.verdict for line in solution_lines(self)))


_ORDER = ("meets", "query", "unchecked", "fails")


def worst_of(verdicts: tuple[str, ...]) -> str:
    """Return the worst of some verdicts; ``unchecked`` for none.

    Examples
    --------
    >>> worst_of(("meets", "query", "meets")), worst_of(())
    ('query', 'unchecked')
    """
    return max(verdicts, key=_ORDER.index) if verdicts else "unchecked"


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
        if held.per_mark and not one.of_marks:
            parts.append(per_mark_table(one, units))
    parts += basis_parts(held)
    if held.statement:
        parts += [Paragraph(text) for text in statement(held.lines, heading)]
    parts.append(Paragraph(f"next: {next_step(held)}", "next"))
    title = "Does it meet the specification?"
    return Document(title, (Section("", tuple(parts)),))


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


def verdict_lines(held: Held, units: Units) -> Iterator[VerdictLine]:
    """Yield two verdicts for each specification and part: precision, reliability."""
    for one in held.lines:
        name = f"{one.specification.name}, {_what(one)}"
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
    most = float(one.effect.max())
    return "", (
        "no single unseen blunder moves more than "
        f"{units.small(most)} {units.small_unit}"
    )


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
    note = f"and {left} more, each a smaller share:  --worst {len(order)}"
    return Table(
        f"{one.specification.name}, {_what(one)}: {measure_words(one)}, "
        f"{limit_words(one, units)}; {MODES[one.adjustment.datum.mode].lower()}",
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
    return (
        *first,
        Column(f"value ({small})"),
        *cubic,
        Column(f"limit ({small})"),
        Column("share (%)"),
        Column("precision", number=False),
        Column(f"unseen ({small})"),
        Column("reliability", number=False),
        Column("by", number=False, below=True),
    )


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
    share = value / limit if limit > 0 else float("nan")
    effect = float(one.effect[k])
    by = int(one.by[k])
    hypothesis = one.hypotheses[by] if by >= 0 else None
    return Row(
        (
            *cells,
            units.small(limit),
            number(100 * share, "whole angle"),
            Vial(one.precision[k], share if share == share else 0.5),
            "any" if effect == float("inf") else units.small(effect),
            Vial(one.reliability[k], min(effect / limit, 1.0) if limit > 0 else 0.5),
            f"{hypothesis.kind} {hypothesis.about}" if hypothesis else "",
        )
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
