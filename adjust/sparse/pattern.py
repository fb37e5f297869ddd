"""The entries of a symmetric matrix, block by block, and where to find them.

Values are one array: the lower triangles of the blocks of joined pairs of nodes,
pair after pair in the order of elimination. The matrix and the part of its inverse
that is kept share this pattern.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from ...networks.covariances import Ints
from .narrow import Places, narrow, room

_TRIANGLE = ((0, 0), (1, 0), (1, 1), (2, 0), (2, 1), (2, 2))
"""Rows and columns of the entries of a lower triangle."""
_AT_ONCE = 1 << 20
"""Entries looked up in one go; bounds the memory."""


@dataclass(frozen=True, slots=True)
class Pattern:
    """Joined pairs of nodes, and the entries of their blocks."""

    keys: Ints
    """Sorted keys low · n + high of pairs, each node with itself among them; low is
    eliminated first."""
    start: Places
    """(pairs + 1,) where the entries of each pair start; rows of high × columns of
    low, or the lower triangle of a node with itself."""
    node: Places
    """(u + 1,) node of each column, −1 for the column −1."""
    component: Places
    """(u + 1,) which of its node's columns each is."""
    size: Places
    """(n,) columns of each node."""
    column_order: Places
    """(u,) the column at each place of the elimination."""
    on_diagonal: Places
    """(u,) where the entry of each column with itself is."""

    def __len__(self) -> int:
        """Return how many entries there are."""
        return int(self.start[-1])

    def parts(self) -> Iterator[tuple[slice, Ints, Ints]]:
        """Yield entries some at a time: which, and the columns that they are of.

        Their rows, which are eliminated later, then their columns.
        """
        first = np.concatenate([[0], np.cumsum(self.size, dtype=np.int64)])
        for pairs in self.in_parts():
            low, high = self.nodes(pairs)
            pair, row, column = self.entries(pairs)
            some = slice(int(self.start[pairs.start]), int(self.start[pairs.stop]))
            yield (
                some,
                self.column_order[first[high][pair] + row],
                self.column_order[first[low][pair] + column],
            )

    def places(self) -> tuple[Ints, Ints]:
        """Return (entries,) the columns that all entries are of, as ``parts``."""
        rows, columns = np.empty((2, len(self)), np.int64)
        for some, row, column in self.parts():
            rows[some], columns[some] = row, column
        return rows, columns

    def in_parts(self) -> Iterator[slice]:
        """Yield pairs some at a time: entries of all need much memory."""
        cuts = np.searchsorted(self.start, np.arange(0, len(self), _AT_ONCE))
        ends = np.append(cuts, len(self.keys)).tolist()
        for first, last in pairwise(ends):
            if last > first:
                yield slice(first, last)

    def entries(self, pairs: slice) -> tuple[Ints, Ints, Ints]:
        """Return which of some pairs every entry is of, its row and column there."""
        each = np.diff(self.start[pairs.start : pairs.stop + 1])
        pair = np.repeat(np.arange(len(each)), each)
        low, high = self.nodes(pairs)
        width = np.where(low == high, 0, self.size[low].astype(np.int64))
        first = 9 * width - (np.cumsum(each) - each)
        at = np.repeat(first, each) + np.arange(len(pair))
        rows, columns = _in_block().T
        return pair, rows.take(at), columns.take(at)

    def nodes(self, pairs: slice = slice(None)) -> tuple[Ints, Ints]:
        """Return the earlier and the later node of pairs."""
        count = max(len(self.size), 1)
        return self.keys[pairs] // count, self.keys[pairs] % count

    def find(self, rows: Ints, columns: Ints) -> Places:
        """Return where the entries between columns are, (p, q, c).

        Parameters
        ----------
        rows : ndarray of int, shape (p, c)
        columns : ndarray of int, shape (q, c)
            Columns of the matrix; −1 for none.

        Returns
        -------
        ndarray of int
            −1 where a pair is not in the pattern, −2 where a column is −1.
        """
        first, second = self.node[rows], self.node[columns]
        if not len(self.keys):
            return np.full((len(rows), *columns.shape), -2)
        starts = self._starts(first, second)
        inner, outer = self.component[rows][:, None], self.component[columns]
        earlier = first[:, None] < second
        same = first[:, None] == second
        low = np.where(earlier, inner, outer)
        high = np.where(earlier, outer, inner)
        width = self.size[np.minimum(first[:, None], second)]
        most, least = np.maximum(low, high), np.minimum(low, high)
        within = np.where(same, most * (most + 1) // 2 + least, high * width + low)
        return np.where(starts < 0, starts, starts + within)

    def _starts(self, first: Places, second: Places) -> Places:
        """Return where the blocks of pairs of nodes start, looked up once a pair."""
        rows, row = _repeated(first)
        columns, column = _repeated(second)
        a, b = rows[:, None].astype(np.int64), columns[None, :].astype(np.int64)
        sought = np.minimum(a, b) * len(self.size) + np.maximum(a, b)
        at = np.minimum(np.searchsorted(self.keys, sought), len(self.keys) - 1)
        found = np.where(self.keys[at] == sought, self.start[at], -1)
        found = np.where((a < 0) | (b < 0), -2, found)
        return found[row[:, None], column]


def patterned(
    keys: Ints, size: Ints, node_of_column: Ints, column_order: Ints
) -> Pattern:
    """Return the pattern of joined pairs of nodes that are numbered as eliminated.

    Parameters
    ----------
    keys : ndarray of int, shape (pairs,)
        As in ``Pattern``.
    size : ndarray of int, shape (n,)
        Columns of each node.
    node_of_column : ndarray of int, shape (u,)
    column_order : ndarray of int, shape (u,)
        The column at each place of the elimination.
    """
    count, columns = max(len(size), 1), len(column_order)
    low, high = keys // count, keys % count
    triangles = size * (size + 1) // 2
    length = np.where(low == high, triangles[low], size[low] * size[high])
    start = np.concatenate([[0], np.cumsum(length)])
    rank = np.empty(columns, np.int64)
    rank[column_order] = np.arange(columns)
    component = rank - (np.cumsum(size) - size)[node_of_column]
    own = start[:-1][low == high][node_of_column]
    return Pattern(
        keys=keys,
        start=narrow(start),
        node=narrow(np.append(node_of_column, -1)),
        component=np.append(component, 0).astype(np.int8),
        size=size.astype(np.int8),
        column_order=narrow(column_order),
        on_diagonal=narrow(own + component * (component + 3) // 2),
    )


def _in_block() -> Ints:
    """Return row and column of up to nine entries: of a triangle, then by width."""
    table = np.zeros((4, 9, 2), np.int64)
    table[0, :6] = _TRIANGLE
    for width in (1, 2, 3):
        table[width] = np.column_stack(np.divmod(np.arange(9), width))
    return table.reshape(-1, 2)


def _repeated(nodes: Places) -> tuple[Places, Ints]:
    """Return rows that differ from the one before, and which of them each row is."""
    new = np.ones(len(nodes), bool)
    new[1:] = (nodes[1:] != nodes[:-1]).any(axis=1)
    return nodes[new], np.cumsum(new) - 1


def triangle(pattern: Pattern, columns: Ints) -> tuple[Places, Ints]:
    """Return where the products of local unknowns go.

    Parameters
    ----------
    pattern : Pattern
    columns : ndarray of int, shape (c, w)
        −1 for none.

    Returns
    -------
    positions : ndarray of int, shape (w (w + 1) / 2, c)
        In the order of ``numpy.tril_indices(w)``; −2 for products with column −1.
    twice : ndarray of int
        Which of them, counted row by row, are products of two local unknowns that
        are one column: in the square they stand on both sides of the diagonal.

    Raises
    ------
    ValueError
        A pair is not in the pattern.
    """
    count, width = columns.shape
    rows, others = np.tril_indices(width)
    off = (rows != others)[:, None]
    made = room(len(rows) * count, len(pattern)).reshape(len(rows), count)
    twice = [np.zeros(0, np.int64)]
    step = max(1, _AT_ONCE // max(1, width**2))
    for start in range(0, count, step):
        across = np.ascontiguousarray(columns[start : start + step].T)
        made[:, start : start + step] = pattern.find(across, across)[rows, others]
        i, j = across[rows], across[others]
        row, column = np.nonzero(off & (i == j) & (i >= 0))
        twice.append(row * count + column + start)
    if (made == -1).any():
        raise ValueError("columns are joined that were not when the plan was made")
    return made, np.concatenate(twice)
