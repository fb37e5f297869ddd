"""Starting positions, found by walking the graph from what is known."""

from collections import deque

import numpy as np

from ..networks import Network, NoSolution
from ..networks.covariances import Floats
from .equations.sights import line_of_sight
from .nodes import Nodes


def starting_positions(network: Network) -> Floats:
    """Return (m, 3) approximate cartesian positions of all marks, m.

    Known marks come first, then positions, then the approximate positions of
    stations.csv; vectors carry them on. A piece that nothing places is laid
    beside the rest, for the estimate to say that it floats.

    Raises
    ------
    NoSolution
        Nothing at all has a position.
    """
    xyz = np.full((len(network.marks), 3), np.nan)
    neighbours = _vectors_by_mark(network)
    for mark, place in _seeds(network):
        if np.isnan(xyz[mark, 0]):
            _walk(xyz, neighbours, mark, place)
    placed = ~np.isnan(xyz[:, 0])
    if not placed.any():
        raise NoSolution(
            "no mark has a position to start from",
            network.marks.name,
            mend="give one mark an approximate position in stations.csv",
        )
    xyz[~placed] = xyz[placed][0]
    return xyz


def starting_values(network: Network, nodes: Nodes) -> Floats:
    """Return (q,) the values of the parameters to start from.

    An orientation is the mean of azimuth minus direction over its sights, the
    azimuths from the starting positions; others start where they are booked.
    """
    values = network.parameters.start.copy()
    for sights in network.sights:
        if sights.kind != "direction":
            continue
        line = line_of_sight(nodes, sights)
        turned = np.arctan2(line[:, 0], line[:, 1]) - sights.value
        use = sights.used & (sights.parameter[:, 0] >= 0)
        sums = np.zeros(len(values), dtype=complex)
        np.add.at(sums, sights.parameter[use, 0], np.exp(1j * turned[use]))
        unknown = np.isnan(values) & (sums != 0)
        values[unknown] = np.angle(sums[unknown])
    return values


def _seeds(network: Network) -> list[tuple[int, Floats]]:
    known, positions = network.known, network.positions
    seeds = [
        (int(known.mark[i]), known.xyz[i])
        for i in np.argsort(~known.components[:, 0], kind="stable")
        if known.used[i] and np.isfinite(known.xyz[i]).all()
    ]
    marks = network.mark_of(positions.node)
    seeds += [
        (int(marks[i]), positions.xyz[i])
        for i in range(len(positions))
        if positions.used[i] and positions.components[i].all()
    ]
    approximate = network.marks.approximate
    seeds += [
        (mark, approximate[mark])
        for mark in np.flatnonzero(np.isfinite(approximate).all(axis=1)).tolist()
    ]
    return seeds


def _vectors_by_mark(network: Network) -> dict[int, list[tuple[int, Floats]]]:
    vectors = network.vectors
    start, end = network.mark_of(vectors.start), network.mark_of(vectors.end)
    neighbours: dict[int, list[tuple[int, Floats]]] = {}
    for i in np.flatnonzero(vectors.used).tolist():
        a, b = int(start[i]), int(end[i])
        neighbours.setdefault(a, []).append((b, vectors.delta[i]))
        neighbours.setdefault(b, []).append((a, -vectors.delta[i]))
    return neighbours


def _walk(
    xyz: Floats,
    neighbours: dict[int, list[tuple[int, Floats]]],
    mark: int,
    place: Floats,
) -> None:
    xyz[mark] = place
    waiting = deque([mark])
    while waiting:
        here = waiting.popleft()
        for there, delta in neighbours.get(here, ()):
            if np.isnan(xyz[there, 0]):
                xyz[there] = xyz[here] + delta
                waiting.append(there)
