"""What `reobserve` says: the crew's day in order, what each job buys, what is left."""

from collections.abc import Iterator
from typing import TYPE_CHECKING

import numpy as np

from ..adjust.design.standing import blind_of, over_count
from ..networks.clock import clock_of
from .crew_plan import Reobserve, last_state, worst_seen
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
from .rounding import Units, number
from .words import MODES
from .words_planned import assumed_facts, crew_fact, hidden_words, lone_words
from .words_reobserve import buys_words, not_worth

if TYPE_CHECKING:
    from ..adjust.design.crew import Visit


LEFT = 10
"""Candidates that are told as not worth a trip."""


def reobserve_document(made: Reobserve, heading: Heading, sheet: str = "") -> Document:
    """Return what `reobserve` prints.

    Parameters
    ----------
    made : Reobserve
    heading : Heading
    sheet : str, optional
        Where the field sheet has been written; empty if it has not.
    """
    units = heading.units
    parts: list[Part] = [
        *_now_lines(made, units),
        Paragraph(""),
        *_day_parts(made, units),
        not_worth_table(made, units),
        *_basis(made),
        Paragraph(f"next: {_next(made, sheet)}", "next"),
    ]
    title = f"What now? {len(made.plan.order)} jobs, best first"
    return Document(title, (Section("", tuple(parts)),))


def _now_lines(made: Reobserve, units: Units) -> Iterator[VerdictLine]:
    """Yield how the network stands now, and would after the whole plan."""
    before, after = made.state, last_state(made)
    yield _counted(
        "observations and set-ups, unchecked",
        "unchecked",
        len(blind_of(before)),
        len(blind_of(after)),
    )
    if made.specification:
        what = f"{made.specification}, over the limit"
        yield _counted(what, "fails", over_count(before), over_count(after))
    sizes = [worst_seen(made, state) for state in (before, after)]
    yield VerdictLine(
        "largest blunder that could hide at a set-up",
        Vial("meets" if np.isfinite(sizes[0]) else "unchecked"),
        " → ".join(hidden_words(size, units) for size in sizes),
        "the worst of all smallest detectable ones; what size matters, a "
        "specification must say",
    )


def _counted(what: str, verdict: str, now: int, then: int) -> VerdictLine:
    vial = Vial(verdict if now else "meets")
    return VerdictLine(what, vial, f"{now} → {then}", "now → after the whole plan")


def _day_parts(made: Reobserve, units: Units) -> list[Part]:
    if not made.plan.order:
        return [Paragraph(_why_nothing(made))]
    columns = (
        Column("job"),
        Column("what", number=False),
        Column("log (local time)", number=False),
        Column("who, leaves → stands", number=False, below=True),
        Column("buys", number=False, below=True),
    )
    rows = []
    for place, candidate in enumerate(made.plan.order):
        visits = [v for v in made.plan.day.visits if v.task == place]
        rows.append(
            Row(
                (
                    str(place + 1),
                    made.offers[candidate].words,
                    f"{clock_of(visits[0].begin)}–{clock_of(visits[0].end)}",
                    "; ".join(visit_words(made, v) for v in visits),
                    "; ".join(buys_words(made, place, units)),
                )
            )
        )
    caption = (
        "do them in this order: stop anywhere, and what is done was nearly the best "
        "use of the time"
    )
    back = f"everybody is back at {clock_of(made.plan.day.back)}"
    return [Table(caption, columns, tuple(rows), back)]


def visit_words(made: Reobserve, visit: "Visit") -> str:
    """Return who goes where and when."""
    mark = made.adjustment.network.marks.name[visit.mark]
    return (
        f"team {visit.team + 1} {clock_of(visit.leave)} → {mark}, stands "
        f"{clock_of(visit.ready)}"
    )


def _why_nothing(made: Reobserve) -> str:
    if not made.offers:
        return (
            "There is nothing to choose from: proposed.csv is empty, and the expected "
            "precision of no kind of work is known ([planned.KIND] in job.toml)."
        )
    return (
        "No candidate can be done in these hours, or none buys anything that would be "
        "noticed."
    )


def not_worth_table(made: Reobserve, units: Units) -> Table:
    """Return the candidates that are not in the plan, and why."""
    columns = (
        Column("candidate", number=False),
        Column("minutes on the marks (min)"),
        Column("why not", number=False),
    )
    rows = [
        Row((one.words, number(one.minutes, "whole angle"), why))
        for one, why in not_worth(made)
    ]
    return Table("not worth a trip today", columns, tuple(rows[:LEFT]))


def _basis(made: Reobserve) -> list[Part]:
    datum = made.adjustment.datum
    facts = [
        ("solution", f"{MODES[datum.mode]} — {datum.text}"),
        crew_fact(made.crew),
        ("what matters, in this order", ", ".join(made.order)),
        *_first_look(made),
        *assumed_facts(made.assumed),
    ]
    lone = lone_words(made.crew) if made.plan.order else ""
    return [Facts(tuple(facts)), *([Paragraph(lone)] if lone else [])]


def _first_look(made: Reobserve) -> Iterator[tuple[str, str]]:
    """Yield how many candidates were thought of, where not all got a full look."""
    if made.thought_of > len(made.offers):
        yield (
            "first look",
            f"{made.thought_of} candidates; {len(made.offers)} got a full look: those "
            "that are proposed, those that gain most in precision, and those that see "
            "what nothing checks",
        )


def _next(made: Reobserve, sheet: str) -> str:
    """Return what to do next: a sheet of these hours and this crew, no other."""
    if not made.plan.order:
        return "brasscap check"
    if sheet:
        return f"print {sheet}; afterwards  brasscap reobserve --done  with its twin"
    return "the same with  --sheet sheet.html  for the crew"
