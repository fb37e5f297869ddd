"""Bodies grow by what was seen from their marks, and join where they meet."""

from cmath import exp, phase
from collections import deque
from collections.abc import Iterable
from dataclasses import dataclass, field

from .bodies import Body, join, laid
from .placing import place
from .seen import Round, Seen

PLAN = 0
"""The number of the body that is the plan itself."""
STRONG, HOPELESS = 0.1, 3e-3
"""Least strength of a figure at first, and at last: 6° and 10′ as a crossing. Below
the second, seconds of arc make metres of a few hundred."""
_CROWD = 50
"""Bodies at one mark beyond which they are joined through the plan only."""


@dataclass(slots=True)
class Growth:
    """The bodies, and what is still to be looked at."""

    seen: Seen
    bodies: dict[int, Body]
    holding: dict[int, set[int]] = field(default_factory=dict)
    """Mark to the numbers of the bodies that have it."""
    waiting: deque[tuple[int, int]] = field(default_factory=deque)
    """Body and mark to look at next."""
    least: float = STRONG
    last: int = PLAN

    @property
    def plan(self) -> Body:
        """The body that is the plan itself."""
        return self.bodies[PLAN]

    def put(self, body: Body, points: dict[int, complex] | None = None) -> None:
        """Add a body with two marks or more, or points to the plan, and grow."""
        if body is self.plan:
            new = {m: p for m, p in (points or {}).items() if m not in body.points}
            body.points.update(new)
            _await(self, PLAN, new)
        elif len(body.points) > 1:
            self.last += 1
            self.bodies[self.last] = body
            _await(self, self.last, body.points)
        grow(self)


def grow(growth: Growth) -> None:
    """Let the bodies grow and join until nothing more follows."""
    while growth.waiting:
        number, mark = growth.waiting.popleft()
        if number not in growth.bodies or _joined(growth, number, mark):
            continue
        seen, body = growth.seen, growth.bodies[number]
        for some in seen.at.get(mark, ()):
            _attach(growth, number, some)
        for some in seen.toward.get(mark, ()):
            if seen.rounds[some].at in body.points:
                _attach(growth, number, some)
            else:
                _try(growth, number, seen.rounds[some].at)
        for other in seen.distances.get(mark, ()):
            _measure(growth, number, mark, other)


def retry(growth: Growth, least: float) -> None:
    """Try once more what was too weak, down to another strength."""
    growth.least = least
    for number, body in growth.bodies.items():
        if number != PLAN:
            growth.waiting.extend((number, mark) for mark in body.points)
    loose = growth.seen.marks - growth.plan.points.keys()
    for mark in sorted(loose):
        near = growth.seen.neighbours(mark)
        for number in {n for m in near for n in growth.holding.get(m, ())}:
            if number in growth.bodies:
                _try(growth, number, mark)
        grow(growth)


def _await(growth: Growth, number: int, marks: Iterable[int]) -> None:
    for mark in marks:
        growth.holding.setdefault(mark, set()).add(number)
        growth.waiting.append((number, mark))


def _joined(growth: Growth, number: int, mark: int) -> bool:
    """Join the body with another at a mark; return whether it is gone."""
    others = growth.holding[mark] - {number}
    if len(others) > _CROWD:
        others &= {PLAN}
    for other in sorted(others):
        ends = sorted((number, other), key=lambda n: -len(growth.bodies[n].points))
        keeps, goes = (PLAN, max(ends)) if PLAN in ends else ends
        if _join(growth, goes, keeps):
            return goes == number
    return False


def _join(growth: Growth, goes: int, keeps: int) -> bool:
    body, on = growth.bodies[goes], growth.bodies[keeps]
    few, many = sorted((body.points, on.points), key=len)
    common = [mark for mark in few if mark in many]
    found = laid(body, on, common)
    if found is None or weak(body, on, common, growth.least):
        return False
    knew = on.turn, on.scale
    new = join(body, on, *found)
    for mark in body.points:
        growth.holding[mark].discard(goes)
    del growth.bodies[goes]
    _await(growth, keeps, new if knew == (on.turn, on.scale) else [*on.points])
    if knew != (on.turn, on.scale):
        on.turned.clear()
        on.rays.clear()
    _await(growth, keeps, common)
    return True


def weak(body: Body, on: Body, common: list[int], least: float) -> bool:
    """Return whether the common marks lie too close together to give a turn."""
    if None not in (body.turn, body.scale, on.turn, on.scale):
        return False
    first = body.points[common[0]]
    spread = max(abs(body.points[mark] - first) for mark in common)
    return spread < least * max(abs(point - first) for point in body.points.values())


def _attach(growth: Growth, number: int, some: int) -> None:
    """Turn a round into the body, once one of its targets or the meridian is there."""
    body, its = growth.bodies[number], growth.seen.rounds[some]
    factor = None if some in body.turned else _factor(body, its)
    if factor is None:
        return
    body.turned[some] = factor
    if its.oriented and body.turn is None:
        body.turn = -phase(factor)
        _look_again(growth, number)
        return
    for target, ray in its.rays.items():
        if target not in body.points:
            body.rays.setdefault(target, []).append((its.at, ray * factor))
            _try(growth, number, target)


def _factor(body: Body, its: Round) -> complex | None:
    """Return the factor from a round's rays to the body, from long sights above all."""
    if its.oriented and body.turn is not None:
        return exp(-1j * body.turn)
    here = body.points[its.at]
    turned = sum(
        (body.points[target] - here) * ray.conjugate()
        for target, ray in its.rays.items()
        if target in body.points
    )
    return turned / abs(turned) if turned else None


def _measure(growth: Growth, number: int, mark: int, other: int) -> None:
    """Use a distance: to place its other end, or to give the body its scale."""
    body = growth.bodies[number]
    if other not in body.points:
        _try(growth, number, other)
    elif body.scale is None and body.points[other] != body.points[mark]:
        apart = abs(body.points[other] - body.points[mark])
        body.scale = growth.seen.distances[mark][other] / apart
        _look_again(growth, number)


def _look_again(growth: Growth, number: int) -> None:
    """Look at a whole body once more: it has gained its turn or its scale."""
    body = growth.bodies[number]
    body.turned.clear()
    body.rays.clear()
    _await(growth, number, body.points)


def _try(growth: Growth, number: int, mark: int) -> None:
    body = growth.bodies[number]
    if mark in body.points:
        return
    point = place(growth.seen, body, mark, growth.least)
    if point is not None:
        body.points[mark] = point
        body.rays.pop(mark, None)
        body.doubtful.pop(mark, None)
        _await(growth, number, [mark])
