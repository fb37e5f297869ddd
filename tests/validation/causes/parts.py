"""Pieces of invented plans: places, set-ups, vectors, sights, levels, known marks.

Everything is drawn from a seed; nothing in it is a check. A plan is a network whose
marks stand where they really are and whose observed values mean nothing yet.
"""

from dataclasses import dataclass, field

import numpy as np

from brasscap.networks import (
    KnownMarks,
    Levels,
    Parameters,
    Positions,
    SetUps,
    Sights,
    Vectors,
)
from brasscap.networks.covariances import Batch, single

ARCSEC = np.pi / 180 / 3600
SIGHTED = ("slope distance", "direction", "angle", "azimuth", "zenith angle")


@dataclass
class Stood:
    """Set-ups as they are gathered."""

    marks: int
    mark: list = field(default_factory=list)
    name: list = field(default_factory=list)
    session: list = field(default_factory=list)
    height: list = field(default_factory=list)
    antenna: list = field(default_factory=list)
    tripod: list = field(default_factory=list)

    def add(self, name, mark, height, session=-1, antenna="", tripod=""):
        """Return the node of a new set-up."""
        for column, value in (
            (self.name, name), (self.mark, int(mark)), (self.session, session),
            (self.height, height), (self.antenna, antenna), (self.tripod, tripod),
        ):  # fmt: skip
            column.append(value)
        return self.marks + len(self.mark) - 1

    def columns(self):
        """Return them as columns; 1 mm of centring, 1.5 mm of height."""
        count, words = len(self.name), ("",) * len(self.name)
        return SetUps(
            tuple(self.name), np.array(self.mark, dtype=np.int64), words,
            np.array(self.session, dtype=np.int64), np.array(self.height, dtype=float),
            np.zeros((count, 2)), np.full(count, 0.001), np.full(count, 0.0015), words,
            tuple(self.antenna), tuple(self.tripod), np.zeros(count, dtype=np.int64),
        )  # fmt: skip


def sessions_over(random, marks, least):
    """Return sessions of four marks, each mark in at least so many of them."""
    sessions, left = [], np.full(marks, least)
    while (left > 0).any():
        need = random.permutation(np.flatnonzero(left > 0))[:3]
        others = np.setdiff1d(np.arange(marks), need)
        four = np.concatenate([need, random.permutation(others)[: 4 - len(need)]])
        left[four] -= 1
        sessions.append(four)
    return sessions


def vectors_over(random, stood, sessions):
    """Return three vectors a session from its first receiver, correlated by it."""
    start, end = [], []
    for s, four in enumerate(sessions):
        antennas, tripods = random.permutation(4), random.permutation(4)
        nodes = [
            stood.add(f"O{s}-{k}", mark, random.uniform(1.3, 1.8), s,
                      f"A{antennas[k]}", f"T{tripods[k]}")
            for k, mark in enumerate(four)
        ]  # fmt: skip
        start += nodes[:1] * 3
        end += nodes[1:]
    count = len(start)
    noise = np.diag(np.array([3.0, 3.0, 6.0]) ** 2 * 1e-6)
    block = np.kron(np.ones((3, 3)) + np.eye(3), noise)
    blocks = np.broadcast_to(block, (len(sessions), 9, 9)).copy()
    members = np.arange(count).reshape(-1, 3)
    return Vectors(
        tuple(f"B{i}" for i in range(count)), np.array(start, dtype=np.int64),
        np.array(end, dtype=np.int64), np.zeros((count, 3)), np.zeros(count),
        np.zeros(count), (Batch(members, blocks),) if count else (),
        np.repeat(np.arange(len(sessions)), 3), np.zeros(count, dtype=np.int64),
        np.ones(count, dtype=bool), np.arange(count),
    )  # fmt: skip


def positions_at(marks, xyz):
    """Return positions of some marks, as a real-time network gives them."""
    count = len(marks)
    block = np.diag(np.array([8.0, 8.0, 16.0]) ** 2 * 1e-6)
    covariances = single(np.broadcast_to(block, (count, 3, 3)).copy()) if count else ()
    none = np.zeros(count, dtype=np.int64)
    return Positions(
        tuple(f"R{i}" for i in range(count)), np.asarray(marks, dtype=np.int64),
        xyz[marks], np.zeros(count), np.ones((count, 3), bool), covariances, none,
        np.ones(count, bool), np.arange(count),
    )  # fmt: skip


def known_at(marks, xyz, use, components=(True, True, True)):
    """Return known marks, all held or all weighted (2 mm in plan, 4 mm in height)."""
    count = len(marks)
    block = np.broadcast_to(np.diag([4e-6, 4e-6, 16e-6]), (count, 3, 3)).copy()
    in_plan = (use if components[0] else "",) * count
    return KnownMarks(
        np.asarray(marks, dtype=np.int64), xyz[marks],
        np.broadcast_to(np.array(components), (count, 3)).copy(), in_plan,
        (use,) * count, single(block), ("",) * count, np.ones(count, bool),
        np.arange(count),
    )  # fmt: skip


def levels_over(random, ring, chords=0, sd=0.002):
    """Return a levelled ring over some marks, with chords, each section out and back.

    Parameters
    ----------
    random : numpy.random.Generator
    ring : ndarray of int
        Marks in order.
    chords : int
    sd : float
        Of a run, m; varied by a half.
    """
    ends = np.column_stack([ring, np.roll(ring, -1)])
    across = [random.choice(ring, 2, replace=False) for _ in range(chords)]
    ends = np.concatenate([ends, np.array(across, dtype=np.int64).reshape(-1, 2)])
    both, half = np.concatenate([ends, ends[:, ::-1]]), len(ends)
    count = len(both)
    names = [f"L{i} out" for i in range(half)] + [f"L{i} back" for i in range(half)]
    return Levels(
        tuple(names), both[:, 0], both[:, 1], np.zeros(count),
        np.tile(sd * random.uniform(0.7, 1.3, half), 2), np.zeros(count),
        np.zeros(count), np.full((count, 2), -1), np.ones(count, bool),
        np.arange(count),
    )  # fmt: skip


class Read:
    """Sights as they are gathered, by kind, and the circle zeros of their rounds."""

    def __init__(self):
        self.rows = {kind: [] for kind in SIGHTED}
        self.zeros = []

    def zero(self, name):
        """Return the number of a new circle zero."""
        self.zeros.append(f"orientation of {name}")
        return len(self.zeros) - 1

    def add(self, kind, name, at, to, heights, sd, back=(-1, 0.0), zero=-1):
        self.rows[kind].append((name, at, to, *back, *heights, sd, zero))

    def sights(self):
        """Return the columns of every kind that was read."""
        made = []
        for kind, rows in self.rows.items():
            if rows:
                made.append(_columns(kind, rows))
        return tuple(made)

    def parameters(self):
        free = np.full(len(self.zeros), np.nan)
        kinds = ("orientation",) * len(self.zeros)
        return Parameters(tuple(self.zeros), kinds, free, free)


def _columns(kind, rows):
    name, at, to, back, back_height, at_height, to_height, sd, zero = zip(
        *rows, strict=True
    )
    count = len(rows)
    parameter = np.full((count, 2), -1)
    parameter[:, 0] = zero
    return Sights(
        kind, name, np.array(at), np.array(to), np.array(back), np.array(at_height),
        np.array(to_height), np.array(back_height), np.zeros(count), np.array(sd),
        parameter, np.full(count, 0.13), np.ones(count, bool), np.arange(count),
    )  # fmt: skip
