"""The plan of an elimination: made once for a network, used at every iteration."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

import numpy as np
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from ...networks.covariances import Floats, Ints
from ..remade import Remade
from .factor import SparseFactor, factor
from .graph import Nodes, pairs
from .layout import Layout, lay_out
from .matrix import Normal
from .narrow import Places, narrow
from .order import ordered
from .pattern import Pattern, patterned, triangle
from .stacks import Stack, stacks
from .statistics import Statistics, statistics


@dataclass(frozen=True, slots=True)
class Plan:
    """What depends on who is joined to whom, and on no number."""

    layout: Layout
    pattern: Pattern
    stacks: Sequence[Stack]
    piece: Places
    """(u,) the connected piece of each column."""
    statistics: Statistics
    known: dict[int, tuple[Places, Places, Ints]] = field(default_factory=dict)
    """Columns of each part last assembled, and where its products go."""

    def forget_tables(self) -> None:
        """Let the tables of the stacks go; they are made again if asked for."""
        if isinstance(self.stacks, Remade):
            self.stacks.forget()

    @property
    def kept_columns(self) -> Ints:
        """Return (b,) the columns of kept nodes, in the order of the border."""
        start = self.layout.own_start[-2] if self.layout.keeps else len(self.piece)
        return self.layout.column_order[start:]

    def assemble(self, parts: Iterable[tuple[Ints, Floats]]) -> Normal:
        """Return the sum of what clusters add to the matrix.

        Parameters
        ----------
        parts : iterable of (columns, products)
            (c, w) columns, −1 for none, and (c, w (w + 1) / 2) products in the order
            of ``numpy.tril_indices(w)``. Two local unknowns may be one column.

        Raises
        ------
        ValueError
            Columns are joined that the plan does not know as joined.
        """
        total = np.zeros(len(self.pattern) + 2)
        for number, (columns, products) in enumerate(parts):
            positions, twice = self.positions(number, columns)
            across = products.T.ravel()
            del products
            # The last two numbers of the total take what goes nowhere.
            np.add.at(total, positions, across)
            np.add.at(total, positions[twice], across[twice])
        return Normal(total[:-2], self.pattern)

    def positions(self, number: int, columns: Ints) -> tuple[Places, Ints]:
        """Return where the products of a part go, and which count twice; kept."""
        kept = self.known.get(number)
        if kept is None or not np.array_equal(kept[0], columns):
            positions, twice = triangle(self.pattern, columns)
            kept = narrow(columns), positions.ravel(), twice
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


def symbolic(nodes: Nodes, cliques: Iterable[Ints]) -> Plan:
    """Return the plan of an elimination.

    Parameters
    ----------
    nodes : Nodes
    cliques : iterable of ndarray of int, shape (c, w)
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
    del tree
    piece = _pieces(keys, count)[nodes.node_of_column]
    pattern = _pattern(layout, nodes, keys)
    del keys
    return Plan(
        layout=layout,
        pattern=pattern,
        stacks=Remade(lambda: stacks(layout, pattern), stacks(layout, pattern)),
        piece=piece,
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


def _pattern(layout: Layout, nodes: Nodes, keys: Ints) -> Pattern:
    """Return the pattern of joined pairs of nodes as they are numbered."""
    count = len(nodes)
    own = np.arange(count)
    a = layout.node_rank[np.concatenate([keys // max(count, 1), own])]
    b = layout.node_rank[np.concatenate([keys % max(count, 1), own])]
    return patterned(
        np.sort(np.minimum(a, b) * count + np.maximum(a, b)),
        np.diff(layout.column_start),
        layout.node_rank[nodes.node_of_column],
        layout.column_order,
    )


def _pieces(keys: Ints, count: int) -> Places:
    """Return (n,) the connected piece of each node."""
    if not count:
        return np.zeros(0, np.int32)
    joined = narrow(keys // count), narrow(keys % count)
    graph = coo_array((np.ones(len(keys), np.int8), joined), shape=(count, count))
    piece: Places = connected_components(graph, directed=False)[1]
    return piece
