"""The order of a crew's tasks in which most is done soonest."""

from collections.abc import Iterator, Sequence
from itertools import permutations

import numpy as np

from ...networks.covariances import Floats
from .crew import Crew, Day, Task
from .day import day

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
