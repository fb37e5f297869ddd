"""A crew's day: who drives where, sets up, logs, takes down, and when.

A team that serves several marks of a task leaves a receiver standing and comes back for
it (the pick-up). A levelling run keeps everybody together from its first mark to its
last.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cache
from itertools import permutations, product
from math import inf

from ...networks.covariances import Floats
from .crew import Crew, Day, Task, Visit


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

    >>> import numpy as np
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

    >>> import numpy as np
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
        ordered = _nearest_first(task, own, drive, place)
        if task.sighted and 0 in own:
            # Who sets up the instrument stays with it: targets first.
            ordered = [*(k for k in ordered if k), 0]
        for k in ordered:
            mark = task.marks[k]
            leave = now
            arrive = leave + _drive(drive, place, mark)
            now = arrive + (0.0 if task.run else crew.set_up)
            place = mark
            yield team, mark, leave, arrive, now
