"""A network divided: which observations go together, and into which domain.

Any division gives the same result; a good one has few marks that several domains
observe. The marks are parted by the top levels of a nested dissection, and what was
observed from one set-up stays together, so that set-ups are seldom shared.
"""

import numpy as np
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from ...networks import Network
from ...networks.covariances import Bools, Floats, Ints
from ..sparse.axes import cutting_axes, placed_axes
from ..sparse.dissection import dissect
from ..sparse.graph import adjacency, pairs
from .touched import Touched, spread

_SHARED = 30
"""Observations of a set-up or parameter above which it holds nothing together."""
_TOGETHER = 64
"""Set-ups and circles, joined by what was observed, that are still kept together."""
_FEW = 2.0
"""Marks on separators, as a share of those across a square country, that are few."""
_UNEVEN = 0.02
"""How far from the middle a part may be cut, as a share of it: who has most to do is
waited for, so that even parts are worth a longer border."""
_DENSE = 10.0
"""A mark joined to more than this many √n others is in no domain's inside."""


def divide(
    network: Network, kinds: tuple[Touched, ...], places: Floats, levels: int
) -> list[Ints]:
    """Return the domain of every observation.

    Parameters
    ----------
    network : Network
    kinds : tuple of Touched
    places : ndarray, shape (m, 3)
        Where the marks are about; NaN where that is not known.
    levels : int
        There are 2^levels domains at most.

    Returns
    -------
    list of ndarray of int, shape (n,)
        A number from 0 for each observation of each kind; −1: not in use.
    """
    atoms, count = _atoms(network, kinds)
    mark = _marks(network, kinds)
    depth, domain = _regions(network, atoms, mark, places, levels)
    # Of each atom the deepest mark says where it goes.
    best = np.full(count, -1)
    rank = np.append(depth * (1 << levels) + (1 << levels) - 1 - domain, -1)
    for atom, at in zip(atoms, mark, strict=True):
        deepest = rank[at].max(axis=1, initial=-1)
        np.maximum.at(best, atom[atom >= 0], deepest[atom >= 0])
    of_atom = np.where(best < 0, -1, (1 << levels) - 1 - best % (1 << levels))
    made = [np.where(atom < 0, -1, of_atom[atom]) for atom in atoms]
    return _with_priors(kinds, atoms, made, len(network.marks) + len(network.set_ups))


def _with_priors(
    kinds: tuple[Touched, ...], atoms: list[Ints], made: list[Ints], places: int
) -> list[Ints]:
    """Give priors, which are at no mark, to a domain that has the parameter."""
    priors = kinds[-1].node[:, 0] if kinds[-1].node.size else np.zeros(0, np.int64)
    count = places + len(priors)
    first = spread(kinds, made, count)[places:]
    home = np.where(np.isfinite(first), first, 0).astype(np.int64)
    placed = np.where(atoms[-1] < 0, -1, np.where(made[-1] < 0, home, made[-1]))
    return [*made[:-1], placed]


def _atoms(network: Network, kinds: tuple[Touched, ...]) -> tuple[list[Ints], int]:
    """Return what each observation must stay together with, −1 where not in use.

    Correlated observations, and those joined by set-ups and circle zeros that few
    observations share. Where these make long chains, circle zeros alone join.
    """
    marks, places = len(network.marks), len(network.marks) + len(network.set_ups)
    total = places + len(network.parameters)
    degree = np.zeros(total + 1, dtype=np.int64)
    for kind in kinds:
        if kind.kind not in ("set-up", "parameter"):
            at = kind.node[kind.cluster >= 0]
            degree += np.bincount(at[at >= 0], minlength=total + 1)
    circle = np.zeros(total + 1, dtype=bool)
    circle[places:-1] = [kind == "orientation" for kind in network.parameters.kind]
    stood = np.zeros(total + 1, dtype=bool)
    stood[marks:places] = True
    few = degree <= _SHARED
    wide, size, start = _joined(kinds, (stood | circle) & few)
    narrow, _, _ = _joined(kinds, circle & few)
    label = np.where(size[wide] > _TOGETHER, len(wide) + narrow, wide)
    _, label = np.unique(label, return_inverse=True)
    made = []
    for kind, first in zip(kinds, start, strict=False):
        used = kind.cluster >= 0
        made.append(np.where(used, label[first + np.maximum(kind.cluster, 0)], -1))
    return made, int(label.max(initial=-1)) + 1


def _joined(kinds: tuple[Touched, ...], joins: Bools) -> tuple[Ints, Ints, list[int]]:
    """Return pieces of clusters that nodes join.

    Returns
    -------
    piece : ndarray of int
        Of each cluster, those of all kinds one after the other.
    size : ndarray of int
        How many joining nodes each piece has.
    start : list of int
        Where the clusters of each kind start.
    """
    start = np.cumsum([0, *(len(kind.cluster) for kind in kinds)]).tolist()
    count = start[-1]
    a, b = [np.zeros(0, np.int64)], [np.zeros(0, np.int64)]
    for kind, first in zip(kinds, start, strict=False):
        there = joins[kind.node] & (kind.node >= 0) & (kind.cluster >= 0)[:, None]
        row, slot = np.nonzero(there)
        a.append(first + kind.cluster[row])
        b.append(count + kind.node[row, slot])
    size = count + len(joins)
    i, j = np.concatenate(a), np.concatenate(b)
    graph = coo_array((np.ones(len(i)), (i, j)), shape=(size, size))
    _, piece = connected_components(graph, directed=False)
    nodes = np.bincount(piece[count:][joins], minlength=int(piece.max(initial=0)) + 1)
    return piece[:count].astype(np.int64), nodes, start


def _marks(network: Network, kinds: tuple[Touched, ...]) -> list[Ints]:
    """Return the marks at which each observation is, −1 for none."""
    places = len(network.marks) + len(network.set_ups)
    of_node = network.mark_of(np.arange(places))
    lost = np.full(len(network.parameters) + 1, -1)
    of_node = np.concatenate([of_node, lost])
    return [of_node[kind.node] for kind in kinds]


def _regions(
    network: Network,
    atoms: list[Ints],
    mark: list[Ints],
    places: Floats,
    levels: int,
) -> tuple[Ints, Ints]:
    """Return how deep in the dissection each mark is, and its domain."""
    count = len(network.marks)
    first, second = _neighbours(atoms, mark, count)
    degree = np.bincount(np.concatenate([first, second]), minlength=count)
    dense = degree > max(64.0, _DENSE * float(np.sqrt(count)))
    number = np.cumsum(~dense) - 1
    both = ~dense[first] & ~dense[second]
    a, b = number[first[both]], number[second[both]]
    heap = np.ones(count, np.int64)
    if len(a) and levels:
        heap[~dense] = _dissected(places[~dense], a, b, levels)
    depth = np.frexp(heap.astype(np.float64))[1].astype(np.int64) - 1
    depth[dense] = 0
    domain = (heap << (levels - depth)) - (1 << levels)
    # A separator's own observations go to a domain that it bounds.
    home = np.full(count, 1 << levels)
    for i, j in ((first, second), (second, first)):
        at = (depth[i] < levels) & (depth[j] == levels)
        np.minimum.at(home, i[at], domain[j[at]])
    return depth, np.where((depth < levels) & (home < 1 << levels), home, domain)


def _dissected(places: Floats, first: Ints, second: Ints, levels: int) -> Ints:
    """Return the separators and leaves of the joined marks.

    Cut by place; where that cuts through much, by the graph as well, which takes half
    as long again. What hangs together in no way is divided by place like the rest.
    """
    count = len(places)
    graph, whole = adjacency(first, second, count), np.zeros(count, np.int64)
    axes = placed_axes(places, graph)
    if axes:
        made = dissect(axes, whole, first, second, levels, False, _UNEVEN)
        # A square country is cut across; 2, 4 … cuts below have half as much to cut.
        across = float(np.sqrt(count) * (np.sqrt(2.0) ** np.arange(levels)).sum())
        if (made < 1 << levels).sum() <= _FEW * across:
            return made
    _, piece = connected_components(graph, directed=False)
    axes = cutting_axes(places, graph, piece)
    return dissect(axes, whole, first, second, levels, False, _UNEVEN)


def _neighbours(atoms: list[Ints], mark: list[Ints], count: int) -> tuple[Ints, Ints]:
    """Return joined pairs of marks: of an observation all, of an atom its first."""
    size = int(max((atom.max(initial=-1) for atom in atoms), default=-1)) + 1
    centre = np.full(size + 1, count)
    for atom, at in zip(atoms, mark, strict=True):
        for some in at.T:
            used = (atom >= 0) & (some >= 0)
            np.minimum.at(centre, atom[used], some[used])
    cliques = []
    for atom, at in zip(atoms, mark, strict=True):
        used = atom >= 0
        middle = np.where(centre == count, -1, centre)[atom[used]]
        cliques.append(np.concatenate([at[used], middle[:, None]], axis=1))
    keys = pairs(cliques, count)
    return keys // max(count, 1), keys % max(count, 1)
