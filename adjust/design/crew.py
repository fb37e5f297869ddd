"""A crew's day: who drives where, sets up, logs, takes down, and when.

Minutes since midnight, local clock. A team is a vehicle with who rides in it. A task is
a set of marks that are occupied at the same time; a team that serves several of them
leaves a receiver standing and comes back for it (the pick-up). A levelling run keeps
everybody together from its first mark to its last.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cache
from itertools import permutations, product
from math import inf

import numpy as np

from ...networks.covariances import Floats


@dataclass(frozen=True, slots=True)
class Crew:
    """Who goes out, with what, and how long."""

    receivers: int
    teams: int
    start: float
    end: float
    """When everybody must be back, or finished where no home is stated."""
    sunset: float = inf
    """No set-up stands after it."""
    gate: float = inf
    """Everybody must be back before it closes."""
    set_up: float = 15.0
    """Minutes to set up."""
    home: int = -1
    """Mark where the day starts and ends; −1: at the first mark, at no cost."""

    @property
    def take_down(self) -> float:
        """Minutes to take down: half of setting up (common practice, no source)."""
        return self.set_up / 2


@dataclass(frozen=True, slots=True)
class Task:
    """One thing to do: marks occupied together, or a run from one to the other."""

    marks: tuple[int, ...]
    minutes: float
    """Of logging together, or of the run."""
    earliest: float = -inf
    """Logging does not start before it."""
    latest: float = inf
    """Logging ends before it."""
    run: bool = False
    """Whether everybody walks it together: levelling."""
    sighted: bool = False
    """Whether instrument and targets stand on the marks, not receivers."""


@dataclass(frozen=True, slots=True)
class Visit:
    """One team at one mark."""

    task: int
    """Place in the order."""
    team: int
    mark: int
    leave: float
    """When the team sets off to it."""
    arrive: float
    ready: float
    """When it stands; of a run, when the run starts."""
    begin: float
    """When all that stand together begin to log."""
    end: float
    down: float
    """When it is taken down."""


@dataclass(frozen=True, slots=True)
class Day:
    """A day as it would go."""

    visits: tuple[Visit, ...]
    finished: tuple[float, ...]
    """When each task's logging ends."""
    back: float
    """When everybody is back."""


def day(tasks: Sequence[Task], crew: Crew, drive: Floats) -> Day | None:
    """Return how tasks in a given order would go; None where they cannot be done.

    Parameters
    ----------
    tasks : sequence of Task
    crew : Crew
    drive : ndarray, shape (m, m)
        Minutes between marks, walks to and from the vehicle included.

    Examples
    --------
    One vector, two teams at home beside its ends: 15 minutes to set up, 45 to log.

    >>> two = Crew(2, 2, 840, 1080)
    >>> day([Task((0, 1), 45)], two, np.zeros((2, 2))).finished
    (900.0,)
    """
    where = [crew.home] * crew.teams
    free = [crew.start] * crew.teams
    visits: list[Visit] = []
    finished: list[float] = []
    for number, task in enumerate(tasks):
        received = not (task.run or task.sighted)
        if received and len(task.marks) > crew.receivers:
            return None
        found = _done(number, task, crew, drive, where, free)
        if found is None:
            return None
        visits += found.visits
        where, free = list(found.where), list(found.free)
        finished.append(found.visits[0].end)
    home = [_drive(drive, place, crew.home) for place in where]
    back = max((t + d for t, d in zip(free, home, strict=True)), default=crew.start)
    if back > min(crew.end, crew.gate):
        return None
    return Day(tuple(visits), tuple(finished), back)


def days(
    tasks: Sequence[Task], crew: Crew, drive: Floats
) -> tuple[tuple[int, ...], ...] | None:
    """Return which tasks each day holds, in their order; None where one fits no day.

    A day takes what fits before the next begins; all days have the same hours.

    Parameters
    ----------
    tasks : sequence of Task
    crew : Crew
    drive : ndarray, shape (m, m)
        Minutes.

    Examples
    --------
    Two vectors of an hour, a quarter to set up, in a day of two hours.

    >>> two = [Task((0, 1), 60), Task((0, 1), 60)]
    >>> days(two, Crew(2, 2, 480, 600), np.zeros((2, 2)))
    ((0,), (1,))
    """
    made: list[tuple[int, ...]] = []
    today: tuple[int, ...] = ()
    for k in range(len(tasks)):
        if day([tasks[i] for i in (*today, k)], crew, drive) is not None:
            today = (*today, k)
        elif today and day([tasks[k]], crew, drive) is not None:
            made.append(today)
            today = (k,)
        else:
            return None
    return (*made, today) if today else tuple(made)


def _drive(drive: Floats, start: int, end: int) -> float:
    return 0.0 if start < 0 or end < 0 or start == end else float(drive[start, end])


@dataclass(frozen=True, slots=True)
class _Done:
    visits: tuple[Visit, ...]
    where: tuple[int, ...]
    free: tuple[float, ...]


def _done(
    number: int,
    task: Task,
    crew: Crew,
    drive: Floats,
    where: Sequence[int],
    free: Sequence[float],
) -> _Done | None:
    """Return the task done by whichever teams log soonest, then are free soonest."""
    best: _Done | None = None
    key = (inf, inf)
    ways = _walked(task, crew) if task.run else _shared(len(task.marks), crew.teams)
    for shares in ways:
        made = _tried(number, task, shares, crew, drive, where, free)
        if made is None:
            continue
        this = (made.visits[0].end, max(made.free))
        if this < key:
            best, key = made, this
    return best


def _walked(task: Task, crew: Crew) -> tuple[tuple[tuple[int, ...], ...], ...]:
    """Return the one way a run goes: everybody at its first mark."""
    return (tuple((0,) for _ in range(crew.teams)),)


@cache
def _shared(marks: int, teams: int) -> tuple[tuple[tuple[int, ...], ...], ...]:
    """Return every way in which teams share marks, each with its order of visits.

    Of three marks and more the order is left to ``_nearest_first``.
    """
    made = []
    for owner in product(range(teams), repeat=marks):
        own = [[k for k in range(marks) if owner[k] == t] for t in range(teams)]
        if marks > _EVERY_WAY:
            made.append(tuple(tuple(some) for some in own))
        else:
            made += list(product(*(tuple(permutations(some)) for some in own)))
    return tuple(made)


_EVERY_WAY = 2
"""Up to so many marks every order of visits is tried."""


def _nearest_first(
    task: Task, own: Sequence[int], drive: Floats, place: int
) -> Sequence[int]:
    """Return marks in the order in which each is the nearest to the one before."""
    if len(task.marks) <= _EVERY_WAY or len(own) < 2:
        return own
    left, made = list(own), []
    while left:
        best = min(left, key=lambda k: (_drive(drive, place, task.marks[k]), k))
        left.remove(best)
        made.append(best)
        place = task.marks[best]
    return made


def _tried(
    number: int,
    task: Task,
    shares: Sequence[Sequence[int]],
    crew: Crew,
    drive: Floats,
    where: Sequence[int],
    free: Sequence[float],
) -> _Done | None:
    arrivals = list(_arrivals(task, shares, crew, drive, where, free))
    begin = max([task.earliest, *(ready for *_, ready in arrivals)])
    end = begin + task.minutes
    if end > task.latest or end > crew.sunset:
        return None
    visits, new_where, new_free = [], list(where), list(free)
    for team in range(len(shares)):
        rows = [row for row in arrivals if row[0] == team]
        place, now = (rows[-1][1], end) if rows else (where[team], free[team])
        downs: dict[int, float] = {}
        # The receiver one stands beside first, then back along the way for the rest.
        for _, mark, *_ in reversed(rows):
            now += _drive(drive, place, mark)
            now += 0.0 if task.run else crew.take_down
            place, downs[mark] = mark, now
        if task.run and rows:
            place = task.marks[-1]
        if rows and now > crew.sunset:
            return None
        new_where[team], new_free[team] = place, now
        visits += [
            Visit(number, team, mark, leave, arrive, ready, begin, end, downs[mark])
            for _, mark, leave, arrive, ready in rows
        ]
    return _Done(tuple(visits), tuple(new_where), tuple(new_free))


def _arrivals(
    task: Task,
    shares: Sequence[Sequence[int]],
    crew: Crew,
    drive: Floats,
    where: Sequence[int],
    free: Sequence[float],
) -> Iterator[tuple[int, int, float, float, float]]:
    """Yield team, mark, when it leaves, arrives and is ready."""
    for team, own in enumerate(shares):
        place, now = where[team], free[team]
        for k in _nearest_first(task, own, drive, place):
            mark = task.marks[k]
            leave = now
            arrive = leave + _drive(drive, place, mark)
            now = arrive + (0.0 if task.run else crew.set_up)
            place = mark
            yield team, mark, leave, arrive, now


EXACT = 5
"""All orders of so few tasks are tried."""


def best_order(
    tasks: Sequence[Task], worth: Sequence[float], crew: Crew, drive: Floats
) -> tuple[tuple[int, ...], Day] | None:
    """Return the order in which most is done soonest; None where none can be done.

    What is bought is counted from the moment it is done until the day ends, so that
    stopping at any moment leaves nearly the best; all orders of up to five tasks, and
    moves of one task and turns of a part of the order (2-opt) for more.

    Parameters
    ----------
    tasks : sequence of Task
    worth : sequence of float
        Of each.
    crew : Crew
    drive : ndarray, shape (m, m)
        Minutes.
    """
    count = len(tasks)
    if count <= EXACT:
        return _best_of(permutations(range(count)), tasks, worth, crew, drive)
    first = _inserted(tasks, worth, crew, drive)
    while first is not None:
        better = _best_of(_near(first[0]), tasks, worth, crew, drive)
        if better is None or _value(better, worth, crew) <= _value(first, worth, crew):
            return first
        first = better
    return None


_Order = tuple[tuple[int, ...], Day]


def _value(made: _Order, worth: Sequence[float], crew: Crew) -> float:
    """Return what is bought times how long before the end; then soon back is better."""
    order, day_ = made
    done = zip(order, day_.finished, strict=True)
    bought = sum(worth[k] * (crew.end - at) for k, at in done)
    return bought - 1e-6 * day_.back


def _best_of(
    orders: Iterator[tuple[int, ...]],
    tasks: Sequence[Task],
    worth: Sequence[float],
    crew: Crew,
    drive: Floats,
) -> _Order | None:
    best: _Order | None = None
    for order in orders:
        made = day([tasks[k] for k in order], crew, drive)
        if made is None:
            continue
        this = (order, made)
        if best is None or _value(this, worth, crew) > _value(best, worth, crew):
            best = this
    return best


def _inserted(
    tasks: Sequence[Task], worth: Sequence[float], crew: Crew, drive: Floats
) -> _Order | None:
    """Return an order by inserting one task after another where it fits best."""
    made: _Order | None = ((), Day((), (), crew.start))
    for k in np.argsort(-np.asarray(worth), kind="stable").tolist():
        if made is None:
            return None
        before = made[0]
        orders = ((*before[:i], k, *before[i:]) for i in range(len(before) + 1))
        made = _best_of(iter(orders), tasks, worth, crew, drive)
    return made


def _near(order: tuple[int, ...]) -> Iterator[tuple[int, ...]]:
    """Yield orders with one task moved, or a part turned round."""
    count = len(order)
    for i in range(count):
        rest = (*order[:i], *order[i + 1 :])
        for j in range(count):
            if j != i:
                yield (*rest[:j], order[i], *rest[j:])
        for j in range(i + 2, count + 1):
            yield (*order[:i], *reversed(order[i:j]), *order[j:])
