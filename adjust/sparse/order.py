"""The order of elimination of any graph: early clusters, dissection, dense nodes."""

from dataclasses import replace

import numpy as np
from scipy.sparse.csgraph import connected_components

from ...networks.covariances import Bools, Floats, Ints
from ...networks.distinct import distinct
from .axes import cutting_axes
from .dissection import dissect
from .graph import Nodes, adjacency, bulk
from .numbering import numbering, renumbered
from .tree import Tree, grow, levels

_DENSE = 10.0
"""A node joined to more than this many √n others is eliminated last."""


def ordered(nodes: Nodes, keys: Ints) -> tuple[Tree, Ints]:
    """Return the fronts of an elimination, and all pairs to be kept in sight.

    Parameters
    ----------
    nodes : Nodes
    keys : ndarray of int
        Joined pairs, from ``pairs``.

    Returns
    -------
    tree : Tree
    keys : ndarray of int
        With the pairs that the elimination of early clusters joins.
    """
    count = len(nodes)
    final = nodes.last if nodes.kept is None else nodes.last | nodes.kept
    labels, joined = bulk(np.where(final, -1, nodes.early), keys)
    keys = distinct(np.concatenate([keys, joined]))
    first, second = keys // max(count, 1), keys % max(count, 1)
    last = nodes.last | (_dense(labels, first, second) & ~final & (labels < 0))
    rest = (labels < 0) & ~last & ~final
    heap, along = np.ones(count, np.int64), np.zeros(count)
    heap[rest], along[rest] = _dissected(
        nodes.place[rest], *_within(rest, first, second)
    )
    nodes = replace(nodes, last=last)
    return grow(*levels(nodes, labels, heap), along, first, second), keys


def _dense(labels: Ints, first: Ints, second: Ints) -> Bools:
    """Return which nodes are joined to so many that they would spoil any cut."""
    ordinary = labels < 0
    both = ordinary[first] & ordinary[second]
    ends = np.concatenate([first[both], second[both]])
    degree = np.bincount(ends, minlength=len(labels))
    return np.asarray(degree > max(64.0, _DENSE * float(np.sqrt(ordinary.sum()))))


def _within(rest: Bools, first: Ints, second: Ints) -> tuple[Ints, Ints]:
    """Return the pairs among some nodes, those nodes numbered from 0."""
    number = np.cumsum(rest) - 1
    both = rest[first] & rest[second]
    return number[first[both]], number[second[both]]


def _dissected(place: Floats, first: Ints, second: Ints) -> tuple[Ints, Floats]:
    """Return separators and leaves, and coordinates along one axis."""
    count = len(place)
    heap, along = np.ones(count, np.int64), np.zeros(count)
    if not count:
        return heap, along
    node = numbering(place)
    first, second = renumbered(node, first, second)
    graph = adjacency(first, second, count)
    _, piece = connected_components(graph, directed=False)
    axes = cutting_axes(place[node], graph, piece)
    heap[node], along[node] = dissect(axes, piece, first, second), axes[-1]
    return heap, along
