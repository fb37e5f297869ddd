"""What `preanalysis` says: what planned work would be worth, before it is done."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

from ..adjust.design.standing import blind_of, over_count, sizes_of, worst_share
from ..networks.clock import clock_of
from .content_preanalysis_marks import marks_table, set_ups_table
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
from .words_planned import assumed_facts, crew_fact, hidden_words

if TYPE_CHECKING:
    from ..adjust import Adjustment
    from ..adjust.design import State
    from ..adjust.design.crew import Crew, Day

NOTHING = 0.01
"""Share by which something must get worse to be noticed."""


@dataclass(frozen=True, slots=True)
class WorkWords:
    """One piece of planned work in words."""

    name: str
    kind: str
    stations: tuple[str, ...]
    minutes: float

    @property
    def words(self) -> str:
        """Name, kind and marks."""
        return f"{self.name}: {self.kind} {' – '.join(self.stations)}"


@dataclass(frozen=True, slots=True)
class Preanalysis:
    """A plan as it would be worth, and without each of its pieces."""

    adjustment: "Adjustment"
    specification: str
    state: "State"
    work: tuple[WorkWords, ...]
    without: "tuple[State | None, ...]"
    """Of as many of the pieces as there is time for, the first ones."""
    crew: "Crew"
    day: "Day | None"
    days: tuple[tuple[int, ...], ...] | None
    """Which pieces each day holds; None where one of them fits no day."""
    assumed: tuple[str, ...]
    before: bool
    """Whether something is observed already."""
    lambda0: float

    @property
    def verdicts(self) -> tuple[str, ...]:
        """On precision and on what nothing would check."""
        over, blind = over_count(self.state), blind_of(self.state)
        spec = ("fails" if over else "meets",) if self.specification else ()
        return (*spec, "unchecked" if len(blind) else "meets")


def preanalysis_document(made: Preanalysis, heading: Heading) -> Document:
    """Return what `preanalysis` prints.

    Parameters
    ----------
    made : Preanalysis
    heading : Heading
    """
    units = heading.units
    parts: list[Part] = [
        *_lines(made, units),
        Paragraph(""),
        marks_table(made.adjustment, units),
        set_ups_table(_heights(made), units),
        *_blind(made),
        work_table(made, units),
        *_basis(made),
        Paragraph(f"next: {_next(made)}", "next"),
    ]
    title = "Will this design do? Nothing of the plan is observed yet"
    return Document(title, (Section("", tuple(parts)),))


def _lines(made: Preanalysis, units: Units) -> Iterator[VerdictLine]:
    if made.specification:
        over = over_count(made.state)
        most = worst_share(made.state)
        yield VerdictLine(
            f"{made.specification}, expected precision",
            Vial("fails" if over else "meets", min(most, 1.0)),
            f"{over} over" if over else "",
            f"{len(made.state.ends)} pairs; largest "
            f"{number(100 * most, 'whole angle')} % of its limit",
        )
    blind = blind_of(made.state)
    yield VerdictLine(
        "checked by the plan",
        Vial("unchecked" if blind else "meets"),
        f"{len(blind)} not" if blind else "all",
        "observations and set-ups of which an error of any size would pass"
        if blind
        else "every observation and set-up would show an error, if it is large enough",
    )
    hours = sum(one.minutes for one in made.work) / 60
    if made.day is None:
        words = f"{hours:.1f} h on the marks alone, {_days_words(made)}"
        yield VerdictLine("hours", Vial("query"), "", words)
    else:
        words = (
            f"back at {clock_of(made.day.back)}, in the order of the plan; "
            f"{hours:.1f} h of it on the marks"
        )
        yield VerdictLine("hours", Vial("meets"), "", words)


def _days_words(made: Preanalysis) -> str:
    """Return how many days the plan takes, and what each holds."""
    if made.days is None:
        return f"and a piece of it fits into no day of {_hours(made)}"
    held = "; ".join(
        f"day {n}: {', '.join(made.work[k].name for k in some)}"
        for n, some in enumerate(made.days, 1)
    )
    return f"{len(made.days)} days of {_hours(made)}: {held}"


def _hours(made: Preanalysis) -> str:
    return f"{(made.crew.end - made.crew.start) / 60:g} h"


def _heights(made: Preanalysis) -> dict[str, float]:
    """Return the smallest height blunder that each planned set-up would show, m."""
    sizes = sizes_of(made.state, made.lambda0)
    planned = tuple(f"{one.name} " for one in made.work)
    return {
        one.name: float(size)
        for one, size in zip(made.state.hypotheses, sizes, strict=True)
        if one.kind == "set-up height"
        and (not made.before or one.name.startswith(planned))
    }


def _blind(made: Preanalysis) -> list[Part]:
    blind = blind_of(made.state)
    if not blind:
        return []
    names = [
        f"{made.state.hypotheses[k].kind} {made.state.hypotheses[k].name}"
        for k in blind
    ]
    more = f" and {len(names) - 12} more" if len(names) > 12 else ""
    words = f"nothing would check: {', '.join(names[:12])}{more}"
    return [Paragraph(words)]


def work_table(made: Preanalysis, units: Units) -> Table:
    """Return what each piece of the plan buys: what goes worse without it."""
    rows = [
        Row((one.words, number(one.minutes, "whole angle"), buys))
        for one, buys in zip(made.work, buys_of(made, units), strict=True)
    ]
    return Table(
        "what each piece buys: without it …",
        (
            Column("work", number=False),
            Column("on the marks (min)"),
            Column("without it", number=False),
        ),
        tuple(rows),
    )


def buys_of(made: Preanalysis, units: Units) -> list[str]:
    """Return, for each piece, what would go worse without it."""
    said = [_without_words(made, state, units) for state in made.without]
    left = len(made.work) - len(said)
    return said + [f"not asked: only the first {len(said)} were; name fewer"] * left


def _without_words(made: Preanalysis, state: "State | None", units: Units) -> str:
    if state is None:
        return "something would float: it is needed"
    said = []
    over = over_count(state) - over_count(made.state)
    if over > 0:
        said.append(f"{over} more over the limit")
    ours = {_key(made.state, k) for k in blind_of(made.state)}
    blind = [k for k in blind_of(state) if _key(state, k) not in ours]
    if blind:
        said.append(f"{len(blind)} more unchecked")
    before, after = _largest(made, made.state), _largest(made, state)
    if after > before * (1 + NOTHING):
        sizes = [hidden_words(size, units) for size in (before, after)]
        said.append(f"largest that could hide {sizes[0]} → {sizes[1]}")
    worse = _some_share(state) / _some_share(made.state) - 1
    if worse > NOTHING:
        said.append(f"worst pair {100 * worse:.0f} % worse")
    return "; ".join(said) or "nothing that would be noticed goes worse"


def _key(state: "State", k: int) -> tuple[str, str]:
    return state.hypotheses[k].kind, state.hypotheses[k].name


def _largest(made: Preanalysis, state: "State") -> float:
    """Return the largest blunder that could hide at a set-up of both states."""
    common = {_key(made.state, k) for k in range(len(made.state.hypotheses))}
    sizes = sizes_of(state, made.lambda0)
    kept = [
        float(sizes[k])
        for k, one in enumerate(state.hypotheses)
        if one.kind == "set-up height" and _key(state, k) in common
    ]
    return max(kept, default=0.0)


def _some_share(state: "State") -> float:
    """Return the worst share, never 0: it is divided by."""
    return max(worst_share(state), 1e-12)


def _basis(made: Preanalysis) -> list[Part]:
    facts = (crew_fact(made.crew), *assumed_facts(made.assumed))
    words = (
        "Expected from the stated sds alone; what will really be observed may be "
        "worse. A plan has no misfit: nothing here says that a mark is good."
    )
    return [Paragraph(words, "soft"), Facts(facts)]


def _next(made: Preanalysis) -> str:
    if "fails" in made.verdicts or "unchecked" in made.verdicts:
        return "brasscap reobserve --purpose reliability"
    return "brasscap reobserve --sheet sheet.html"
