"""What `spec` says: precision and reliability against what is asked, two verdicts."""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from .content_spec_tables import averages_table, class_lines, per_mark_table, table_of
from .content_tests import factor_line
from .document import (
    Document,
    Facts,
    Paragraph,
    Part,
    Section,
    VerdictLine,
    Vial,
)
from .heading import Heading
from .rounding import Units, number, percent
from .words_spec import (
    name_of,
    shares_of,
    statement,
    what_words,
    worst_of,
)

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
        name = f"{one.specification.name}, {what_words(one)}"
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


def _precision_vial(one: "Compliance") -> Vial:
    verdict = worst_of(one.precision)
    shares = shares_of(one)
    return Vial(verdict, float(np.nanmax(shares, initial=0.0)))


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
