"""What was seen of the plan: rounds of lines of sight, and horizontal distances."""

from collections import deque
from collections.abc import Iterator
from dataclasses import dataclass
from math import cos, sin, sqrt

import numpy as np

from ...networks import Network, Sights
from ...networks.covariances import Floats

_NORTH = -1
"""Stands for the meridian among the things that a ray is turned from."""


@dataclass(frozen=True, slots=True)
class Round:
    """Lines of sight from one mark whose turns against each other are known."""

    at: int
    rays: dict[int, complex]
    """Target to unit vector, north + i·east where ``oriented``, else turned by one
    unknown angle."""
    oriented: bool


@dataclass(frozen=True, slots=True)
class Seen:
    """Rounds and distances, to be looked up by mark."""

    rounds: tuple[Round, ...]
    at: dict[int, list[int]]
    """Mark to the rounds observed there."""
    toward: dict[int, list[int]]
    """Mark to the rounds with a line of sight to it."""
    distances: dict[int, dict[int, float]]
    """Horizontal distances, m, both ways."""

    @property
    def marks(self) -> set[int]:
        """The marks that something sees in plan."""
        return {*self.at, *self.toward, *self.distances}

    def neighbours(self, mark: int) -> set[int]:
        """Return the marks that a mark sees, is seen from or has a distance to."""
        near = set(self.distances.get(mark, ()))
        for number in self.at.get(mark, ()):
            near |= self.rounds[number].rays.keys()
        return near | {self.rounds[n].at for n in self.toward.get(mark, ())}


def seen_in_plan(network: Network, heights: Floats) -> Seen:
    """Return what was seen in plan.

    Parameters
    ----------
    network : Network
    heights : ndarray, shape (m,)
        Of the marks, m; NaN where not known yet. A slope distance without a zenith
        angle is reduced with them, and taken as horizontal where they are missing.
    """
    rounds = tuple(_rounds(network))
    at: dict[int, list[int]] = {}
    toward: dict[int, list[int]] = {}
    for number, some in enumerate(rounds):
        at.setdefault(some.at, []).append(number)
        for target in some.rays:
            toward.setdefault(target, []).append(number)
    return Seen(rounds, at, toward, _distances(network, heights))


def sighted(
    network: Network, *kinds: str
) -> Iterator[tuple[Sights, int, int, int, float]]:
    """Yield columns, row, instrument's and target's mark and value of sights in use."""
    for some in network.sights:
        if some.kind in kinds:
            at, to = network.mark_of(some.at).tolist(), network.mark_of(some.to)
            for i in np.flatnonzero(some.used & (to != at)).tolist():
                yield some, i, at[i], int(to[i]), float(some.value[i])


def slopes_and_zeniths(
    network: Network,
) -> tuple[dict[tuple[int, int], float], dict[tuple[int, int], float]]:
    """Return slope distances, m, both ways, and zenith angles, by instrument, target.

    A zenith angle is also booked at the other end, from the horizon downward there.
    """
    slopes: dict[tuple[int, int], float] = {}
    zeniths: dict[tuple[int, int], float] = {}
    for _, _, at, to, value in sighted(network, "slope distance"):
        slopes[at, to] = slopes[to, at] = value
    for _, _, at, to, value in sighted(network, "zenith angle"):
        zeniths[at, to] = value
        zeniths.setdefault((to, at), np.pi - value)
    return slopes, zeniths


def _rounds(network: Network) -> Iterator[Round]:
    """Yield the rounds: at each mark, what hangs together through common targets.

    The things at a mark are its targets, the circles of its rounds of directions and
    the meridian; a direction ties a circle to a target, an azimuth the meridian, an
    angle two targets.
    """
    ties: dict[int, dict[int, list[tuple[int, float]]]] = {}
    for at, first, second, turn in _turns(network):
        there = ties.setdefault(at, {})
        there.setdefault(first, []).append((second, turn))
        there.setdefault(second, []).append((first, -turn))
    for at, there in ties.items():
        done: set[int] = set()
        for thing in (_NORTH, *there):
            if thing in there and thing not in done:
                turned = _walk(there, thing)
                done |= turned.keys()
                rays = {t: complex(cos(a), sin(a)) for t, a in turned.items() if t >= 0}
                yield Round(at, rays, _NORTH in turned)


def _turns(network: Network) -> Iterator[tuple[int, int, int, float]]:
    """Yield mark, two things there, and the clockwise turn from one to the other."""
    for some, i, at, to, value in sighted(network, "direction", "azimuth"):
        number = int(some.parameter[i, 0]) if some.kind == "direction" else -1
        yield at, _NORTH if number < 0 else -2 - number, to, value
    for some, i, at, to, value in sighted(network, "angle"):
        (back,) = network.mark_of(some.back[i : i + 1]).tolist()
        if back not in (at, to):
            yield at, back, to, value


def _walk(there: dict[int, list[tuple[int, float]]], start: int) -> dict[int, float]:
    turned = {start: 0.0}
    waiting = deque([start])
    while waiting:
        thing = waiting.popleft()
        for other, turn in there[thing]:
            if other not in turned:
                turned[other] = turned[thing] + turn
                waiting.append(other)
    return turned


def _distances(network: Network, heights: Floats) -> dict[int, dict[int, float]]:
    found: dict[int, dict[int, float]] = {}
    slopes, zeniths = slopes_and_zeniths(network)
    flat = [(a, b, d) for _, _, a, b, d in sighted(network, "horizontal distance")]
    for (at, to), slope in slopes.items():
        rise = heights[to] - heights[at]
        if (at, to) in zeniths:
            slope *= sin(zeniths[at, to])
        elif abs(rise) < slope:
            slope = sqrt(slope**2 - rise**2)
        flat.append((at, to, slope))
    for at, to, distance in reversed(flat):
        found.setdefault(at, {})[to] = abs(distance)
        found.setdefault(to, {})[at] = abs(distance)
    return found
