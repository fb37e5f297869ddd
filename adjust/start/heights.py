"""Heights carried on by levels, zenith angles and vectors."""

from collections import deque
from collections.abc import Iterable, Iterator
from math import cos, tan

import numpy as np

from ...networks import Network
from ...networks.covariances import Bools, Floats
from .plane import EARTH, Plane
from .seen import sighted, slopes_and_zeniths

Rise = tuple[int, int, float]
"""A mark, another, and how much higher that one is, m."""


def carried(network: Network, plane: Plane, heights: Floats) -> None:
    """Carry the known heights on, in place, without any plan.

    Parameters
    ----------
    network : Network
    plane : Plane
    heights : ndarray, shape (m,)
        NaN where not known.
    """
    _walk(_levelled(network), heights)
    rises = [*_levelled(network), *_slopes(network, plane), *_vectors(network, plane)]
    _walk(rises, heights)


def carried_over_plan(
    network: Network, plane: Plane, heights: Floats, places: dict[int, complex]
) -> None:
    """Carry the heights on, in place, by zenith angles over distances of the plan."""
    _walk([*_levelled(network), *_flats(network, plane, places)], heights)


def laid_level(network: Network, heights: Floats) -> None:
    """Give the marks without any height one, in place, each piece as it was measured.

    It is that of the middle of the others, and without any 0.
    """
    known = heights[~np.isnan(heights)]
    middle = float(np.median(known)) if len(known) else 0.0
    neighbours = _neighbours(_levelled(network))
    for mark in range(len(heights)):
        if np.isnan(heights[mark]):
            heights[mark] = middle
            _spread(neighbours, heights, [mark])


def levelled(network: Network) -> Bools:
    """Return (m,) whether a level in use reaches the mark."""
    reached = np.zeros(len(network.marks), dtype=bool)
    for start, end, _ in _levelled(network):
        reached[[start, end]] = True
    return reached


def _levelled(network: Network) -> Iterator[Rise]:
    levels = network.levels
    if levels is None:
        return
    values = np.append(np.nan_to_num(network.parameters.start), 0.0)
    first, second = levels.parameter.T
    lower = np.where(first >= 0, values[first], levels.start_undulation)
    upper = np.where(second >= 0, values[second], levels.end_undulation)
    rise = levels.rise + upper - lower
    start, end = network.mark_of(levels.start), network.mark_of(levels.end)
    for i in np.flatnonzero(levels.used).tolist():
        yield int(start[i]), int(end[i]), float(rise[i])


def _slopes(network: Network, plane: Plane) -> Iterator[Rise]:
    slopes, _ = slopes_and_zeniths(network)
    for some, i, at, to, zenith in sighted(network, "zenith angle"):
        if (at, to) in slopes:
            slope = slopes[at, to]
            over = float(some.at_height[i] - some.to_height[i])
            bend = 0.0 if plane.flat else slope**2 / (2 * EARTH)
            yield at, to, slope * cos(zenith) + over + bend


def _flats(
    network: Network, plane: Plane, places: dict[int, complex]
) -> Iterator[Rise]:
    for some, i, at, to, zenith in sighted(network, "zenith angle"):
        if at in places and to in places and 0 < zenith < np.pi:
            level = abs(places[to] - places[at])
            over = float(some.at_height[i] - some.to_height[i])
            bend = 0.0 if plane.flat else level**2 / (2 * EARTH)
            yield at, to, level / tan(zenith) + over + bend


def _vectors(network: Network, plane: Plane) -> Iterator[Rise]:
    vectors, up = network.vectors, plane.axes[2]
    start, end = network.mark_of(vectors.start), network.mark_of(vectors.end)
    for i in np.flatnonzero(vectors.used).tolist():
        yield int(start[i]), int(end[i]), float(vectors.delta[i] @ up)


def _walk(rises: Iterable[Rise], heights: Floats) -> None:
    known = np.flatnonzero(~np.isnan(heights)).tolist()
    _spread(_neighbours(rises), heights, known)


def _neighbours(rises: Iterable[Rise]) -> dict[int, list[tuple[int, float]]]:
    neighbours: dict[int, list[tuple[int, float]]] = {}
    for mark, other, rise in rises:
        neighbours.setdefault(mark, []).append((other, rise))
        neighbours.setdefault(other, []).append((mark, -rise))
    return neighbours


def _spread(
    neighbours: dict[int, list[tuple[int, float]]], heights: Floats, start: list[int]
) -> None:
    waiting = deque(start)
    while waiting:
        mark = waiting.popleft()
        for other, rise in neighbours.get(mark, ()):
            if np.isnan(heights[other]):
                heights[other] = heights[mark] + rise
                waiting.append(other)
