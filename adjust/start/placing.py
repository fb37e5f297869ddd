"""One mark against a stiff body: all places that what was seen allows."""

from collections.abc import Iterator
from itertools import combinations

from .bodies import Body
from .geometry import Found, circles, crossing, fit, on_ray, one_distance, resection
from .seen import Seen

_FACTS = 8
"""Lines and distances that are tried in pairs: more add nothing to a start."""


def place(seen: Seen, body: Body, mark: int, least: float) -> complex | None:
    """Return the place of a mark in a body, or None where it waits for more.

    What gives one place comes before what gives two; of two, the one that everything
    else seen of the mark supports. Two that fit alike are noted as doubtful.

    Parameters
    ----------
    seen : Seen
    body : Body
        The mark is outside it.
    mark : int
    least : float
        Strength below which a figure is not used.
    """
    single = [found for found in _single(seen, body, mark) if found[1] >= least]
    if single:
        return max(single, key=lambda found: found[1])[0]
    places: list[complex] = []
    for twins in _twins(seen, body, mark):
        strong = [point for point, strength in twins if strength >= least]
        if len(strong) == 1:
            return strong[0]
        if strong:
            places = strong
            chosen = _supported(seen, body, mark, places)
            if chosen is not None:
                return chosen
    if places:
        body.doubtful[mark] = places
    return None


def distances_in(seen: Seen, body: Body, mark: int) -> dict[int, float]:
    """Return the distances from a mark to marks of a body, in the body's unit."""
    if body.scale is None:
        return {}
    there = seen.distances.get(mark, {}).items()
    inside = [(other, d / body.scale) for other, d in there if other in body.points]
    return dict(inside[:_FACTS])


def rounds_in(
    seen: Seen, body: Body, mark: int
) -> Iterator[tuple[list[int], list[complex], list[complex]]]:
    """Yield the rounds at a mark: targets in the body, their rays, their places."""
    for number in seen.at.get(mark, ()):
        rays = seen.rounds[number].rays
        targets = [target for target in rays if target in body.points]
        if targets:
            yield (
                targets,
                [rays[target] for target in targets],
                [body.points[target] for target in targets],
            )


def _single(seen: Seen, body: Body, mark: int) -> Iterator[Found]:
    """Yield places from figures that allow only one."""
    lengths = distances_in(seen, body, mark)
    rays = body.rays.get(mark, [])[-_FACTS:]
    for at, ray in rays:
        if at in lengths:
            yield body.points[at] + lengths[at] * ray, 1.0
    for (at, ray), (other, its) in combinations(rays, 2):
        found = crossing(body.points[at], ray, body.points[other], its)
        if found:
            yield found
    for targets, seen_there, places in rounds_in(seen, body, mark):
        yield from _free_station(targets, seen_there, places, lengths)
        if len(targets) > 2:
            station, strength = resection(seen_there, places)
            if station is not None:
                yield station, strength


def _free_station(
    targets: list[int],
    rays: list[complex],
    places: list[complex],
    lengths: dict[int, float],
) -> Iterator[Found]:
    """Yield the place of a set-up from two or more polar points that are placed."""
    polar = [
        (lengths[target] * ray, point)
        for target, ray, point in zip(targets, rays, places, strict=True)
        if target in lengths
    ]
    if len(polar) < 2:
        return
    here, there = zip(*polar, strict=True)
    found = fit(here, there, 1.0)
    if found:
        spread = max(abs(point - there[0]) for point in there)
        yield found[1], min(1.0, spread / max(abs(point) for point in here))


def _twins(seen: Seen, body: Body, mark: int) -> Iterator[list[Found]]:
    """Yield the places of figures that may allow two."""
    lengths = distances_in(seen, body, mark)
    for at, ray in body.rays.get(mark, [])[-_FACTS:]:
        for other, length in lengths.items():
            if other != at:
                yield on_ray(body.points[at], ray, body.points[other], length)
    for targets, rays, places in rounds_in(seen, body, mark):
        for i, target in enumerate(targets):
            for j in range(len(targets)):
                if target in lengths and j != i:
                    length = lengths[target]
                    yield one_distance(rays[i], length, places[i], rays[j], places[j])
    for (one, its), (other, length) in combinations(lengths.items(), 2):
        yield circles(body.points[one], its, body.points[other], length)


def _supported(
    seen: Seen, body: Body, mark: int, places: list[complex]
) -> complex | None:
    """Return the place that everything seen of the mark supports, if one clearly is."""
    sizes = [(misfit(seen, body, mark, point), point) for point in places]
    (best, point), (second, other) = sorted(sizes, key=lambda size: size[0])[:2]
    clear = second > 0.01 * abs(point - other) and best < 0.3 * second
    return point if clear else None


def misfit(seen: Seen, body: Body, mark: int, point: complex) -> float:
    """Return by how much the worst of all that was seen of a mark misses a place."""
    sizes = [
        abs(abs(body.points[other] - point) - length)
        for other, length in distances_in(seen, body, mark).items()
    ]
    sizes += [
        _beside(point - body.points[at], ray) for at, ray in body.rays.get(mark, ())
    ]
    for _, turned, places in rounds_in(seen, body, mark):
        if len(turned) > 1:
            sizes += _turned_aside([there - point for there in places], turned)
    return max(sizes, default=0.0)


def _turned_aside(lines: list[complex], rays: list[complex]) -> list[float]:
    """Return by how much lines miss the rays of a round, turned as fits best."""
    both = list(zip(lines, rays, strict=True))
    turn = sum(line * ray.conjugate() for line, ray in both)
    return [_beside(line, ray * turn / abs(turn)) for line, ray in both if turn]


def _beside(line: complex, ray: complex) -> float:
    turned = line * ray.conjugate()
    return abs(turned.imag) if turned.real > 0 else abs(turned)
