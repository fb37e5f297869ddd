"""What was formed for networks side by side, given back to each of them."""

from collections.abc import Iterator, Sequence
from itertools import pairwise

import numpy as np

from ..networks.covariances import Batch, Ints
from ..networks.side_by_side import SideBySide
from .equations import Equations
from .nodes import Column, Nodes
from .normal import Whitened, whiten


def by_network(whole: SideBySide, columns: Ints) -> tuple[Ints, Ints]:
    """Return columns numbered network by network, and where each one's begin.

    Parameters
    ----------
    whole : SideBySide
    columns : ndarray of int, shape (N + q, 3)
        As ``unknown_columns`` numbers them: those of marks, set-ups, parameters.

    Returns
    -------
    columns : ndarray of int, shape (N + q, 3)
    first : ndarray of int, shape (k + 1,)
    """
    owner = np.zeros(int(columns.max(initial=-1)) + 1, dtype=np.int64)
    there = columns >= 0
    owner[columns[there]] = np.broadcast_to(whole.owner[:, None], columns.shape)[there]
    order = np.argsort(owner, kind="stable")
    number = np.full(len(owner) + 1, -1)
    number[order] = np.arange(len(owner))
    return number[columns], _starts(owner[order], whole.count)


def columns_of(whole: SideBySide, columns: Ints, first: Ints) -> list[Ints]:
    """Return the columns of each network's nodes, numbered as if it were alone."""
    own = np.where(columns < 0, -1, columns - first[whole.owner, None])
    return _by_owner(own, whole.owner, whole.count)


def nodes_of(whole: SideBySide, nodes: Nodes) -> list[Nodes]:
    """Return the nodes of each network."""
    places, count = len(nodes.xyz), whole.count
    owner, plumb = whole.owner[:places], nodes.plumb
    parts = zip(
        _by_owner(nodes.xyz, owner, count),
        _by_owner(nodes.axes, owner, count),
        _by_owner(nodes.turn, owner, count),
        _by_owner(nodes.values, whole.owner[places:], count),
        [None] * count if plumb is None else _by_owner(plumb, owner, count),
        strict=True,
    )
    return [Nodes(*part) for part in parts]


def rows_of(
    whole: SideBySide, system: Sequence[Equations], columns: Ints, first: Ints
) -> list[tuple[tuple[Equations, ...], tuple[Whitened, ...]]]:
    """Return the equations of each network, and its whitened rows.

    A kind of which it has none is left out.

    Parameters
    ----------
    whole : SideBySide
    system : sequence of Equations
    columns, first : ndarray of int
        As from ``by_network``.
    """
    made: list[tuple[list[Equations], list[Whitened]]]
    made = [([], []) for _ in range(whole.count)]
    for some in system:
        owner = whole.owner[some.node[:, 0]]
        edges = _starts(owner, whole.count)
        node = np.where(some.node < 0, -1, whole.own[some.node])
        covariances: list[list[Batch]] = [[] for _ in range(whole.count)]
        for batch, rows in zip(some.covariances, whiten(some, columns), strict=True):
            for k, mine, white in _clusters(batch, rows, owner, edges, first):
                covariances[k].append(mine)
                made[k][1].append(white)
        for k, (low, high) in enumerate(pairwise(edges.tolist())):
            if covariances[k]:
                own = slice(low, high)
                made[k][0].append(
                    Equations(
                        some.kind,
                        some.misclosure[own],
                        some.design[own],
                        node[own],
                        some.active[own],
                        tuple(covariances[k]),
                    )
                )
    return [(tuple(equations), tuple(rows)) for equations, rows in made]


def _clusters(
    batch: Batch, rows: Whitened, owner: Ints, edges: Ints, first: Ints
) -> Iterator[tuple[int, Batch, Whitened]]:
    """Yield the clusters of each network that has some, numbered as if it were alone.

    Its number, the clusters with their covariances, and their whitened rows.
    """
    whose, count = owner[batch.members[:, 0]], len(first) - 1
    columns = np.where(rows.columns < 0, -1, rows.columns - first[whose, None])
    numbers = (
        _by_owner(own, whose, count)
        for own in (batch.members - edges[whose, None], columns)
    )
    values = (
        _by_owner(own, whose, count)
        for own in (batch.matrix, rows.lower, rows.design, rows.misclosure)
    )
    for k, (members, columns, matrix, lower, design, misclosure) in enumerate(
        zip(*numbers, *values, strict=True)
    ):
        if len(members):
            yield (
                k,
                Batch(members, matrix),
                Whitened(rows.kind, members, lower, design, misclosure, columns),
            )


def _starts(owner: Ints, count: int) -> Ints:
    """Return where each network's begin in what is sorted by network, (count + 1,)."""
    return np.searchsorted(owner, np.arange(count + 1))


def _by_owner(values: Column, owner: Ints, count: int) -> list[Column]:
    """Return the rows of each network; those that lie in order are not copied."""
    if (np.diff(owner) < 0).any():
        order = np.argsort(owner, kind="stable")
        values, owner = values[order], owner[order]
    starts = _starts(owner, count).tolist()
    return [values[low:high] for low, high in pairwise(starts)]
