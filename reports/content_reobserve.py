"""What `reobserve` says: the crew's day in order, what each job buys, what is left."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

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

if TYPE_CHECKING:
    from ..adjust import Adjustment
    from ..adjust.design import Chosen, Scores, State
    from ..adjust.design.crew import Crew, Visit
    from ..adjust.design.plan import Plan

RECEIVED = ("baseline", "second set-up", "control tie")
"""Kinds of work that need a receiver at each of their marks at once."""
LEFT = 10
"""Candidates that are told as not worth a trip."""


@dataclass(frozen=True, slots=True)
class Offered:
    """One candidate in words."""

    proposal: str
    """Name of the proposal; empty where nobody proposed it."""
    kind: str
    stations: tuple[str, ...]
    minutes: float
    note: str = ""
    blocked: str = ""

    @property
    def words(self) -> str:
        """Kind and marks, with the proposal's name."""
        name = f"{self.proposal}, " if self.proposal else ""
        return f"{name}{self.kind} {' – '.join(self.stations)}"


@dataclass(frozen=True, slots=True)
class Reobserve:
    """A crew's plan, and what it rests on."""

    adjustment: "Adjustment"
    specification: str
    """Name of the one that counts; empty where none is stated."""
    offers: tuple[Offered, ...]
    """All candidates."""
    refused: tuple[Offered, ...]
    """Proposals that are blocked, or cannot be judged: ``blocked`` says why."""
    state: "State"
    """Before."""
    plan: "Plan"
    crew: "Crew"
    order: tuple[str, ...]
    """What matters most first."""
    assumed: tuple[str, ...]
    """What was taken for granted of the crew."""
    lambda0: float
    purpose: str = "spec"


def reobserve_document(made: Reobserve, heading: Heading) -> Document:
    """Return what `reobserve` prints.

    Parameters
    ----------
    made : Reobserve
    heading : Heading
    """
    units = heading.units
    parts: list[Part] = [
        *_now_lines(made, units),
        Paragraph(""),
        *_day_parts(made, units),
        not_worth_table(made, units),
        *_basis(made),
        Paragraph(f"next: {_next(made)}", "next"),
    ]
    title = f"What now? {len(made.plan.order)} jobs, best first"
    return Document(title, (Section("", tuple(parts)),))


def _now_lines(made: Reobserve, units: Units) -> Iterator[VerdictLine]:
    """Yield how the network stands now, and would after the whole plan."""
    before, after = made.state, last_state(made)
    yield _counted(
        "observations and set-ups, unchecked",
        "unchecked",
        blind_count(before),
        blind_count(after),
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


def last_state(made: Reobserve) -> "State":
    """Return how the network would stand after the whole plan."""
    return made.plan.steps[-1].state if made.plan.steps else made.state


def blind_count(state: "State") -> int:
    """Return how many possible blunders nothing checks."""
    from ..adjust.design.worth import unchecked

    return int(unchecked(state.share).sum())


def over_count(state: "State") -> int:
    """Return how many lines of the specification are over their limit."""
    from ..adjust.design.worth import shares_of

    return int((shares_of(state, state.pairs) > 1).sum())


def worst_hidden(state: "State", lambda0: float) -> float:
    """Return the largest of the smallest detectable blunders, m, as ``worst_seen``."""
    from ..adjust.design.worth import detectable

    size = detectable(state, state.share, lambda0)
    heights = np.array([h.kind == "set-up height" for h in state.hypotheses])
    return float(size[heights if heights.any() else state.metres].max(initial=0.0))


def worst_seen(made: Reobserve, state: "State") -> float:
    """Return the largest blunder that could hide at a set-up, m.

    The largest of the smallest detectable height blunders; of observations where no
    set-up is booked; inf where nothing checks one of them.
    """
    return worst_hidden(state, made.lambda0)


def hidden_words(size: float, units: Units) -> str:
    """Return a largest hidden blunder in words: "any size" where nothing checks it."""
    return units.said(size) if np.isfinite(size) else "any size"


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
                    f"{clock(visits[0].begin)}–{clock(visits[0].end)}",
                    "; ".join(visit_words(made, v) for v in visits),
                    "; ".join(buys_words(made, place, units)),
                )
            )
        )
    caption = (
        "do them in this order: stop anywhere, and what is done was nearly the best "
        "use of the time"
    )
    back = f"everybody is back at {clock(made.plan.day.back)}"
    return [Table(caption, columns, tuple(rows), back)]


def visit_words(made: Reobserve, visit: "Visit") -> str:
    """Return who goes where and when."""
    mark = made.adjustment.network.marks.name[visit.mark]
    return (
        f"team {visit.team + 1} {clock(visit.leave)} → {mark}, stands "
        f"{clock(visit.ready)}"
    )


def clock(minutes: float) -> str:
    """Return a clock time to the minute.

    Examples
    --------
    >>> clock(844.6)
    '14:05'
    """
    whole = round(minutes)
    return f"{whole // 60:02d}:{whole % 60:02d}"


def state_before(made: Reobserve, place: int) -> "State":
    """Return how the network stands before a job of the plan."""
    return made.plan.steps[place - 1].state if place else made.state


def checked_by(made: Reobserve, place: int) -> list[int]:
    """Return which possible blunders a job makes checked that were not."""
    from ..adjust.design.worth import unchecked

    before = state_before(made, place)
    after = made.plan.steps[place].state
    gone = unchecked(before.share) & ~unchecked(after.share)
    return [int(k) for k in np.flatnonzero(gone)]


def buys_words(made: Reobserve, place: int, units: Units) -> list[str]:
    """Return what a job of the plan buys, what matters most first."""
    step, said = made.plan.steps[place], []
    failures = int(step.scores.failures[0])
    if failures:
        said.append(f"{failures} more of {made.specification} meet the limit")
    checked = checked_by(made, place)
    if checked:
        said.append(_checked_words(made, step, checked, units))
    if step.scores.parted[0]:
        said.append("tells suspects apart that look alike now")
    sizes = [worst_seen(made, s) for s in (state_before(made, place), step.state)]
    if sizes[0] - sizes[1] > 0.0005:
        said.append(
            "largest that could hide at a set-up "
            f"{hidden_words(sizes[0], units)} → {hidden_words(sizes[1], units)}"
        )
    elif step.scores.detectable[0] > 0.005:
        share = 100 * (1 - np.exp(-step.scores.detectable[0]))
        said.append(f"smallest blunders seen shrink by {share:.0f} % on average")
    if made.purpose == "audit" and step.scores.exposed[0] > 0.005:
        share = 100 * (1 - np.exp(-step.scores.exposed[0]))
        said.append(
            f"what could move marks unseen shows when {share:.0f} % smaller, weighed "
            "by how far it would move them"
        )
    if step.scores.pair[0] > 0.01:
        share = 100 * (1 - np.exp(-step.scores.pair[0]))
        said.append(f"worst pair better by {share:.0f} %")
    return said or ["little beside what was done before"]


def _checked_words(
    made: Reobserve, step: "Chosen", checked: list[int], units: Units
) -> str:
    from ..adjust.design.worth import detectable

    size = detectable(step.state, step.state.share, made.lambda0)
    names = [
        f"{step.state.hypotheses[k].kind} {step.state.hypotheses[k].name}"
        for k in checked[:3]
    ]
    more = f" and {len(checked) - 3} more" if len(checked) > 3 else ""
    metres = [float(size[k]) for k in checked if step.state.metres[k]]
    seen = f", from {units.said(max(metres))} up" if metres else ""
    return f"checks {', '.join(names)}{more}{seen}; today any size would pass unseen"


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


def not_worth(made: Reobserve) -> list[tuple[Offered, str]]:
    """Return what is not in the plan with the reason; proposals first."""
    worth = made.plan.alone.worth(made.order)
    chosen = set(made.plan.order)
    left = [k for k in range(len(worth)) if k not in chosen]
    left.sort(key=lambda k: (not made.offers[k].proposal, -round(float(worth[k]), 9)))
    said = [(made.offers[k], _reason(made, k)) for k in left]
    return [(one, one.blocked) for one in made.refused] + said


_NOTICED = 0.01
"""Logarithm of a ratio below which nobody would notice."""


def _reason(made: Reobserve, k: int) -> str:
    """Return why a candidate is not in the plan, as precisely as is known."""
    plan, offer = made.plan, made.offers[k]
    if not plan.looked[k]:
        return "a first look at all candidates found others that gain more"
    if not plan.able[k]:
        return _why_never(made, offer)
    alone, beside = _counted_words(made, plan.alone, k), ""
    if not alone:
        return "buys nothing that would be noticed"
    beside = _counted_words(made, plan.beside, k)
    if not beside:
        return f"would by itself {alone}; the plan does that already"
    added = float(plan.added[k])
    if not np.isfinite(added):
        return f"would still {beside}, but does not fit into the hours any more"
    return f"would still {beside} for {added:.0f} min more: less a minute than the plan"


def _why_never(made: Reobserve, offer: Offered) -> str:
    crew = made.crew
    if len(offer.stations) > crew.receivers and offer.kind in RECEIVED:
        return f"needs {len(offer.stations)} receivers at once"
    hours = min(crew.end, crew.gate, crew.sunset) - crew.start
    return (
        f"way, set-up and {offer.minutes:.0f} min on the marks do not fit into its "
        f"window and the {hours / 60:.1f} h of the day"
    )


def _counted_words(made: Reobserve, scores: "Scores", k: int) -> str:
    """Return what a candidate would do, in words; empty for nothing noticeable."""
    said = []
    counts = (
        (scores.failures[k], "bring {} within the limit", "line", "lines"),
        (scores.unchecked[k], "check {}", "more thing", "more things"),
        (scores.parted[k], "tell {} of suspects apart", "group", "groups"),
    )
    for count, words, one, many in counts:
        if count:
            said.append(words.format(f"{count:.0f} {one if count == 1 else many}"))
    for log, words in (
        (scores.detectable[k], "show blunders {} % smaller on average"),
        (scores.pair[k], "make the worst pair {} % better"),
    ):
        if log > _NOTICED:
            said.append(words.format(f"{100 * (1 - np.exp(-log)):.0f}"))
    return " and ".join(said[:2])


def _basis(made: Reobserve) -> list[Part]:
    crew = made.crew
    datum = made.adjustment.datum
    facts = [
        ("solution", f"{MODES[datum.mode]} — {datum.text}"),
        (
            "crew",
            f"{crew.receivers} receivers, {crew.teams} teams, {clock(crew.start)} to "
            f"{clock(min(crew.end, crew.gate, crew.sunset))}",
        ),
        ("what matters, in this order", ", ".join(made.order)),
    ]
    if made.assumed:
        facts.append(("taken for granted", ", ".join(made.assumed)))
    return [Facts(tuple(facts))]


def _next(made: Reobserve) -> str:
    return (
        "brasscap reobserve --sheet sheet.html" if made.plan.order else "brasscap check"
    )
