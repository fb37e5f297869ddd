"""The plan of an elimination: made once for a network, used at every iteration."""

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from scipy.sparse.csgraph import connected_components

from ...networks.covariances import Floats, Ints
from .factor import SparseFactor, factor
from .graph import Nodes, adjacency, pairs
from .layout import Layout, lay_out
from .matrix import Normal, Places, narrow
from .order import ordered
from .pattern import Pattern, triangle
from .stacks import Stack, stacks
from .statistics import Statistics, statistics


@dataclass(frozen=True, slots=True)
class Plan:
    """What depends on who is joined to whom, and on no number."""

    layout: Layout
    pattern: Pattern
    stacks: Sequence[Stack]
    rows: Places
    """(entries,) row of each entry of the matrix."""
    columns: Places
    on_diagonal: Ints
    """(u,) the entry of each column with itself."""
    piece: Ints
    """(u,) the connected piece of each column."""
    statistics: Statistics
    known: dict[int, tuple[Places, Places, Ints]] = field(default_factory=dict)
    """Columns of each part last assembled, and where its products go."""

    @property
    def kept_columns(self) -> Ints:
        """Return (b,) the columns of kept nodes, in the order of the border."""
        start = self.layout.own_start[-2] if self.layout.keeps else len(self.piece)
        return self.layout.column_order[start:]

    def assemble(self, parts: Sequence[tuple[Ints, Floats]]) -> Normal:
        """Return the sum of what clusters add to the matrix.

        Parameters
        ----------
        parts : sequence of (columns, products)
            (c, w) columns, −1 for none, and (c, w (w + 1) / 2) products in the order
            of ``numpy.tril_indices(w)``. Two local unknowns may be one column.

        Raises
        ------
        ValueError
            Columns are joined that the plan does not know as joined.
        """
        total = np.zeros(len(self.rows) + 2)
        for number, (columns, products) in enumerate(parts):
            positions, twice = self.positions(number, columns)
            across = products.T.ravel()
            # The last two numbers of the total take what goes nowhere.
            np.add.at(total, positions, across)
            np.add.at(total, positions[twice], across[twice])
        return Normal(total[:-2], self.rows, self.columns, self.on_diagonal)

    def positions(self, number: int, columns: Ints) -> tuple[Places, Ints]:
        """Return where the products of a part go, and which count twice; kept."""
        kept = self.known.get(number)
        if kept is None or not np.array_equal(kept[0], columns):
            positions, twice = triangle(self.pattern, columns)
            kept = narrow(columns), narrow(positions.ravel()), twice
            self.known[number] = kept
        return kept[1:]

    def factor(self, normal: Normal, keep: bool = False) -> SparseFactor:
        """Return the factor of a matrix of this plan.

        Parameters
        ----------
        normal : Normal
        keep : bool, optional
            Leave the nodes that were marked as kept uneliminated.

        Raises
        ------
        brasscap.adjust.dense.Singular
            With the null vectors, where the matrix does not determine everything.
        """
        return factor(self, normal, keep)


def symbolic(nodes: Nodes, cliques: Sequence[Ints]) -> Plan:
    """Return the plan of an elimination.

    Parameters
    ----------
    nodes : Nodes
    cliques : sequence of ndarray of int, shape (c, w)
        Columns, −1 for none; those of a row are all joined to each other.

    Returns
    -------
    Plan

    Examples
    --------
    Two columns, joined.

    >>> nowhere, no = np.full((2, 2), np.nan), np.zeros(2, bool)
    >>> nodes = Nodes(np.arange(2), nowhere, np.full(2, -1), no)
    >>> plan = symbolic(nodes, [np.array([[0, 1]])])
    >>> normal = plan.assemble([(np.array([[0, 1]]), np.array([[2.0, 1.0, 2.0]]))])
    >>> plan.factor(normal).solve(np.array([3.0, 3.0])).round(12).tolist()
    [1.0, 1.0]
    """
    nodes = _with_columns(nodes)
    count = len(nodes)
    node = np.append(nodes.node_of_column, -1)
    keys = pairs((node[clique] for clique in cliques), count)
    tree, keys = ordered(nodes, keys)
    sizes = np.bincount(nodes.node_of_column, minlength=count)
    keeps = nodes.kept is not None and bool(nodes.kept.any())
    layout = lay_out(tree, sizes, nodes.node_of_column, keeps)
    pattern = _pattern(layout, nodes, sizes, keys)
    entries = pair, row, column = pattern.entries()
    low, high = pattern.nodes()
    start, order = layout.column_start, layout.column_order
    rows = order[start[high][pair] + row]
    columns = order[start[low][pair] + column]
    own = np.flatnonzero(rows == columns)
    return Plan(
        layout=layout,
        pattern=pattern,
        stacks=stacks(layout, pattern, entries),
        rows=narrow(rows),
        columns=narrow(columns),
        on_diagonal=own[np.argsort(rows[own])],
        piece=_pieces(keys, count)[nodes.node_of_column],
        statistics=statistics(layout, pattern),
    )


def _with_columns(nodes: Nodes) -> Nodes:
    """Leave out nodes without a column."""
    used, number = np.unique(nodes.node_of_column, return_inverse=True)
    return Nodes(
        np.asarray(number),
        nodes.place[used],
        nodes.early[used],
        nodes.last[used],
        None if nodes.kept is None else nodes.kept[used],
    )


def _pattern(layout: Layout, nodes: Nodes, sizes: Ints, keys: Ints) -> Pattern:
    count, columns = len(sizes), len(nodes.node_of_column)
    own = np.arange(count)
    a = layout.node_rank[np.concatenate([keys // max(count, 1), own])]
    b = layout.node_rank[np.concatenate([keys % max(count, 1), own])]
    ordered_keys = np.sort(np.minimum(a, b) * count + np.maximum(a, b))
    size = np.diff(layout.column_start)
    low, high = ordered_keys // max(count, 1), ordered_keys % max(count, 1)
    length = np.where(
        low == high, size[low] * (size[low] + 1) // 2, size[low] * size[high]
    )
    rank = np.empty(columns + 1, np.int64)
    rank[layout.column_order] = np.arange(columns)
    rank[-1] = columns
    node = layout.node_rank[nodes.node_of_column]
    component = rank[:-1] - layout.column_start[node]
    return Pattern(
        keys=ordered_keys,
        start=np.concatenate([[0], np.cumsum(length)]),
        node=np.append(node, -1),
        component=np.append(component, 0),
        size=size,
        column_rank=rank,
    )


def _pieces(keys: Ints, count: int) -> Ints:
    """Return (n,) the connected piece of each node."""
    if not count:
        return np.zeros(0, np.int64)
    graph = adjacency(keys // count, keys % count, count)
    return np.asarray(connected_components(graph, directed=False)[1], dtype=np.int64)
