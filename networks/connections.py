"""How a network hangs together: pieces, and marks that hang on one vector."""

from dataclasses import dataclass

import numpy as np

from .covariances import Ints
from .distinct import distinct
from .network import Network
from .spanning import Tree, bridges, neighbours_of, piece_of, tree_of


@dataclass(frozen=True, slots=True)
class Hanging:
    """Marks that one single vector ties to the rest."""

    vector: int
    """Index of the vector in ``network.vectors``."""
    marks: tuple[int, ...]
    """The marks beyond it, away from what is known; the smaller side if nothing is."""


def tied_marks(network: Network) -> set[int]:
    """Return the marks that something besides vectors places.

    Parameters
    ----------
    network : Network

    Returns
    -------
    set of int
        Held and weighted known marks, and marks with a position in use.
    """
    known, positions = network.known, network.positions
    use = known.in_use("held") | known.in_use("weighted")
    marks = set(known.mark[use.any(axis=1)].tolist())
    return marks | set(network.mark_of(positions.node[positions.used]).tolist())


def pieces(network: Network) -> list[list[int]]:
    """Return the marks of each connected piece, the largest first.

    Marks are connected by the vectors, sights and levels in use; a mark without any
    is a piece alone.

    Parameters
    ----------
    network : Network

    Returns
    -------
    list of list of int
    """
    start, end, _ = _edges(network)
    piece = piece_of(len(network.marks), start, end)
    order = np.argsort(piece, kind="stable")
    cuts = np.flatnonzero(np.diff(piece[order])) + 1
    found = [some.tolist() for some in np.split(order, cuts)]
    return sorted(found, key=lambda some: (-len(some), some))


def hanging(network: Network) -> list[Hanging]:
    """Return the vectors that alone tie marks to the rest, in table order.

    What is known is one node of its own, so that a vector between two known marks,
    or from a mark with a position, hangs nothing.

    Parameters
    ----------
    network : Network

    Returns
    -------
    list of Hanging
    """
    start, end, vector = _edges(network)
    known = len(network.marks)
    tied = np.array(sorted(tied_marks(network)), dtype=np.int64)
    start = np.r_[start, np.full(len(tied), known)]
    end = np.r_[end, tied]
    vector = np.r_[vector, np.full(len(tied), -1)]
    # The branch of a bridge is away from the root, and what is known is a root.
    piece = piece_of(known + 1, known - start, known - end)
    roots = known - distinct(piece)
    tree = tree_of(neighbours_of(known + 1, start, end), roots)
    found = []
    for node in bridges(start, end, tree).tolist():
        if vector[tree.edge[node]] >= 0:
            marks = _beyond(tree, node, known)
            found.append(Hanging(int(vector[tree.edge[node]]), marks))
    return sorted(found, key=lambda hangs: hangs.vector)


def _edges(network: Network) -> tuple[Ints, Ints, Ints]:
    """Return both marks of every edge, and its vector; −1 for other observations."""
    vectors, levels = network.vectors, network.levels
    rows = np.flatnonzero(vectors.used)
    start = [network.mark_of(vectors.start[rows])]
    end = [network.mark_of(vectors.end[rows])]
    for some in network.sights:
        for ends in (some.to[some.used], some.back[some.used]):
            seen = ends >= 0
            start.append(network.mark_of(some.at[some.used][seen]))
            end.append(network.mark_of(ends[seen]))
    if levels is not None:
        start.append(levels.start[levels.used])
        end.append(levels.end[levels.used])
    first, second = np.concatenate(start), np.concatenate(end)
    vector = np.full(len(first), -1)
    vector[: len(rows)] = rows
    apart = first != second
    return first[apart], second[apart], vector[apart]


def _beyond(tree: Tree, node: int, known: int) -> tuple[int, ...]:
    """Return the marks on the side of a bridge that is away from what is known."""
    root, place = tree.root[node], tree.place
    branch = tree.order[place[node] : place[node] + tree.size[node]]
    if root == known or tree.size[node] < tree.size[root] - tree.size[node]:
        return tuple(np.sort(branch).tolist())
    whole = tree.order[place[root] : place[root] + tree.size[root]]
    other = np.setdiff1d(whole, branch)
    smallest = min(branch, other, key=lambda side: (len(side), side.min()))
    return tuple(np.sort(smallest).tolist())
