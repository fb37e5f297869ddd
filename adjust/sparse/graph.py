"""Which nodes of a matrix are joined: the pairs that its cliques make."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

import numpy as np
from scipy.sparse import csr_array

from ...networks.covariances import Bools, Floats, Ints
from ...networks.distinct import distinct

_AT_ONCE = 1 << 22
"""Pairs formed in one go; bounds the memory."""


@dataclass(frozen=True, slots=True)
class Nodes:
    """The unknowns of a matrix, grouped, and what is known about a good order."""

    node_of_column: Ints
    """(u,) the node of each column; a node has one to three."""
    place: Floats
    """(n, 2 or 3) where each node is, in any unit; NaN where it is nowhere."""
    early: Ints
    """(n,) nodes of one label ≥ 0 are eliminated first, together; −1 for the rest."""
    last: Bools
    """(n,) joined to very many others, so eliminated last."""
    kept: Bools | None = None
    """(n,) the border of a part of a larger matrix: after all others, or never."""

    def __len__(self) -> int:
        return len(self.early)


def pairs(cliques: Iterable[Ints], count: int) -> Ints:
    """Return the joined pairs a < b of nodes as sorted keys a · count + b.

    Parameters
    ----------
    cliques : iterable of ndarray of int, shape (c, w)
        Nodes, −1 for none; the nodes of a row are all joined to each other.
    count : int
        Number of nodes.

    Examples
    --------
    >>> pairs([np.array([[0, 2, -1], [1, 2, 2]])], 3).tolist()
    [2, 5]
    """
    found = [np.zeros(0, np.int64)]
    for clique in cliques:
        found += [distinct(keys) for keys in _keys(_without_repeats(clique), count)]
    return distinct(np.concatenate(found))


def _without_repeats(clique: Ints) -> Ints:
    """Leave out columns of the table that repeat the one before in every row."""
    if not clique.size:
        return clique
    new = [True, *(clique[:, 1:] != clique[:, :-1]).any(axis=0)]
    return clique[:, new]


def _keys(clique: Ints, count: int) -> Iterator[Ints]:
    """Yield the keys of all pairs, some rows at a time."""
    i, j = np.tril_indices(clique.shape[1], -1)
    step = max(1, _AT_ONCE // max(1, len(i)))
    for start in range(0, len(clique), step):
        rows = clique[start : start + step]
        a, b = rows[:, i], rows[:, j]
        joined = (a >= 0) & (b >= 0) & (a != b)
        a, b = a[joined], b[joined]
        yield np.minimum(a, b) * count + np.maximum(a, b)


def adjacency(first: Ints, second: Ints, count: int) -> csr_array:
    """Return the symmetric matrix of ones between joined nodes."""
    rows, columns = np.concatenate([[first, second], [second, first]], axis=1)
    ones = np.ones(len(rows), np.int8)
    return csr_array((ones, (rows, columns)), shape=(count, count))


def bulk(early: Ints, keys: Ints) -> tuple[Ints, Ints]:
    """Return the labels that can be eliminated first, and the pairs that this joins.

    A cluster must touch no other cluster and not have a border so wide that its
    elimination joins too many nodes; otherwise its nodes are ordinary ones.

    Parameters
    ----------
    early : ndarray of int, shape (n,)
        Labels, −1 for none.
    keys : ndarray of int
        Joined pairs.

    Returns
    -------
    labels : ndarray of int, shape (n,)
    joined : ndarray of int
        Keys of the pairs of border nodes of each cluster.
    """
    count = len(early)
    _, compact = np.unique(early, return_inverse=True)
    labels = np.where(early < 0, -1, compact)
    a, b = keys // max(count, 1), keys % max(count, 1)
    clash = (labels[a] >= 0) & (labels[b] >= 0) & (labels[a] != labels[b])
    _demote(labels, np.maximum(labels[a], labels[b])[clash])
    label, border = _borders(labels, a, b)
    width = np.bincount(label, minlength=count + 1)
    own = np.bincount(labels[labels >= 0], minlength=count + 1)
    wide = width > _WIDE + 2 * own
    _demote(labels, np.flatnonzero(wide))
    stays = ~wide[label]
    return labels, pairs(_stacks(label[stays], border[stays]), count)


_WIDE = 64
"""Border nodes up to which a single node may be eliminated first."""


def _demote(labels: Ints, which: Ints) -> None:
    labels[(labels >= 0) & np.isin(labels, which)] = -1


def _borders(labels: Ints, a: Ints, b: Ints) -> tuple[Ints, Ints]:
    """Return clusters and the nodes on their borders, sorted by cluster."""
    count = len(labels)
    inner = np.concatenate([labels[a], labels[b]])
    outer = np.concatenate([b, a])
    across = (inner >= 0) & (labels[outer] != inner)
    keys = distinct(inner[across] * count + outer[across])
    return keys // max(count, 1), keys % max(count, 1)


def _stacks(label: Ints, border: Ints) -> Iterator[Ints]:
    """Yield the borders of clusters as tables, one for each width."""
    start = np.flatnonzero(np.diff(label, prepend=-1))
    width = np.diff(start, append=len(label))
    for each in np.unique(width):
        yield border[start[width == each][:, None] + np.arange(each)]
