"""One mark under two names, two marks under one, and names that look alike."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from .covariances import Bools, Floats, Ints
from .loops import mark_to_mark
from .network import Network
from .spanning import neighbours_of, rings

TOGETHER_M = 0.3
"""Marks nearer than this are hardly two (common practice, no source): a brass cap is
some 8 cm wide, and two of them side by side still need to be told apart."""

GROSS_M = 0.3
"""A misfit above this is no matter of precision but of the wrong place."""

_ALIKE = str.maketrans("OIL", "011")


@dataclass(frozen=True, slots=True)
class TwoPlaces:
    """A mark to which vectors lead in two places."""

    mark: int
    here: tuple[int, ...]
    """Vectors that agree with each other, the most."""
    there: tuple[int, ...]
    """Vectors that lead elsewhere."""
    apart: float
    """m."""
    also: int
    """Another mark that is where ``there`` leads; −1 if none is."""


def spelled_alike(names: Sequence[str]) -> list[tuple[str, ...]]:
    """Return the names that differ only in case, blanks, hyphens or look-alike signs.

    O and 0, I and L and 1 are read for each other.

    Parameters
    ----------
    names : sequence of str

    Examples
    --------
    >>> spelled_alike(["T-103", "T 103", "T104", "TlO4", "T103A"])
    [('T-103', 'T 103'), ('T104', 'TlO4')]
    """
    same: dict[str, list[str]] = {}
    for name in names:
        same.setdefault(_folded(name), []).append(name)
    return [tuple(group) for group in same.values() if len(group) > 1]


def extended(names: Sequence[str]) -> list[tuple[str, str]]:
    """Return pairs of a name and the same with one letter more.

    Often a mark and its witness; sometimes one mark twice.

    Parameters
    ----------
    names : sequence of str

    Examples
    --------
    >>> extended(["T103", "T-103A", "T1034"])
    [('T103', 'T-103A')]
    """
    known = {_folded(name): name for name in names}
    return [
        (known[_folded(name[:-1])], name)
        for name in names
        if name[-1:].isalpha() and name[-2:-1].isdigit() and _folded(name[:-1]) in known
    ]


def _folded(name: str) -> str:
    plain = name.upper()
    if not plain.isalnum():
        plain = "".join(c for c in plain if c.isalnum())
    return plain.translate(_ALIKE)


def marks_together(xyz: Floats, limit: float = TOGETHER_M) -> list[tuple[int, int]]:
    """Return pairs of marks that are in one place.

    Parameters
    ----------
    xyz : ndarray, shape (m, 3)
        m; NaN where a mark is not placed.
    limit : float, optional
        m.

    Examples
    --------
    >>> marks_together(np.array([[0.0, 0, 0], [50, 0, 0], [0.1, 0, 0.1]]))
    [(0, 2)]
    """
    placed = np.flatnonzero(np.isfinite(xyz).all(axis=1))
    if len(placed) < 2:
        return []
    # Two such marks are in one cube of the limit's size, or in cubes side by side. The
    # number of a cube may overflow: then cubes share one, and the distance decides.
    cube = np.floor(xyz[placed] / limit).astype(np.int64)
    stride = np.r_[np.cumprod((np.ptp(cube, axis=0) + 3)[:0:-1])[::-1], 1]
    number = cube @ stride
    order = np.argsort(number, kind="stable")
    number, placed = number[order], placed[order]
    found: set[tuple[int, int]] = set()
    for step in _HALF_AROUND @ stride:
        a, b = (placed[side] for side in _beside(number, step))
        near = np.linalg.norm(xyz[b] - xyz[a], axis=1) <= limit
        pair = np.sort(np.stack([a[near], b[near]], axis=-1), axis=1)
        found.update((int(one), int(other)) for one, other in pair)
    return sorted(found)


_HALF_AROUND = np.array(
    [
        (x, y, z)
        for x in (0, 1)
        for y in (-1, 0, 1)
        for z in (-1, 0, 1)
        if (x, y, z) >= (0, 0, 0)
    ]
)
"""A cube, and of the 26 around it one of each two that are opposite."""

_MOST_BESIDE = 20
"""Marks of a cube that another is compared with; heaps of marks are not all paired."""


def _beside(number: Ints, step: int) -> tuple[Ints, Ints]:
    """Return pairs of places in sorted cube numbers that are a step apart."""
    start = np.searchsorted(number, number + step, side="left")
    stop = np.searchsorted(number, number + step, side="right")
    if step == 0:
        start = np.arange(1, len(number) + 1)
    count = np.clip(stop - start, 0, _MOST_BESIDE)
    first = np.repeat(np.arange(len(number)), count)
    within = np.arange(len(first)) - np.repeat(np.cumsum(count) - count, count)
    return first, start[first] + within


def places_by_vectors(network: Network) -> Floats:
    """Return where known coordinates, positions and vectors put the marks, (m, 3) m.

    Approximate positions are not used: they are too poor to tell two marks apart. Nor
    are vectors whose turn is not known yet. NaN where nothing leads.

    Parameters
    ----------
    network : Network
    """
    used = _leading(network)
    rough = _walk(network, network.vectors.delta, used, _seeds(network))
    if not np.isfinite(rough).any():
        return rough
    reduced = _reduced(network, rough)
    return _walk(network, reduced, used, _seeds(network))


def two_places(network: Network) -> list[TwoPlaces]:
    """Return the marks that alone explain why vectors grossly disagree.

    A mark is one if the network without it agrees within ``GROSS_M`` and its vectors
    then lead to two places. Several fit where one wrong vector would do as well.

    Parameters
    ----------
    network : Network

    Returns
    -------
    list of TwoPlaces
        Empty where nothing is gross, or where no single mark explains it.
    """
    rough = places_by_vectors(network)
    if not np.isfinite(rough).any():
        return []
    reduced = _reduced(network, rough)
    used = _leading(network)
    gross = _disagreeing(network, reduced, used, rough)
    if not gross.any():
        return []
    found = []
    for mark in _suspects(network, int(np.flatnonzero(gross)[0])):
        at = _at(network, mark)
        rest = used & ~at
        places = _walk(network, reduced, rest, _seeds(network), start_anywhere=True)
        if not _disagreeing(network, reduced, rest, places).any():
            made = _split(network, reduced, mark, places, np.flatnonzero(used & at))
            found += [made] if made else []
    return found


def _leading(network: Network) -> Bools:
    """Return (n,) the vectors in use that are in the axes of the frame."""
    return np.asarray(network.vectors.used & (network.turns_to_find() < 0))


def _seeds(network: Network) -> list[tuple[int, Floats]]:
    known, positions = network.known, network.positions
    seeds = [
        (int(known.mark[i]), known.xyz[i])
        for i in range(len(known))
        if known.used[i] and known.components[i].all() and np.isfinite(known.xyz[i, 0])
    ]
    marks = network.mark_of(positions.node)
    seeds += [
        (int(marks[i]), positions.xyz[i])
        for i in range(len(positions))
        if positions.used[i] and positions.components[i].all()
    ]
    if not seeds:
        # One approximate position says where up is; the shape is the vectors'.
        booked = np.flatnonzero(np.isfinite(network.marks.approximate).all(axis=1))
        seeds = [(int(m), network.marks.approximate[m]) for m in booked[:1]]
    return seeds


def _reduced(network: Network, rough: Floats) -> Floats:
    nearest = np.where(np.isfinite(rough), rough, np.nanmean(rough, axis=0))
    return mark_to_mark(network, nearest)


def _ends(network: Network) -> Ints:
    vectors = network.vectors
    ends = (network.mark_of(vectors.start), network.mark_of(vectors.end))
    return np.stack(ends, axis=-1)


def _at(network: Network, mark: int) -> Bools:
    return np.asarray((_ends(network) == mark).any(axis=1))


def _walk(
    network: Network,
    delta: Floats,
    used: Bools,
    seeds: list[tuple[int, Floats]],
    *,
    start_anywhere: bool = False,
) -> Floats:
    """Return the marks placed one vector after the other, (m, 3) m."""
    xyz = np.full((len(network.marks), 3), np.nan)
    ends, rows = _ends(network)[used], np.flatnonzero(used)
    neighbours = neighbours_of(len(xyz), ends[:, 0], ends[:, 1])
    origins = list(seeds)
    if start_anywhere and not seeds and len(rows):
        origins = [(int(ends.min()), np.zeros(3))]
    reached = np.zeros(len(xyz), dtype=bool)
    for mark, place in origins:
        if reached[mark]:
            continue
        xyz[mark] = place
        for ring in rings(neighbours, np.array([mark]), reached):
            step = delta[rows[ring.edge]]
            step = np.where(ring.forward[:, None], step, -step)
            xyz[ring.there] = xyz[ring.here] + step
    return xyz


def _disagreeing(network: Network, reduced: Floats, used: Bools, xyz: Floats) -> Bools:
    """Return which vectors do not lead from one placed mark to the other."""
    ends = _ends(network)
    off = np.linalg.norm(xyz[ends[:, 1]] - xyz[ends[:, 0]] - reduced, axis=1)
    return np.asarray(used & (np.nan_to_num(off) > GROSS_M))


def _suspects(network: Network, vector: int) -> list[int]:
    """Return the marks of a shortest loop through a vector: one of them is it."""
    ends, rows = _ends(network), np.flatnonzero(_leading(network))
    rows = rows[rows != vector]
    a, b = (int(end) for end in ends[vector])
    back = np.full(len(network.marks), -1)
    neighbours = neighbours_of(len(back), *ends[rows].T)
    for ring in rings(neighbours, np.array([a]), np.zeros(len(back), dtype=bool)):
        back[ring.there] = ring.here
    loop = {a, b}
    while back[b] >= 0:
        b = int(back[b])
        loop.add(b)
    return sorted(loop)


def _split(
    network: Network, reduced: Floats, mark: int, places: Floats, vectors: Ints
) -> TwoPlaces | None:
    """Return the two places to which a mark's vectors lead from the rest, if two."""
    ends = _ends(network)
    led: dict[int, Floats] = {}
    for v in vectors.tolist():
        away = int(ends[v, 1 if ends[v, 0] == mark else 0])
        place = places[away] + (reduced[v] if ends[v, 1] == mark else -reduced[v])
        if np.isfinite(place).all():
            led[v] = place
    clusters: list[list[int]] = []
    for v, place in led.items():
        near = (c for c in clusters if np.linalg.norm(led[c[0]] - place) <= GROSS_M)
        cluster = next(near, None)
        if cluster is None:
            clusters.append([v])
        else:
            cluster.append(v)
    if len(clusters) != 2:
        return None
    here, there = sorted(clusters, key=lambda c: (-len(c), c[0]))
    apart = float(np.linalg.norm(led[here[0]] - led[there[0]]))
    off = np.linalg.norm(places - led[there[0]], axis=1)
    near_marks = np.flatnonzero(np.nan_to_num(off, nan=np.inf) <= GROSS_M)
    also = int(near_marks[0]) if len(near_marks) else -1
    return TwoPlaces(mark, tuple(here), tuple(there), apart, also)
