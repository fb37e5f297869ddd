"""A job with its planned work observed in it: what that would be worth."""

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

from brasscap.arguments import Request, wrong
from brasscap.networks import Finding, InputError

if TYPE_CHECKING:
    from brasscap.adjust import Adjustment
    from brasscap.adjust.design import State
    from brasscap.adjust.design.crew import Crew, Day
    from brasscap.io.tables.load import Loaded
    from brasscap.io.tables.table import Table
    from brasscap.networks import Network
    from brasscap.networks.covariances import Floats
    from brasscap.networks.planning import Planned
    from brasscap.networks.specifications import Specification
    from brasscap.progress import Progress


LEAST_WITHOUT, MARKS_WITHOUT = 10, 200_000
"""Pieces without which a plan is looked at: so many in any case, and so many that all
their networks together have so many marks, some minutes."""


class Work(NamedTuple):
    """One piece of planned work."""

    planned: "Planned"
    minutes: float
    note: str


class Preplanned(NamedTuple):
    """A network with planned work in it, and without each piece."""

    adjustment: "Adjustment"
    """With all of it; nothing is observed, so it has no misfit."""
    specification: "Specification | None"
    state: "State"
    work: "tuple[Work, ...]"
    without: "tuple[State | None, ...]"
    """The state without each piece; None where the network would then float."""
    crew: "Crew"
    day: "Day | None"
    """In the order of the plan; None where it does not fit one day."""
    days: "tuple[tuple[int, ...], ...] | None"
    """Which pieces each day holds; None where one of them fits no day."""
    assumed: tuple[str, ...]
    before: bool
    """Whether something is observed already."""


def preplanned(request: Request, loaded: "Loaded", progress: "Progress") -> Preplanned:
    """Return what the planned work would make of the job.

    Raises
    ------
    InputError
        There is no plan, or a mark has no position.
    NoSolution
        The plan leaves something floating.
    """
    import numpy as np

    from brasscap.adjust import estimate
    from brasscap.adjust.design.crew import Task
    from brasscap.adjust.design.day import day, days
    from brasscap.adjust.design.state import NO_MARKS
    from brasscap.crewing import crew_of
    from brasscap.driving import drives_of
    from brasscap.present_state import state_now

    table = _table(request, loaded)
    places, before = _places(loaded)
    work = tuple(_work(loaded, table, places))
    progress(f"{len(work)} pieces of work")
    network = _with_all(loaded, [one.planned for one in work], places)
    adjustment = estimate(network)
    crew, assumed = crew_of(request, loaded, adjustment)
    _enough(work, crew)
    specification, state = state_now(loaded, adjustment, marks=NO_MARKS)
    home = [crew.home] if crew.home >= 0 else []
    marks = np.unique([m for one in work for m in one.planned.marks] + home).astype(int)
    place = {mark: k for k, mark in enumerate(marks.tolist())}
    drive = drives_of(loaded, adjustment, marks)
    at_home = replace(crew, home=place.get(crew.home, -1))
    tasks = [
        Task(
            tuple(place[m] for m in one.planned.marks),
            one.minutes,
            run=one.planned.kind == "levelling run",
            sighted=one.planned.kind == "total-station round",
        )
        for one in work
    ]
    return Preplanned(
        adjustment,
        specification,
        state,
        work,
        tuple(_each_without(loaded, network, work, progress)),
        crew,
        day(tasks, at_home, drive),
        days(tasks, at_home, drive),
        assumed,
        before,
    )


def _table(request: Request, loaded: "Loaded") -> "Table":
    from brasscap.io.plans import read_plan

    if "sessions" in request.values:
        return read_plan(Path(request.values["sessions"]))
    table = loaded.tables.get("proposed")
    if table is None or not len(table):
        mend = "write one row a piece of work in proposed.csv, or name  --sessions FILE"
        raise InputError(
            [Finding("no-plan", "fault", "proposed.csv", file="proposed.csv",
                     booked="nothing planned", against="work to look at", mend=mend)]
        )  # fmt: skip
    return table


def _places(loaded: "Loaded") -> "tuple[Floats, bool]":
    """Return where the marks are, m, and whether something is observed already."""
    import numpy as np

    from brasscap.adjust import estimate
    from brasscap.networks.errors import NoSolution

    network = loaded.network
    places = network.marks.approximate.copy()
    before = False
    try:
        made = estimate(network)
        known = made.estimated.all(axis=1)
        places[known] = made.nodes.xyz[: len(places)][known]
        before = bool(made.observations_count)
    except NoSolution:
        pass
    places = _with_known(network, places)
    lost = [network.marks.name[m] for m in np.flatnonzero(np.isnan(places).any(axis=1))]
    if lost:
        raise InputError([_no_place(name) for name in lost])
    return places, before


def _with_known(network: "Network", places: "Floats") -> "Floats":
    import numpy as np

    for row, mark in enumerate(network.known.mark.tolist()):
        if np.isnan(places[mark]).any():
            places[mark] = network.known.xyz[row]
    return places


def _no_place(name: str) -> Finding:
    return Finding(
        "no-approximate-position",
        "fault",
        f"mark {name}",
        file="stations.csv",
        booked="no position",
        against="a plan needs to know where each mark is, to some tens of metres",
        mend="book its approximate position in stations.csv",
    )


def _work(loaded: "Loaded", table: "Table", places: "Floats") -> "list[Work]":
    """Return the pieces of a plan; rows of one session are one piece."""
    from brasscap.proposing import pieces

    unblocked = [i for i in range(len(table)) if not table.word("blocked")[i]]
    found = [_piece(loaded, table, rows, places) for rows in pieces(table, unblocked)]
    if not found:
        raise wrong("preanalysis: every row of the plan is blocked")
    return found


def _piece(
    loaded: "Loaded", table: "Table", rows: Sequence[int], places: "Floats"
) -> Work:
    import numpy as np

    from brasscap.expecting import angular_sds, log_minutes, planned_sds
    from brasscap.networks.planning import Planned

    kind = str(table.word("kind")[rows[0]])
    marks = _marks(loaded, table, rows)
    kinds = {"second set-up": "baseline", "control tie": "baseline"}
    name = str(table.word("session")[rows[0]] or table.word("proposal")[rows[0]])
    length = float(np.linalg.norm(places[marks[-1]] - places[marks[0]]))
    made = kinds.get(kind, kind)
    if made == "total-station round":
        sds: tuple[float, ...] = angular_sds(loaded, loaded.network)[:3]
    else:
        sds = planned_sds(loaded, table, kind, length, rows[0])
        sds = sds[1:] if made == "levelling run" else sds
    if not all(sd > 0 for sd in sds):
        raise InputError([_no_sd(table, rows[0], kind)])
    stand = loaded.job.set_up_kinds["tripod"]
    minutes = max(
        (float(table.number("minutes")[i]) for i in rows), key=lambda m: (m == m, m)
    )
    return Work(
        Planned(name, made, tuple(marks), sds, (stand.sd_centring, stand.sd_height)),
        minutes if minutes == minutes else log_minutes(loaded, kind),
        str(table.word("note")[rows[0]]),
    )


def _no_sd(table: "Table", row: int, kind: str) -> Finding:
    return Finding(
        "no-expected-precision",
        "fault",
        f"proposal {table.word('proposal')[row]}",
        file=str(table.file[row]),
        row=int(table.row[row]),
        booked="no sd_plan_mm, sd_height_mm",
        against="what the work is expected to be worth",
        mend=f"write them there, or once in job.toml under [planned.{kind}]",
    )


def _marks(loaded: "Loaded", table: "Table", rows: Sequence[int]) -> list[int]:
    names = loaded.network.marks.name
    marks: list[int] = []
    for i in rows:
        for end in ("from", "to"):
            name = str(table.word(f"{end}_station")[i])
            if not name:
                continue
            if name not in names:
                raise InputError([_unknown(table, i, name, names)])
            if names.index(name) not in marks:
                marks.append(names.index(name))
    return marks


def _unknown(table: "Table", row: int, name: str, names: Sequence[str]) -> Finding:
    from difflib import get_close_matches

    near = get_close_matches(name, names, 1)
    return Finding(
        "unknown-name",
        "fault",
        f"proposal {table.word('proposal')[row]}",
        file=str(table.file[row]),
        row=int(table.row[row]),
        booked=name,
        against="a mark of the job",
        likely=near[0] if near else "",
        mend="name it as in stations.csv; a new mark needs a row there, with its "
        "approximate position",
    )


def _enough(work: Sequence[Work], crew: "Crew") -> None:
    for one in work:
        if one.planned.kind == "baseline" and len(one.planned.marks) > crew.receivers:
            raise wrong(
                f"preanalysis: {one.planned.name} occupies {len(one.planned.marks)} "
                f"marks at once, there are {crew.receivers} receivers (--receivers N)"
            )


def _with_all(
    loaded: "Loaded", planned: "Sequence[Planned]", places: "Floats"
) -> "Network":
    """Return the network with what is planned observed in it, without any error."""
    from brasscap.networks.planning import with_planned
    from brasscap.networks.simulate import undisturbed

    # Nothing is observed: only the stated precision says something.
    options = replace(
        loaded.network.options, ellipses_from="stated", tests_from="stated"
    )
    network = loaded.network.with_options(options)
    return undisturbed(with_planned(network, planned, places))


def _each_without(
    loaded: "Loaded", network: "Network", work: Sequence[Work], progress: "Progress"
) -> "list[State | None]":
    from brasscap.adjust import Adjustment, estimates
    from brasscap.adjust.design.state import NO_MARKS
    from brasscap.networks.planning import without_planned
    from brasscap.present_state import state_now

    most = max(LEAST_WITHOUT, MARKS_WITHOUT // len(loaded.network.marks))
    left_out = [one.planned for one in work[:most]]
    found = estimates(
        (without_planned(network, one) for one in left_out),
        begin=network.marks.approximate,
    )
    made: list[State | None] = []
    for one in left_out:
        progress(f"without {one.name}")
        solved = next(found)
        made.append(
            state_now(loaded, solved, marks=NO_MARKS)[1]
            if isinstance(solved, Adjustment)
            else None
        )
    return made
