"""Places carried on by vectors, from what is known."""

from collections import deque

import numpy as np

from ...networks import Network
from ...networks.covariances import Bools, Floats

Deltas = dict[int, list[tuple[int, Floats]]]
"""Mark to the marks that vectors lead to, and the vectors there, m."""
Seeds = list[tuple[int, Floats]]
"""Marks and their cartesian places, m; the first place of a mark counts."""


def vectors_by_mark(network: Network, turn: int = -1) -> Deltas:
    """Return the vectors in use, both ways: those with an unknown turn, or without."""
    vectors = network.vectors
    start, end = network.mark_of(vectors.start), network.mark_of(vectors.end)
    chosen = vectors.used & (network.turns_to_find() == turn)
    neighbours: Deltas = {}
    for i in np.flatnonzero(chosen).tolist():
        a, b = int(start[i]), int(end[i])
        neighbours.setdefault(a, []).append((b, vectors.delta[i]))
        neighbours.setdefault(b, []).append((a, -vectors.delta[i]))
    return neighbours


def carry(xyz: Floats, neighbours: Deltas, seeds: Seeds) -> list[int]:
    """Place seeds and all that vectors join to them, in place; return those marks."""
    new = []
    for mark, place in seeds:
        if np.isnan(xyz[mark, 0]):
            xyz[mark] = place
            waiting = deque([mark])
            while waiting:
                here = waiting.popleft()
                new.append(here)
                for there, delta in neighbours.get(here, ()):
                    if np.isnan(xyz[there, 0]):
                        xyz[there] = xyz[here] + delta
                        waiting.append(there)
    return new


def pieces(neighbours: Deltas, placed: Bools) -> list[dict[int, Floats]]:
    """Return what vectors join without reaching a placed mark: mark to offset, m."""
    found = []
    offsets = np.full((len(placed), 3), np.nan)
    offsets[placed] = 0.0
    for mark in neighbours:
        if np.isnan(offsets[mark, 0]):
            new = carry(offsets, neighbours, [(mark, np.zeros(3))])
            found.append({m: offsets[m] for m in new})
    return found


def turned_pieces(network: Network) -> list[dict[int, Floats]]:
    """Return what vectors of an unknown turn join: mark to offset, m, as they see it.

    Each piece by itself: two marks of it that are placed give its turn.
    """
    nowhere = np.zeros(len(network.marks), dtype=bool)
    found = []
    for turn in sorted(set(network.turns_to_find().tolist()) - {-1}):
        found += pieces(vectors_by_mark(network, turn), nowhere)
    return found


def carry_unturned(network: Network, xyz: Floats) -> None:
    """Place, in place, what only vectors of an unknown turn reach, as if it were 0."""
    neighbours: Deltas = {}
    for turn in set(network.turns_to_find().tolist()):
        for mark, ways in vectors_by_mark(network, turn).items():
            neighbours.setdefault(mark, []).extend(ways)
    placed = ~np.isnan(xyz[:, 0])
    carried = np.full_like(xyz, np.nan)
    carry(carried, neighbours, [(int(m), xyz[m]) for m in np.flatnonzero(placed)])
    xyz[~placed] = carried[~placed]


def firm_seeds(network: Network) -> tuple[Seeds, Seeds]:
    """Return what is known in plan and height, and what is known in plan only.

    Known marks that are held or weighted come first, then positions.
    """
    known, positions = network.known, network.positions
    marks = network.mark_of(positions.node)
    firm = (known.in_use("held") | known.in_use("weighted"))[:, 0]
    rows = [(known.mark[i], known.xyz[i], known.components[i]) for i in _rows(firm)]
    rows += [
        (marks[i], positions.xyz[i], positions.components[i])
        for i in _rows(positions.used & positions.components[:, :2].all(axis=1))
    ]
    whole: Seeds = []
    plan: Seeds = []
    for mark, place, components in rows:
        if np.isfinite(place).all():
            (whole if components[2] else plan).append((int(mark), place))
    return whole, plan


def rough_seeds(network: Network) -> Seeds:
    """Return check-only known marks, then the approximate positions of stations.csv."""
    known, approximate = network.known, network.marks.approximate
    plan = known.used & known.components[:, :2].all(axis=1)
    seeds = [(int(known.mark[i]), known.xyz[i]) for i in _rows(plan)]
    seeds += [(m, approximate[m]) for m in range(len(approximate))]
    return [(mark, place) for mark, place in seeds if np.isfinite(place).all()]


def stand_ins(network: Network) -> Seeds:
    """Return the places at which known heights were put for want of a plan."""
    known = network.known
    return [
        (int(known.mark[i]), known.xyz[i])
        for i in _rows(known.used)
        if np.isfinite(known.xyz[i]).all()
    ]


def _rows(some: Bools) -> list[int]:
    return [int(i) for i in np.flatnonzero(some)]
