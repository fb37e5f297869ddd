"""The field sheet of a crew's hours: a static page."""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from ..networks.clock import clock_of
from .crew_plan import Reobserve
from .glossary import CAUTIONS, FIELD_CAUTIONS
from .heading import Heading
from .html import environment
from .words import MODES
from .words_planned import crew_words, lone_words
from .words_reobserve import buys_words, not_worth

if TYPE_CHECKING:
    from ..adjust.design.crew import Visit

FOOT = 0.3048
"""m in an international foot, exactly."""
_STRIP = tuple(round(1.0 + 0.05 * k, 2) for k in range(25))
"""m; heights of an antenna over its mark that the strip shows."""


@dataclass(frozen=True, slots=True)
class End:
    """One set-up of a job: where, who, when."""

    station: str
    description: str
    access: str
    set_up: str
    """Name proposed for it, not taken yet."""
    team: int
    leave: str
    stands: str
    down: str
    instrument: bool = False
    """Whether the total station stands here; targets on the other marks."""


@dataclass(frozen=True, slots=True)
class Job:
    """One job of the sheet."""

    number: int
    what: str
    proposal: str
    begin: str
    end: str
    minutes: str
    buys: tuple[str, ...]
    note: str
    otherwise: str
    """What to do instead if it is blocked."""
    ends: tuple[End, ...]
    run: bool
    """Whether it is a levelling run, which has no heights of instruments."""
    sighted: bool = False
    """Whether it is a round of a total station."""


@dataclass(frozen=True, slots=True)
class Move:
    """One team on its way to one mark."""

    leave: str
    team: int
    way: str
    """Minutes on the way."""
    station: str
    job: int
    stands: str
    log: str
    """From when to when."""
    down: str


@dataclass(frozen=True, slots=True)
class Sheet:
    """A crew's hours on paper."""

    title: str
    crew: str
    order: str
    made_from: str
    jobs: tuple[Job, ...]
    left: tuple[tuple[str, str], ...]
    """What is not worth a trip, and why."""
    strip: tuple[tuple[str, str], ...]
    """m and ift, the same height."""
    cautions: tuple[str, ...]
    clock: str = ""
    """How local clock times and the twin's UTC hang together."""
    moves: tuple[Move, ...] = ()
    """Who is where, in order of the clock."""
    lone: str = ""
    """What to see to where somebody works alone."""


def sheet_of(
    made: Reobserve,
    heading: Heading,
    access: dict[str, tuple[str, str]],
    offset_h: float | None = None,
) -> Sheet:
    """Return the sheet of a plan.

    Parameters
    ----------
    made : Reobserve
    heading : Heading
    access : dict
        Mark to its description and the note of how to reach it.
    offset_h : float, optional
        Local clock minus UTC, hours; None where the job does not say.
    """
    taken = set(made.adjustment.network.set_ups.name)
    jobs = tuple(
        _job(made, place, heading, access, taken)
        for place in range(len(made.plan.order))
    )
    crew, datum = made.crew, made.adjustment.datum
    return Sheet(
        f"Re-observe: {heading.title or 'control'}",
        f"{crew_words(crew)}; from {clock_of(crew.start)}, back by "
        f"{clock_of(made.plan.day.back)}",
        "Do the jobs in this order: if the day is cut short, what is done by then was "
        "nearly the best use of the time.",
        f"{MODES[datum.mode]} — {datum.text}; input {heading.input_hash[:12]}"
        + (f"; {heading.dated}" if heading.dated else ""),
        jobs,
        tuple((one.words, why) for one, why in not_worth(made)[:8]),
        tuple((f"{m:.2f}", f"{m / FOOT:.3f}") for m in _STRIP),
        (*FIELD_CAUTIONS, CAUTIONS[0]),
        clock_words(offset_h),
        tuple(_moves(made)),
        lone_words(crew),
    )


def _moves(made: Reobserve) -> Iterator[Move]:
    names = made.adjustment.network.marks.name
    for visit in sorted(made.plan.day.visits, key=lambda v: (v.leave, v.team)):
        yield Move(
            clock_of(visit.leave),
            visit.team + 1,
            f"{visit.arrive - visit.leave:.0f}",
            names[visit.mark],
            visit.task + 1,
            clock_of(visit.ready),
            f"{clock_of(visit.begin)}–{clock_of(visit.end)}",
            clock_of(visit.down),
        )


def clock_words(offset_h: float | None) -> str:
    """Return how to turn a local clock time into the twin's UTC.

    Examples
    --------
    >>> clock_words(9.5)
    'UTC = local clock − 9.5 h: the twin asks for UTC, written 2026-05-04T14:30:00Z.'
    """
    if offset_h is None:
        return (
            "The twin asks for UTC; [job] utc_offset_h does not say how far the local "
            "clock is from it."
        )
    sign = "−" if offset_h >= 0 else "+"
    return (
        f"UTC = local clock {sign} {abs(offset_h):g} h: the twin asks for UTC, written "
        "2026-05-04T14:30:00Z."
    )


def _job(
    made: Reobserve,
    place: int,
    heading: Heading,
    access: dict[str, tuple[str, str]],
    taken: set[str],
) -> Job:
    offer = made.offers[made.plan.order[place]]
    visits = [v for v in made.plan.day.visits if v.task == place]
    run, sighted = offer.kind == "levelling run", offer.kind == "total-station round"
    if run:
        visits = _run_ends(made, visits, offer.stations)
    names = made.adjustment.network.marks.name
    visits.sort(key=lambda visit: offer.stations.index(names[visit.mark]))
    return Job(
        place + 1,
        f"{offer.kind} {' – '.join(offer.stations)}",
        offer.proposal,
        clock_of(visits[0].begin),
        clock_of(visits[0].end),
        f"{offer.minutes:.0f}",
        tuple(buys_words(made, place, heading.units)),
        offer.note,
        _otherwise(made, place),
        tuple(_ends(made, visits, access, taken, offer.stations[0] if sighted else "")),
        run,
        sighted,
    )


def _ends(
    made: Reobserve,
    visits: "list[Visit]",
    access: dict[str, tuple[str, str]],
    taken: set[str],
    instrument: str = "",
) -> Iterator[End]:
    for visit in visits:
        station = made.adjustment.network.marks.name[visit.mark]
        description, way = access.get(station, ("", ""))
        yield End(
            station,
            description,
            way,
            _free_name(station, taken),
            visit.team + 1,
            clock_of(visit.leave),
            clock_of(visit.ready),
            clock_of(visit.down),
            station == instrument,
        )


def _run_ends(
    made: Reobserve, visits: "list[Visit]", stations: tuple[str, ...]
) -> "list[Visit]":
    """Return a run's two ends, each once: everybody walks it together."""
    names = made.adjustment.network.marks.name
    first = visits[0]
    last = replace(
        first, mark=names.index(stations[-1]), leave=first.begin, ready=first.end
    )
    return [first, last]


def _free_name(station: str, taken: set[str]) -> str:
    """Return a name for a set-up that is not taken, and take it."""
    number = 1
    while (name := f"R{number}-{station}") in taken:
        number += 1
    taken.add(name)
    return name


def _otherwise(made: Reobserve, place: int) -> str:
    """Return the best candidate left that shares a mark with a job that is blocked."""
    job = made.offers[made.plan.order[place]]
    worth = made.plan.alone.worth(made.order)
    left = [
        k
        for k in range(len(worth))
        if k not in made.plan.order
        and worth[k] > 1e-3
        and set(made.offers[k].stations) & set(job.stations)
    ]
    if not left:
        return "go on with the next job"
    best = max(left, key=lambda k: float(worth[k]))
    return made.offers[best].words


def sheet_html(sheet: Sheet) -> str:
    """Return the sheet as a page without scripts, for paper and phone."""
    return environment().get_template("sheet.html").render(sheet=sheet)
