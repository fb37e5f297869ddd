"""Two shots at one place, and lines that cross where they cannot."""

from dataclasses import dataclass

import numpy as np
from scipy.spatial import cKDTree

from ...networks.covariances import Floats, Ints
from ...networks.shots import Labels

_STEP = 1e-9


def at_one_place(
    coordinates: Floats, repeats: Ints, station: Ints, within: float
) -> Ints:
    """Return (k, 2) pairs of points nearer than ``within`` in plan.

    Repeats that are booked as such, and check shots on one mark, are no news.

    Parameters
    ----------
    coordinates : ndarray, shape (n, 3)
        m.
    repeats : ndarray of int, shape (m,)
        Shot that each of the first m points takes again; −1 = none.
    station : ndarray of int, shape (n,)
        Mark of a check shot; −1 = a shot of detail.
    within : float
        m.

    Examples
    --------
    >>> none = np.array([-1, -1, -1])
    >>> some = np.array([[0.0, 0, 1], [5, 0, 1], [0.02, 0, 3]])
    >>> at_one_place(some, none, none, 0.05).tolist()
    [[0, 2]]
    """
    there = np.flatnonzero(np.isfinite(coordinates[:, :2]).all(axis=1))
    tree = cKDTree(coordinates[there, :2])
    pairs = there[tree.query_pairs(within, output_type="ndarray")]
    pairs = np.sort(pairs.reshape(-1, 2), axis=1)
    named = np.append(repeats, np.full(len(coordinates) - len(repeats), -1))
    told = (named[pairs[:, 0]] == pairs[:, 1]) | (named[pairs[:, 1]] == pairs[:, 0])
    # Two repeats of one shot are told by it too.
    both = (named[pairs[:, 0]] >= 0) & (named[pairs[:, 0]] == named[pairs[:, 1]])
    on_mark = (station[pairs[:, 0]] >= 0) & (
        station[pairs[:, 0]] == station[pairs[:, 1]]
    )
    pairs = pairs[~(told | both | on_mark)]
    return np.asarray(pairs[np.lexsort(pairs.T[::-1])])


@dataclass(frozen=True, slots=True)
class Crossings:
    """Places where two lines cross in plan."""

    first: Ints
    """(k,) point at the start of the one piece; its end is the next of the line."""
    second: Ints
    place: Floats
    """(k, 2) east, north, m."""
    gap: Floats
    """(k,) height of the first line there less that of the second, m; NaN where one
    has none."""


def crossings(coordinates: Floats, line: Labels) -> Crossings:
    """Return where lines cross each other or themselves, the top a toe for example.

    A line joins its points in the order of the rows. Pieces that share a point, or
    end on another line, do not cross it.

    Parameters
    ----------
    coordinates : ndarray, shape (n, 3)
        m.
    line : Labels
        Line of each point.
    """
    start, end = _pieces(coordinates, line)
    one, other = _near(coordinates, start, end)
    a, b = coordinates[start[one]], coordinates[end[one]]
    c, d = coordinates[start[other]], coordinates[end[other]]
    way, across = (b - a)[:, :2], (d - c)[:, :2]
    turn = way[:, 0] * across[:, 1] - way[:, 1] * across[:, 0]
    gap = (c - a)[:, :2]
    with np.errstate(divide="ignore", invalid="ignore"):
        s = (gap[:, 0] * across[:, 1] - gap[:, 1] * across[:, 0]) / turn
        t = (gap[:, 0] * way[:, 1] - gap[:, 1] * way[:, 0]) / turn
        inside = (s > _STEP) & (s < 1 - _STEP) & (t > _STEP) & (t < 1 - _STEP)
    rows = np.flatnonzero(inside)
    height = a[rows, 2] + s[rows] * (b - a)[rows, 2]
    height -= c[rows, 2] + t[rows] * (d - c)[rows, 2]
    return Crossings(
        start[one[rows]],
        start[other[rows]],
        a[rows, :2] + s[rows, None] * way[rows],
        height,
    )


def _pieces(coordinates: Floats, line: Labels) -> tuple[Ints, Ints]:
    """Return start and end of every piece of every line."""
    there = np.isfinite(coordinates[:, :2]).all(axis=1) & (line.number >= 0)
    rows = np.flatnonzero(there)
    rows = rows[np.argsort(line.number[rows], kind="stable")]
    same = line.number[rows[1:]] == line.number[rows[:-1]]
    return rows[:-1][same], rows[1:][same]


def _near(coordinates: Floats, start: Ints, end: Ints) -> tuple[Ints, Ints]:
    """Return pairs of pieces near enough to cross, each once.

    A piece reaches half its length from its middle; pieces are sought in sets of like
    length, so that one long line does not make all others neighbours.
    """
    middle = (coordinates[start, :2] + coordinates[end, :2]) / 2
    half = np.hypot(*(coordinates[end, :2] - coordinates[start, :2]).T) / 2
    size = np.floor(np.log2(np.maximum(half, 1e-3))).astype(int)
    sizes = np.unique(size)
    trees = {int(k): (np.flatnonzero(size == k)) for k in sizes}
    pairs = []
    for k, mine in trees.items():
        tree = cKDTree(middle[mine])
        for m, others in trees.items():
            if m < k:
                continue
            reach = 2.0 ** (k + 1) + 2.0 ** (m + 1)
            found = tree.sparse_distance_matrix(
                cKDTree(middle[others]), reach, output_type="ndarray"
            )
            pairs.append(np.stack([mine[found["i"]], others[found["j"]]], axis=1))
    every = np.concatenate(pairs) if pairs else np.zeros((0, 2), dtype=np.int64)
    every = np.unique(np.sort(every, axis=1), axis=0)
    apart = every[:, 0] != every[:, 1]
    for one in (start, end):
        for other in (start, end):
            apart &= one[every[:, 0]] != other[every[:, 1]]
    every = every[apart]
    return every[:, 0], every[:, 1]
