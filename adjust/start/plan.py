"""The order in which the plan is put together."""

from cmath import exp
from collections.abc import Sequence
from math import pi, sqrt

from .bodies import Body, laid
from .growing import HOPELESS, PLAN, Growth, retry, weak
from .hopeless import refuse_doubtful, refuse_hopeless
from .seen import Seen

_GOLDEN = pi * (3 - sqrt(5))
"""rad; a turn that never brings two marks onto one line of sight."""

Plan = dict[int, complex]


def placed_in_plan(
    seen: Seen, known: Plan, rough: Plan, joined: Sequence[Body], names: Sequence[str]
) -> tuple[Plan, set[int]]:
    """Return the places of all marks that something sees in plan, and the guessed ones.

    Parameters
    ----------
    seen : Seen
    known : dict
        Places of known marks and positions.
    rough : dict
        Approximate places, for what nothing else places and to choose between two.
    joined : sequence of Body
        Marks joined by vectors, each piece with its own origin, in axes of the plan or
        turned by an unknown angle.
    names : sequence of str
        Of the marks, for messages.

    Raises
    ------
    NoSolution
        The geometry is hopeless, or two places fit one mark alike.
    """
    growth = Growth(seen, {PLAN: Body({}, turn=0.0, scale=1.0)})
    growth.put(growth.plan, known)
    wanted = set(seen.marks)
    for body in joined:
        wanted |= body.points.keys() if body.turn is None else set()
        growth.put(body)
    _put_polar(growth)
    _put_lines(growth)
    guessed: set[int] = set()
    if not wanted <= growth.plan.points.keys():
        retry(growth, HOPELESS)
    if not seen.marks <= growth.plan.points.keys():
        _choose(growth, rough)
        refuse_hopeless(growth, names)
        _use_rough(growth, rough)
        refuse_doubtful(growth, names)
        guessed = seen.marks - growth.plan.points.keys()
        _lay_beside(growth)
    return growth.plan.points, guessed


def _put_polar(growth: Growth) -> None:
    """Add the polar points of every set-up that hangs on nothing yet."""
    for number, some in enumerate(growth.seen.rounds):
        bodies = growth.holding.get(some.at, ())
        if any(number in growth.bodies[body].turned for body in bodies):
            continue
        lengths = growth.seen.distances.get(some.at, {})
        points = {t: lengths[t] * ray for t, ray in some.rays.items() if t in lengths}
        growth.put(Body({some.at: 0j, **points}, 0.0 if some.oriented else None, 1.0))


def _put_lines(growth: Growth) -> None:
    """Add lines of unknown length that are seen from both ends, for angles alone."""
    for some in growth.seen.rounds:
        for target in some.rays:
            both = [growth.holding.get(mark, set()) for mark in (some.at, target)]
            back = growth.seen.at.get(target, ())
            mutual = any(some.at in growth.seen.rounds[n].rays for n in back)
            if mutual and not both[0] & both[1]:
                growth.put(Body({some.at: 0j, target: 1 + 0j}))


def _choose(growth: Growth, rough: Plan) -> None:
    """Take of two places the one near the approximate position."""
    for mark, places in list(growth.plan.doubtful.items()):
        if mark in rough and mark not in growth.plan.points:
            near = min(places, key=lambda point: abs(point - rough[mark]))
            growth.put(growth.plan, {mark: near})


def _use_rough(growth: Growth, rough: Plan) -> None:
    """Lay bodies by all approximate positions of their marks, then single marks."""
    by_size = sorted(growth.bodies, key=lambda n: -len(growth.bodies[n].points))
    for number in by_size:
        if number == PLAN or number not in growth.bodies:
            continue
        body = growth.bodies[number]
        there = {**rough, **growth.plan.points}
        common = [mark for mark in body.points if mark in there]
        on = Body(there, turn=0.0, scale=1.0)
        found = laid(body, on, common)
        if found and not weak(body, on, common, growth.least):
            factor, shift = found
            places = {m: factor * p + shift for m, p in body.points.items()}
            growth.put(growth.plan, places)
    for mark, point in rough.items():
        if mark not in growth.plan.points:
            growth.put(growth.plan, {mark: point})
            _choose(growth, rough)


def _lay_beside(growth: Growth) -> None:
    """Lay what hangs loose so that the estimate can say that it floats."""
    plan = growth.plan
    while len(growth.bodies) > 1:
        number = max(
            (n for n in growth.bodies if n != PLAN),
            key=lambda n: len(growth.bodies[n].points),
        )
        body = growth.bodies.pop(number)
        for mark in body.points:
            growth.holding[mark].discard(number)
        factor = (body.scale or 1.0) * exp(1j * (body.turn or 0.0))
        first = next((m for m in body.points if m in plan.points), None)
        shift = _beside(growth)
        if first is not None:
            shift = plan.points[first] - factor * body.points[first]
        growth.put(plan, {m: factor * p + shift for m, p in body.points.items()})
    for mark in sorted(growth.seen.marks):
        if mark not in plan.points:
            growth.put(plan, {mark: _beside(growth)})


def _beside(growth: Growth) -> complex:
    """Return a place outside the plan, never the same one twice."""
    points = list(growth.plan.points.values())
    if not points:
        return 0j
    size = max(abs(point - points[0]) for point in points) or 100.0
    return points[0] + 1.2 * size * exp(1j * _GOLDEN * len(points))
