"""Places carried on by vectors, from what is known."""

from dataclasses import dataclass

import numpy as np

from ...networks import Frame, Network
from ...networks.covariances import Bools, Floats, Ints

Seeds = list[tuple[int, Floats]]
"""Marks and their cartesian places, m; the first place of a mark counts."""


@dataclass(frozen=True, slots=True)
class Deltas:
    """The marks to which vectors lead from each mark, as first booked first."""

    first: Ints
    """(m + 1,) where the ways from each mark start."""
    there: Ints
    """(2n,) the mark at the other end."""
    delta: Floats
    """(2n, 3) the way there, m, from antenna to antenna."""
    raised: Floats
    """(2n, 2) how high the antennas stand, here and there, m."""

    def from_marks(self, marks: Ints) -> tuple[Ints, Ints]:
        """Return the ways from some marks, one mark after another, and their places."""
        count = self.first[marks + 1] - self.first[marks]
        which = np.repeat(np.arange(len(marks)), count)
        way = np.arange(len(which)) - (np.cumsum(count) - count)[which]
        return self.first[marks][which] + way, which


def vectors_by_mark(network: Network, turn: int = -1) -> Deltas:
    """Return the vectors in use, both ways: those with an unknown turn, or without."""
    vectors = network.vectors
    chosen = vectors.used & (network.turns_to_find() == turn)
    return _both_ways(network, np.flatnonzero(chosen))


def _both_ways(network: Network, some: Ints) -> Deltas:
    vectors = network.vectors
    start = network.mark_of(vectors.start[some])
    end = network.mark_of(vectors.end[some])
    here, there = (
        np.stack(ends, axis=1).ravel() for ends in ((start, end), (end, start))
    )
    delta = np.stack([vectors.delta[some], -vectors.delta[some]], axis=1)
    up, down = vectors.start_offset[some], vectors.end_offset[some]
    raised = np.stack([up, down, down, up], axis=1).reshape(-1, 2)
    order = np.argsort(here, kind="stable")
    first = np.zeros(len(network.marks) + 1, dtype=np.int64)
    np.cumsum(np.bincount(here, minlength=len(network.marks)), out=first[1:])
    return Deltas(first, there[order], delta.reshape(-1, 3)[order], raised[order])


def carry(xyz: Floats, neighbours: Deltas, seeds: Seeds) -> list[int]:
    """Place seeds and all that vectors join to them, in place; return those marks.

    One seed after another, each as far as vectors go: what hangs together lies right
    against itself, wherever that is. Antennas are taken to stand equally high.
    """
    new = []
    for mark, place in seeds:
        if np.isnan(xyz[mark, 0]):
            xyz[mark] = place
            new += _rings(xyz, neighbours, np.array([mark]), None)
    return new


def carry_between(
    xyz: Floats, neighbours: Deltas, seeds: Seeds, frame: Frame | None
) -> None:
    """Place seeds and all that vectors join to them, in place, each from the nearest.

    From all seeds at once: few vectors lie between a mark and the seed it is carried
    from, so that their errors hardly add up, and the first solution is near.

    Parameters
    ----------
    xyz : ndarray, shape (m, 3)
    neighbours : Deltas
    seeds : list of (int, ndarray)
        Whose places agree with each other.
    frame : Frame, optional
        Where up is, for antennas of which one stands higher than the other.
    """
    ring = []
    for mark, place in seeds:
        if np.isnan(xyz[mark, 0]):
            xyz[mark] = place
            ring.append(mark)
    _rings(xyz, neighbours, np.array(ring, dtype=np.int64), frame)


def _rings(
    xyz: Floats, neighbours: Deltas, ring: Ints, frame: Frame | None
) -> list[int]:
    """Place, in place, ring after ring around placed marks; return all of them."""
    new = []
    while len(ring):
        new += ring.tolist()
        way, which = neighbours.from_marks(ring)
        there = neighbours.there[way]
        open_ = np.flatnonzero(np.isnan(xyz[there, 0]))
        # Of several ways to one mark the first counts.
        _, once = np.unique(there[open_], return_index=True)
        some = open_[np.sort(once)]
        here, way, ring = ring[which[some]], way[some], there[some]
        xyz[ring] = xyz[here] + neighbours.delta[way]
        raised = neighbours.raised[way]
        if frame is not None and raised.any():
            up = frame.axes(np.concatenate([xyz[here], xyz[ring]]))[:, 2]
            above, below = np.split(raised.T.ravel()[:, None] * up, 2)
            xyz[ring] += above - below
    return new


def pieces(neighbours: Deltas, placed: Bools) -> list[dict[int, Floats]]:
    """Return what vectors join without reaching a placed mark: mark to offset, m."""
    found = []
    offsets = np.full((len(placed), 3), np.nan)
    offsets[placed] = 0.0
    for mark in np.unique(neighbours.there).tolist():
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
    neighbours = _both_ways(network, np.flatnonzero(network.vectors.used))
    placed = ~np.isnan(xyz[:, 0])
    carried = np.full_like(xyz, np.nan)
    carry(carried, neighbours, [(int(m), xyz[m]) for m in np.flatnonzero(placed)])
    xyz[~placed] = carried[~placed]


def firm_seeds(network: Network) -> list[Seeds]:
    """Return what is known in plan and height, and what is known in plan only.

    Of each first the known marks that are held or weighted, then the positions.
    """
    known, positions = network.known, network.positions
    marks = network.mark_of(positions.node)
    firm = (known.in_use("held") | known.in_use("weighted"))[:, 0]
    seen = np.asarray(positions.used & positions.components[:, :2].all(axis=1))
    made = []
    for tall in (True, False):
        for some, mark, xyz, components in (
            (firm, known.mark, known.xyz, known.components),
            (seen, marks, positions.xyz, positions.components),
        ):
            there = some & np.isfinite(xyz).all(axis=1) & (components[:, 2] == tall)
            made.append([(int(mark[i]), xyz[i]) for i in _rows(there)])
    return made


def rough_seeds(network: Network) -> Seeds:
    """Return check-only known marks, then the approximate positions of stations.csv."""
    known, approximate = network.known, network.marks.approximate
    plan = known.used & known.components[:, :2].all(axis=1)
    plan = np.asarray(plan & np.isfinite(known.xyz).all(axis=1))
    seeds = [(int(known.mark[i]), known.xyz[i]) for i in _rows(plan)]
    there = np.asarray(np.isfinite(approximate).all(axis=1))
    return seeds + [(m, approximate[m]) for m in _rows(there)]


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
