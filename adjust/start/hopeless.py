"""Geometry that places nothing, in words: where, what is wrong, what mends it."""

from collections.abc import Sequence

from ...networks import NoSolution
from .geometry import resection
from .growing import HOPELESS, Growth
from .placing import distances_in, rounds_in


def refuse_hopeless(growth: Growth, names: Sequence[str]) -> None:
    """Refuse marks that are seen from enough placed marks and still have no place.

    Raises
    ------
    NoSolution
        Station and marks on one circle, lines of sight that run together, distances
        that do not meet.
    """
    placed = growth.plan.points
    for mark in sorted(growth.seen.marks - placed.keys()):
        if growth.seen.neighbours(mark) <= placed.keys() and not _held(growth, mark):
            _refuse(growth, mark, names)


def refuse_doubtful(growth: Growth, names: Sequence[str]) -> None:
    """Refuse a mark that has two places which fit equally well.

    Raises
    ------
    NoSolution
    """
    for mark, places in growth.plan.doubtful.items():
        if mark in growth.plan.points or _held(growth, mark):
            continue
        near = sorted(names[m] for m in growth.seen.neighbours(mark))
        apart = abs(places[0] - places[1])
        raise NoSolution(
            f"{names[mark]} has two places, {apart:.3f} m apart, that fit what was "
            f"observed with {', '.join(near)} equally well",
            (names[mark],),
            mend=f"give {names[mark]} an approximate position in stations.csv, good "
            "enough to tell the two apart, or observe it from one more mark",
        )


def _held(growth: Growth, mark: int) -> bool:
    """Return whether another body ties the mark to one that is not placed either."""
    placed = growth.plan.points.keys() | {mark}
    bodies = [growth.bodies[number] for number in growth.holding.get(mark, ())]
    return any(not body.points.keys() <= placed for body in bodies)


def _refuse(growth: Growth, mark: int, names: Sequence[str]) -> None:
    seen, plan = growth.seen, growth.plan
    lengths = distances_in(seen, plan, mark)
    rays = [(at, ray) for at, ray in plan.rays.get(mark, ()) if at not in lengths]
    if not lengths and not rays:
        for targets, there, places in rounds_in(seen, plan, mark):
            if len(targets) > 2:
                _, strength = resection(there, places)
                raise _resection([names[t] for t in targets], names[mark], strength)
    elif not lengths and len(rays) > 1:
        raise _intersection([names[at] for at, _ in rays], names[mark], rays)
    elif len(lengths) > 1 and not rays and mark not in plan.doubtful:
        raise NoSolution(
            f"the distances from {names[mark]} to "
            f"{', '.join(names[m] for m in lengths)} do not meet in a place",
            (names[mark],),
            mend="look for a blunder in one of them or in the coordinates of the "
            "known marks: a distance may be booked in another unit, or to another mark",
        )


def _resection(targets: list[str], mark: str, strength: float) -> NoSolution:
    seen = ", ".join(targets)
    if strength >= HOPELESS:
        return NoSolution(
            f"no place of {mark} fits its lines of sight to {seen}",
            (mark,),
            mend="look for a blunder: one target taken for another, or a wrong known "
            "mark",
        )
    return NoSolution(
        f"{mark} cannot be resected: it lies on one circle with {seen} "
        "(the danger circle), where every place on the circle sees them alike",
        (mark,),
        mend=f"observe from {mark} a mark off that circle, or a distance to one of "
        f"{seen}",
    )


def _intersection(
    stations: list[str], mark: str, rays: list[tuple[int, complex]]
) -> NoSolution:
    seen = " and ".join(dict.fromkeys(stations))
    first = rays[0][1]
    sine = max(abs((ray * first.conjugate()).imag) for _, ray in rays)
    if sine < HOPELESS:
        return NoSolution(
            f"{mark} cannot be intersected: the lines of sight from {seen} run "
            "together and do not cross",
            (mark,),
            mend=f"observe {mark} from a mark to the side, or measure a distance to it",
        )
    return NoSolution(
        f"the lines of sight from {seen} to {mark} do not meet",
        (mark,),
        mend="look for a blunder: a target taken for another, a wrong orientation, or "
        "a wrong known mark",
    )
