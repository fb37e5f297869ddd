"""One mark under two names, two marks under one, and names that look alike."""

from collections import deque
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from .covariances import Bools, Floats, Ints
from .loops import mark_to_mark
from .network import Network

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
    plain = "".join(c for c in name.upper() if c.isalnum())
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
    order = placed[np.argsort(xyz[placed, 0], kind="stable")]
    found = []
    for k, a in enumerate(order.tolist()):
        for b in order[k + 1 :].tolist():
            if xyz[b, 0] - xyz[a, 0] > limit:
                break
            if np.linalg.norm(xyz[b] - xyz[a]) <= limit:
                found.append((min(a, b), max(a, b)))
    return sorted(found)


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
    neighbours: dict[int, list[tuple[int, Floats]]] = {}
    ends = _ends(network)
    for v in np.flatnonzero(used).tolist():
        a, b = (int(end) for end in ends[v])
        neighbours.setdefault(a, []).append((b, delta[v]))
        neighbours.setdefault(b, []).append((a, -delta[v]))
    origins = list(seeds)
    if start_anywhere and not seeds and neighbours:
        origins = [(min(neighbours), np.zeros(3))]
    for mark, place in origins:
        if np.isfinite(xyz[mark, 0]):
            continue
        xyz[mark] = place
        waiting = deque([mark])
        while waiting:
            here = waiting.popleft()
            for there, step in neighbours.get(here, ()):
                if np.isnan(xyz[there, 0]):
                    xyz[there] = xyz[here] + step
                    waiting.append(there)
    return xyz


def _disagreeing(network: Network, reduced: Floats, used: Bools, xyz: Floats) -> Bools:
    """Return which vectors do not lead from one placed mark to the other."""
    ends = _ends(network)
    off = np.linalg.norm(xyz[ends[:, 1]] - xyz[ends[:, 0]] - reduced, axis=1)
    return np.asarray(used & (np.nan_to_num(off) > GROSS_M))


def _suspects(network: Network, vector: int) -> list[int]:
    """Return the marks of a shortest loop through a vector: one of them is it."""
    import networkx as nx

    ends = _ends(network)
    graph = nx.MultiGraph()
    for v in np.flatnonzero(_leading(network)).tolist():
        if v != vector:
            graph.add_edge(int(ends[v, 0]), int(ends[v, 1]))
    a, b = (int(end) for end in ends[vector])
    if a not in graph or b not in graph or not nx.has_path(graph, a, b):
        return sorted({a, b})
    return sorted(nx.shortest_path(graph, a, b))


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
