"""A crew's plan: what it does in which order, what each thing buys, what is left."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import cache

import numpy as np

from ...networks.covariances import Floats
from .choosing import Choice, Chosen, choose
from .crew import Crew, Day, Task, best_order, day
from .state import State, observed
from .worth import Scores

FINALISTS = 60
"""Candidates that are planned with: those that buy most for their time on the marks."""


@dataclass(frozen=True, slots=True)
class Plan:
    """What to do in order, and how the network would stand after each."""

    order: tuple[int, ...]
    """Candidates, in the order of the day."""
    steps: tuple[Chosen, ...]
    """What each buys beside those before it in that order."""
    day: Day
    alone: Scores
    """What each of all candidates would buy by itself, beside what is there."""


def planned(
    state: State,
    choice: Choice,
    tasks: Sequence[Task],
    crew: Crew,
    drive: Floats,
    most: int = 12,
) -> Plan:
    """Return the plan of a crew's day.

    Parameters
    ----------
    state : State
    choice : Choice
        Its minutes are set here.
    tasks : sequence of Task
        Of each candidate.
    crew : Crew
    drive : ndarray, shape (m, m)
        Minutes between marks.
    most : int, optional
        Things to do at most.
    """
    alone = choice.scored(state, range(len(tasks)), [])
    kept = _finalists(alone.worth(choice.order), tasks, crew, drive)
    own = replace(
        choice,
        candidates=[choice.candidates[k] for k in kept],
        parts=None if choice.parts is None else choice.parts[kept],
        minutes=_added([tasks[k] for k in kept], crew, drive),
    )
    found = choose(state, own, most)
    chosen = [kept[step.candidate] for step in found]
    made = best_order(
        [tasks[k] for k in chosen], [step.worth for step in found], crew, drive
    )
    order, day_ = made if made is not None else ((), Day((), (), crew.start))
    final = tuple(chosen[k] for k in order)
    return Plan(final, tuple(_steps(state, choice, final)), day_, alone)


def _finalists(
    worth: Floats, tasks: Sequence[Task], crew: Crew, drive: Floats
) -> list[int]:
    """Return the candidates that can be done at all, and buy most for their time."""
    stand = np.array(
        [task.minutes + (0 if task.run else crew.set_up) for task in tasks]
    )
    ranked = np.argsort(-worth / stand, kind="stable").tolist()
    able = (k for k in ranked if day([tasks[k]], crew, drive) is not None)
    return [k for k, _ in zip(able, range(FINALISTS), strict=False)]


def _added(
    tasks: Sequence[Task], crew: Crew, drive: Floats
) -> Callable[[Sequence[int], int], float]:
    """Return the minutes that a task adds where it fits best among those before."""

    @cache
    def ordered(before: tuple[int, ...]) -> tuple[tuple[int, ...], float]:
        if not before:
            return (), crew.start
        earlier, _ = ordered(before[:-1])
        return _inserted(tasks, earlier, before[-1], crew, drive)

    @cache
    def added(before: tuple[int, ...], one: int) -> float:
        order, back = ordered(before)
        return max(_inserted(tasks, order, one, crew, drive)[1] - back, 1.0)

    return lambda before, one: added(tuple(before), one)


def _inserted(
    tasks: Sequence[Task], order: tuple[int, ...], one: int, crew: Crew, drive: Floats
) -> tuple[tuple[int, ...], float]:
    """Return the order with one more where everybody is back soonest; inf: nowhere."""
    best, back = order, float("inf")
    for i in range(len(order) + 1):
        tried = (*order[:i], one, *order[i:])
        made = day([tasks[k] for k in tried], crew, drive)
        if made is not None and made.back < back:
            best, back = tried, made.back
    return best, back


def _steps(state: State, choice: Choice, order: Sequence[int]) -> list[Chosen]:
    """Return what each buys beside those before it."""
    made: list[Chosen] = []
    for place, k in enumerate(order):
        found = choice.scored(state, [k], order[:place])
        state = observed(state, choice.candidates[k])
        worth = float(found.worth(choice.order)[0])
        made.append(Chosen(k, found, worth, float("nan"), state))
    return made
