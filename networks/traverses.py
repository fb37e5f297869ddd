"""Traverses between known marks: how far angles and distances miss the far end.

A traverse starts at a known mark with a sight back to another known one, goes over
new marks, and ends at a known mark, with a sight on to a known one if there is one.
It is computed in the plane that touches the earth at its start, from means.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from .covariances import Floats
from .network import Network

_Means = dict[tuple[int, int], tuple[float, float]]
"""From a mark to a mark: horizontal distance and its sd, m."""


ANGULAR_CLASSES = (
    ("first", 1.7), ("second I", 3.0), ("second II", 4.5), ("third I", 10.0),
    ("third II", 12.0),
)  # fmt: skip
"""Order and class, and ″ that the angles may misclose for each √N of them: FGCC,
Standards and Specifications for Geodetic Control Networks, 1984 (from memory)."""


@dataclass(frozen=True, slots=True)
class Traverse:
    """A traverse, and its misclosures: computed minus known."""

    marks: tuple[int, ...]
    """Known start, new marks, known end."""
    back: int
    """The known mark sighted from the start."""
    onward: int
    """The known mark sighted from the end; −1 for none, and no angular check."""
    angular: float
    """rad, clockwise; NaN without a sight onward."""
    north: float
    """m, with the angles as observed."""
    east: float
    length: float
    """m, the sum of its sides."""
    sd_angular: float
    """rad, from the stated sds of its sights; centring is not in it."""

    @property
    def linear(self) -> float:
        """The linear misclosure, m."""
        return float(np.hypot(self.north, self.east))

    @property
    def ratio(self) -> float:
        """The n of 1 : n; infinite if it closes exactly."""
        return self.length / self.linear if self.linear else float("inf")

    @property
    def angles(self) -> int:
        """How many angles the angular misclosure sums: one at each mark."""
        return len(self.marks)

    @property
    def angular_class(self) -> str:
        """The best of ``ANGULAR_CLASSES`` that holds the angular misclosure.

        ``none`` where it is beyond all, empty without a sight onward.

        Examples
        --------
        Four angles miss by 7.0″: second II allows 4.5″ √4 = 9.0″, second I 6.0″.

        >>> at = np.deg2rad(7.0 / 3600)
        >>> Traverse((0, 1, 2, 3), 4, 5, at, 0.0, 0.0, 900.0, 1e-5).angular_class
        'second II'
        """
        if np.isnan(self.angular):
            return ""
        each = abs(np.rad2deg(self.angular)) * 3600 / np.sqrt(self.angles)
        return next((name for name, most in ANGULAR_CLASSES if each <= most), "none")


@dataclass(frozen=True, slots=True)
class _Turned:
    """What is sighted from one mark: circle readings that have one zero."""

    readings: dict[int, tuple[float, float]]
    """Mark to direction and its sd, rad."""


def find_traverses(network: Network) -> tuple[Traverse, ...]:
    """Return the traverses of a network, one for each pair of known marks it joins.

    Of several ways from one known mark to another, the one of fewest sides.

    Parameters
    ----------
    network : Network

    Returns
    -------
    tuple of Traverse
        In the order of their first marks.
    """
    import networkx as nx

    lengths, rounds = _distances(network), _rounds(network)
    plane = _known_plan(network)
    graph = nx.Graph(pair for pair in lengths if pair[0] != pair[1])
    found = []
    known = [mark for mark in sorted(plane) if mark in graph]
    for k, start in enumerate(known):
        for end in known[k + 1 :]:
            others = set(plane) - {start, end}
            part = graph.subgraph(set(graph) - others).copy()
            if part.has_edge(start, end):
                # A side between known marks is a distance to test, no traverse.
                part.remove_edge(start, end)
            if not nx.has_path(part, start, end):
                continue
            way = nx.shortest_path(part, start, end)
            made = _computed(network, way, lengths, rounds)
            made = made or _computed(network, way[::-1], lengths, rounds)
            found += [made] if made else []
    return tuple(sorted(found, key=lambda traverse: traverse.marks))


def _known_plan(network: Network) -> dict[int, Floats]:
    """Return the marks whose plan is known and in use, (3,) cartesian m."""
    known = network.known
    used = known.in_use("held") | known.in_use("weighted")
    return {
        int(known.mark[i]): known.xyz[i]
        for i in range(len(known))
        if used[i, :2].all() and np.isfinite(known.xyz[i]).all()
    }


def _distances(network: Network) -> _Means:
    """Return the mean horizontal distance of every side, both ways round."""
    zenith: dict[tuple[int, int], list[float]] = {}
    for some in _of_kind(network, "zenith angle"):
        for i in np.flatnonzero(some.used).tolist():
            zenith.setdefault((int(some.at[i]), int(some.to[i])), []).append(
                float(some.value[i])
            )
    booked: dict[tuple[int, int], list[tuple[float, float]]] = {}
    for kind in ("slope distance", "horizontal distance"):
        for some in _of_kind(network, kind):
            for i in np.flatnonzero(some.used).tolist():
                ends = (int(some.at[i]), int(some.to[i]))
                flat = 1.0
                if kind == "slope distance":
                    if ends not in zenith:
                        continue
                    flat = float(np.sin(np.mean(zenith[ends])))
                a, b = network.mark_of(np.array(ends)).tolist()
                value = (float(some.value[i]) * flat, float(some.sd[i]))
                booked.setdefault((min(a, b), max(a, b)), []).append(value)
    made: _Means = {}
    for (a, b), values in booked.items():
        mean = float(np.mean([value for value, _ in values]))
        sd = float(np.sqrt(np.sum([sd**2 for _, sd in values])) / len(values))
        made[a, b] = made[b, a] = (mean, sd)
    return made


def _rounds(network: Network) -> dict[int, list[_Turned]]:
    """Return what was turned at each mark: rounds of directions, and angles."""
    circles: dict[tuple[int, int], dict[int, list[tuple[float, float]]]] = {}
    made: dict[int, list[_Turned]] = {}
    for some in _of_kind(network, "direction"):
        marks, targets = network.mark_of(some.at), network.mark_of(some.to)
        for i in np.flatnonzero(some.used).tolist():
            circle = circles.setdefault((int(marks[i]), int(some.parameter[i, 0])), {})
            reading = (float(some.value[i]), float(some.sd[i]))
            circle.setdefault(int(targets[i]), []).append(reading)
    for (mark, _), circle in circles.items():
        readings = {target: _mean(values) for target, values in circle.items()}
        made.setdefault(mark, []).append(_Turned(readings))
    for some in _of_kind(network, "angle"):
        ends = [network.mark_of(nodes) for nodes in (some.at, some.back, some.to)]
        for i in np.flatnonzero(some.used).tolist():
            mark, back, to = (int(end[i]) for end in ends)
            reading = (float(some.value[i]), float(some.sd[i]))
            made.setdefault(mark, []).append(_Turned({back: (0.0, 0.0), to: reading}))
    return made


def _of_kind(network: Network, kind: str) -> list[Any]:
    return [some for some in network.sights if some.kind == kind]


def _mean(values: Sequence[tuple[float, float]]) -> tuple[float, float]:
    """Return the mean of directions, across the zero of the circle, and its sd."""
    turned = np.exp(1j * np.array([value for value, _ in values]))
    sd = np.sqrt(np.sum([sd**2 for _, sd in values])) / len(values)
    return float(np.angle(turned.mean())), float(sd)


def _turn(
    rounds: dict[int, list[_Turned]], at: int, back: int, to: int
) -> tuple[float, float] | None:
    """Return the mean angle at a mark, clockwise from one mark to another, rad."""
    found = [
        (
            turned.readings[to][0] - turned.readings[back][0],
            float(np.hypot(turned.readings[to][1], turned.readings[back][1])),
        )
        for turned in rounds.get(at, ())
        if back in turned.readings and to in turned.readings
    ]
    return _mean(found) if found else None


def _computed(
    network: Network,
    way: list[int],
    lengths: _Means,
    rounds: dict[int, list[_Turned]],
) -> Traverse | None:
    """Return the traverse along some marks; None where it lacks an angle."""
    known = _known_plan(network)
    origin = known[way[0]]
    axes = network.frame.axes(origin[None])[0]
    plan = {mark: (axes @ (xyz - origin))[:2] for mark, xyz in known.items()}
    back = _sighted(rounds, way[0], way[1], plan, lambda at, a, b: (at, a, b))
    if back is None:
        return None
    azimuth = _azimuth(plan[way[0]], plan[back])
    place, variance, length = plan[way[0]].copy(), 0.0, 0.0
    for before, here, there in zip([back, *way], way, way[1:], strict=False):
        turned = _turn(rounds, here, before, there)
        if turned is None:
            return None
        azimuth += turned[0] + (np.pi if before != back or here != way[0] else 0.0)
        variance += turned[1] ** 2
        side = lengths[here, there][0]
        place = place + side * np.array([np.sin(azimuth), np.cos(azimuth)])
        length += side
    onward = _sighted(rounds, way[-1], way[-2], plan, lambda at, a, b: (at, b, a))
    angular, sd = float("nan"), float("nan")
    if onward is not None:
        turned = _turn(rounds, way[-1], way[-2], onward)
        assert turned is not None
        azimuth += turned[0] + np.pi
        off = azimuth - _azimuth(plan[way[-1]], plan[onward])
        angular = float(np.angle(np.exp(1j * off)))
        sd = float(np.sqrt(variance + turned[1] ** 2))
    off_east, off_north = place - plan[way[-1]]
    return Traverse(
        tuple(way),
        back,
        -1 if onward is None else onward,
        angular,
        float(off_north),
        float(off_east),
        length,
        sd,
    )


def _azimuth(here: Floats, there: Floats) -> float:
    east, north = there - here
    return float(np.arctan2(east, north))


def _sighted(
    rounds: dict[int, list[_Turned]],
    at: int,
    side: int,
    plan: dict[int, Floats],
    order: Callable[[int, int, int], tuple[int, int, int]],
) -> int | None:
    """Return the farthest known mark sighted from a mark together with a side."""
    seen = [
        mark
        for mark in plan
        if mark not in (at, side) and _turn(rounds, *order(at, mark, side)) is not None
    ]
    if not seen:
        return None
    return max(seen, key=lambda m: (float(np.linalg.norm(plan[m] - plan[at])), -m))
