"""Levelled runs: double runs out and back, and the loops that they make."""

from itertools import pairwise
from typing import NamedTuple

import numpy as np

from .covariances import Floats
from .cycles import independent_cycles
from .loops import Loop
from .network import Network
from .observations import Levels


class _Side(NamedTuple):
    """All runs over one pair of marks, taken from the lower mark number."""

    rows: tuple[int, ...]
    signs: tuple[int, ...]
    rise: float
    variance: float
    length: float


def level_loops(network: Network, lengths: Floats | None = None) -> tuple[Loop, ...]:
    """Return the discrepancies of double runs and the levelling loops.

    A double run is each run over a pair of marks against the one before it in the
    table, whichever way it was run. In a loop, runs over one pair are their mean.

    Parameters
    ----------
    network : Network
    lengths : ndarray, shape (n,), optional
        Length of each run, m; NaN where it is not booked.

    Returns
    -------
    tuple of Loop
        Double runs first; empty without levels.
    """
    levels = network.levels
    if levels is None or not len(levels):
        return ()
    if lengths is None:
        lengths = np.full(len(levels), np.nan)
    pairs = _pairs(levels)
    doubles = [
        _double(levels, lengths, first, second)
        for rows in pairs.values()
        for first, second in pairwise(rows)
    ]
    sides = {pair: _side(levels, lengths, rows) for pair, rows in pairs.items()}
    doubles.sort(key=lambda loop: loop.members)
    return (*doubles, *_loops(sides))


def _pairs(levels: Levels) -> dict[tuple[int, int], list[int]]:
    pairs: dict[tuple[int, int], list[int]] = {}
    for row in np.flatnonzero(levels.used).tolist():
        a, b = sorted((int(levels.start[row]), int(levels.end[row])))
        if a != b:
            pairs.setdefault((a, b), []).append(row)
    return pairs


def _sign(levels: Levels, row: int) -> int:
    """Return +1 for a run from the lower mark number to the higher."""
    return 1 if levels.start[row] < levels.end[row] else -1


def _double(levels: Levels, lengths: Floats, first: int, second: int) -> Loop:
    # Walked as the first run was booked, and back against the second.
    way = _sign(levels, first)
    along = way * _sign(levels, second)
    misclosure = levels.rise[first] - along * levels.rise[second]
    return Loop(
        "double run",
        (first, second),
        (1, -along),
        (int(levels.start[first]), int(levels.end[first])),
        (),
        float(lengths[[first, second]].mean()),
        np.array([misclosure]),
        np.array([[levels.sd[first] ** 2 + levels.sd[second] ** 2]]),
    )


def _side(levels: Levels, lengths: Floats, rows: list[int]) -> _Side:
    signs = [_sign(levels, row) for row in rows]
    weights = 1 / np.maximum(levels.sd[rows], 1e-9) ** 2
    rise = float(weights @ (signs * levels.rise[rows]) / weights.sum())
    length = float(np.mean(lengths[rows]))
    return _Side(tuple(rows), tuple(signs), rise, float(1 / weights.sum()), length)


def _loops(sides: dict[tuple[int, int], _Side]) -> list[Loop]:
    import networkx as nx

    graph = nx.Graph()
    for (a, b), side in sides.items():
        graph.add_edge(a, b, weight=side.variance * 1e6)
    loops = [_loop(sides, cycle) for cycle in independent_cycles(graph)]
    return sorted(loops, key=lambda loop: loop.members)


def _loop(sides: dict[tuple[int, int], _Side], cycle: list[int]) -> Loop:
    at = cycle.index(min(cycle))
    cycle = cycle[at:] + cycle[:at]
    if cycle[-1] < cycle[1]:
        cycle = [cycle[0], *cycle[:0:-1]]
    members: list[int] = []
    signs: list[int] = []
    marks: list[int] = []
    rise = variance = length = 0.0
    for a, b in pairwise([*cycle, cycle[0]]):
        side, way = sides[min(a, b), max(a, b)], 1 if a < b else -1
        members += side.rows
        signs += [way * sign for sign in side.signs]
        marks += [a] * len(side.rows)
        rise += way * side.rise
        variance += side.variance
        length += side.length
    return Loop(
        "levelling loop",
        tuple(members),
        tuple(signs),
        tuple(marks),
        (),
        length,
        np.array([rise]),
        np.array([[variance]]),
    )
