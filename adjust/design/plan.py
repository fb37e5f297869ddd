"""A crew's plan: what it does in which order, what each thing buys, what is left."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, fields, replace
from functools import cache

import numpy as np

from ...networks.covariances import Bools, Floats
from .choosing import Choice, Chosen, choose
from .crew import Crew, Day, Task
from .day import day
from .day_order import best_order
from .scored import Scores
from .screen import screened
from .standing import unchecked
from .state import NO_MARKS, State, columns_of, keeping, observed

FINALISTS = 60
"""Candidates that are planned with: those that buy most for their time on the marks."""
SCREENED = 800
"""Above so many candidates only this many get a full look: those that gain most in
precision by a first look at all, and those that touch what nothing checks."""


_LARGE = 8_000_000
"""Figures of how blunders move marks, from which only the finalists' marks are kept."""
TOUCHES = 1e-9
"""m; a candidate sees an unchecked blunder that moves its rows by more."""


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
    beside: Scores
    """What each would still buy beside the whole plan."""
    able: Bools
    """Whether each can be done at all in these hours."""
    added: Floats
    """Minutes that each would add to the day; inf where it does not fit any more."""
    looked: Bools
    """Whether each had a full look; false: the first look found others better."""


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
    looked = _looked_at(state, choice)
    alone = _scored(state, choice, looked, [])
    kept = _finalists(alone.worth(choice.order), looked, tasks, crew, drive)
    own = replace(
        choice,
        candidates=[choice.candidates[k] for k in kept],
        parts=None if choice.parts is None else choice.parts[kept],
        minutes=_added([tasks[k] for k in kept], crew, drive),
        least=np.array([max(tasks[k].minutes, 1.0) for k in kept]),
    )
    found = choose(_light(state, own), own, most)
    chosen = [kept[step.candidate] for step in found]
    made = best_order(
        [tasks[k] for k in chosen], [step.worth for step in found], crew, drive
    )
    order, day_ = made if made is not None else ((), Day((), (), crew.start))
    final = tuple(chosen[k] for k in order)
    steps, after = _steps(state, choice, final)
    able = np.array([day([one], crew, drive) is not None for one in tasks], dtype=bool)
    some = [tasks[k] for k in final]
    added = np.full(len(tasks), np.inf)
    for k in np.flatnonzero(able & looked).tolist():
        back = _inserted([*some, tasks[k]], tuple(range(len(some))), len(some), crew,
                         drive)[1]  # fmt: skip
        added[k] = back - day_.back
    beside = _scored(after, choice, looked, final)
    return Plan(final, steps, day_, alone, beside, able, added, looked)


def _light(state: State, choice: Choice) -> State:
    """Return a state of the marks that are chosen from, where it would be large."""
    if state.moves.size < _LARGE:
        return state
    return keeping(state, np.array([m for one in choice.candidates for m in one.marks]))


def _looked_at(state: State, choice: Choice) -> Bools:
    """Return which candidates get a full look."""
    count = len(choice.candidates)
    if count <= SCREENED:
        return np.ones(count, dtype=bool)
    gain = screened(state, choice.candidates)
    looked = np.zeros(count, dtype=bool)
    looked[np.argsort(-gain, kind="stable")[: SCREENED // 2]] = True
    blind = state.moves[:, :, unchecked(state.share)]
    blind = blind.reshape(len(blind), -1)
    ranked = np.argsort(-gain, kind="stable").tolist()
    for k in ranked:
        if looked.sum() >= SCREENED or not blind.size:
            break
        one = choice.candidates[k]
        at = columns_of(state.places(np.array(one.marks)))
        looked[k] |= bool((np.abs(one.design @ blind[at]) > TOUCHES).any())
    rest = [k for k in ranked if not looked[k]]
    looked[rest[: SCREENED - int(looked.sum())]] = True
    return looked


def _scored(
    state: State, choice: Choice, looked: Bools, before: Sequence[int]
) -> Scores:
    """Return scores of all candidates; zeros for those without a full look."""
    some = np.flatnonzero(looked)
    found = choice.scored(state, some.tolist(), before)
    made = []
    for field in fields(Scores):
        whole = np.zeros(len(looked))
        whole[some] = getattr(found, field.name)
        made.append(whole)
    return Scores(*made)


def _finalists(
    worth: Floats, looked: Bools, tasks: Sequence[Task], crew: Crew, drive: Floats
) -> list[int]:
    """Return the candidates that can be done at all, and buy most for their time."""
    stand = np.array(
        [task.minutes + (0 if task.run else crew.set_up) for task in tasks]
    )
    ranked = np.argsort(-worth / stand, kind="stable").tolist()
    able = (k for k in ranked if looked[k] and day([tasks[k]], crew, drive) is not None)
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


def _steps(
    state: State, choice: Choice, order: Sequence[int]
) -> tuple[tuple[Chosen, ...], State]:
    """Return what each buys beside those before it, and the state after all."""
    made: list[Chosen] = []
    for place, k in enumerate(order):
        found = choice.scored(state, [k], order[:place])
        state = observed(state, choice.candidates[k])
        worth = float(found.worth(choice.order)[0])
        left = keeping(state, NO_MARKS)
        made.append(Chosen(k, found, worth, float("nan"), left))
    return tuple(made), state
