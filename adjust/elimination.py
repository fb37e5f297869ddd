"""How the normal equations are solved: dense where they are few, else in an order.

The order knows the survey: a session's set-ups and the circle of a round go first,
since nothing else sees them; what very many observations have in common goes last.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Protocol

import numpy as np

from ..networks import Network
from ..networks.covariances import Bools, Floats, Ints
from . import dense
from .constraint import Constraint
from .datum import Datum
from .equations import Equations
from .nodes import Nodes
from .normal import (
    Places,
    Whitened,
    contributions,
    dense_places,
    local_columns,
    normal_matrix,
)
from .on_condition import bound_factor, with_condition

if TYPE_CHECKING:
    from . import sparse

ARITHMETICS = ("", "dense", "sparse")
DENSE = 600
"""Unknowns up to which a dense factor is the quicker one, with its analysis and in two
iterations (200 marks, or 45 with their set-ups; measured)."""
_SHARED = 30
"""Observations that share a set-up or a parameter before it is none of a session's."""
_TOGETHER = 64
"""Set-ups and orientations of one session that are eliminated together."""
_BASE = 200
"""Observations from one place before it is eliminated last, with the parameters."""


class Factor(Protocol):
    """A factored normal matrix."""

    @property
    def reciprocal_condition(self) -> float:
        """Of the normal matrix scaled to unit diagonal."""

    def solve(self, right_side: Floats) -> Floats:
        """Return N⁻¹b, (u,) or (u, k)."""

    def blocks(self, first: Ints, second: Ints) -> Floats:
        """Return covariance blocks between columns (…, p) and (…, q); −1 gives 0."""

    def cliques(self, columns: Ints, place: tuple[int, int]) -> Floats:
        """Return covariances (c, w, w) of what each cluster of a batch has.

        Parameters
        ----------
        columns : ndarray of int, shape (c, w)
        place : tuple of int
            Number of the batch, and of the first of these clusters in it.
        """


@dataclass(frozen=True, slots=True)
class Elimination:
    """What is done once for a network, so that an iteration need not do it again."""

    count: int
    """Unknowns."""
    plan: "sparse.Plan | None"
    """None: dense."""
    known: list[Places] = field(default_factory=list)
    """Of the dense matrix last summed: one, or none yet."""

    def matrix(self, rows: Sequence[Whitened]) -> "Floats | sparse.Normal":
        """Return AᵀPA."""
        if self.plan is None:
            if not self.known or not self.known[0].are_of(rows):
                self.known[:] = [dense_places(rows, self.count)]
            return normal_matrix(rows, self.count, self.known[0])
        return self.plan.assemble(contributions(batch) for batch in rows)

    def factor(
        self,
        rows: Sequence[Whitened],
        matrix: "Floats | sparse.Normal",
        bound: Constraint | None,
    ) -> Factor:
        """Return the factor of a matrix, with an exact condition where there is one.

        Raises
        ------
        dense.Singular
        """
        if self.plan is None or isinstance(matrix, np.ndarray):
            assert isinstance(matrix, np.ndarray)
            return dense.factor(matrix, bound.basis() if bound else None)
        if bound is None:
            return self.plan.factor(matrix)
        whole = self.plan.assemble(with_condition(rows, bound, self.count))
        return bound_factor(self.plan, whole, bound)


def elimination(
    network: Network,
    hold: Datum,
    nodes: Nodes,
    columns: Ints,
    system: Sequence[Equations],
    rows: Sequence[Whitened],
    bound: Constraint | None = None,
    arithmetic: str = "",
    kept: Bools | None = None,
    joined: Sequence[Ints] | None = None,
) -> Elimination:
    """Return how a network's normal equations are to be solved.

    Parameters
    ----------
    network : Network
    hold : Datum
    nodes : Nodes
        Anywhere near; they say how the network lies.
    columns : ndarray of int, shape (N + q, 3)
    system, rows : sequences of Equations and Whitened
        Of the network.
    bound : Constraint, optional
    arithmetic : str
        ``dense`` or ``sparse``; empty: whichever is the quicker.
    kept : ndarray of bool, shape (u,), optional
        Columns on the border of a part of a larger network, which stay; sparse then.
    joined : sequence of ndarray of int, shape (c, w), optional
        Columns whose covariances are wanted though nothing observed joins them, −1 for
        none; without it those that the tests of blunders need.
    """
    if arithmetic not in ARITHMETICS:
        raise ValueError(f"no arithmetic {arithmetic!r}")
    count = int(columns.max(initial=-1)) + 1
    if arithmetic == "dense" or (not arithmetic and count <= DENSE and kept is None):
        return Elimination(count, None)
    from . import sparse

    node_of_column, owners = _owners(columns, count)
    degree = _degrees(columns, system)
    early = _early(network, columns, system, degree)
    parameters = np.arange(len(columns)) >= len(nodes.xyz)
    last = (degree > np.where(parameters, _SHARED, _BASE)) & (early < 0)
    place = _places(nodes, columns, system)
    border = None
    if kept is not None:
        border = np.zeros(len(owners), dtype=bool)
        border[node_of_column[kept]] = True
    order = sparse.Nodes(
        node_of_column, place[owners], early[owners], last[owners], border
    )
    cliques = _cliques((network, hold, columns, system, rows), bound, joined)
    return Elimination(count, sparse.symbolic(order, cliques))


def _cliques(
    at: tuple[Network, Datum, Ints, Sequence[Equations], Sequence[Whitened]],
    bound: Constraint | None,
    joined: Sequence[Ints] | None,
) -> Iterator[Ints]:
    """Yield the columns that are joined; as in ``elimination``."""
    from .cliques import cause_cliques

    yield from (local_columns(batch) for batch in at[-1])
    yield from cause_cliques(*at) if joined is None else joined
    if bound is not None:
        yield np.flatnonzero(bound.coefficients)[None]


def _owners(columns: Ints, count: int) -> tuple[Ints, Ints]:
    """Return (u,) which of the nodes with unknowns has a column, and those nodes.

    What shares a column with a mark, an exact set-up, is no node of its own.
    """
    first = np.full(count + 1, len(columns))
    np.minimum.at(first, columns, np.arange(len(columns))[:, None])
    owners, node_of_column = np.unique(first[:count], return_inverse=True)
    return node_of_column, owners


def _degrees(columns: Ints, system: Sequence[Equations]) -> Ints:
    """Return how many observations touch each node."""
    degree = np.zeros(len(columns) + 1, dtype=np.int64)
    for some in system:
        if some.kind != "set-up":
            at = some.node[some.used]
            degree += np.bincount(at[at >= 0], minlength=len(degree))
    return degree[:-1]


def _early(
    network: Network, columns: Ints, system: Sequence[Equations], degree: Ints
) -> Ints:
    """Return the session of each node that is eliminated with its session, else −1.

    Set-ups and orientations that observations join, directly or over others. Where
    that is a long chain, as on a traverse of forced centring, only the orientations
    go first, each by itself.
    """
    marks, places = len(network.marks), len(network.marks) + len(network.set_ups)
    circles = np.zeros(len(columns), dtype=bool)
    circles[places:] = [kind == "orientation" for kind in network.parameters.kind]
    circles &= (columns[:, 0] >= 0) & (degree <= _BASE)
    of_mark = columns[network.mark_of(np.arange(places))]
    own = (columns[:places] >= 0) & (columns[:places] != of_mark)
    stood = np.zeros(len(columns), dtype=bool)
    stood[marks:places] = own[marks:].any(axis=1) & (degree[marks:places] <= _SHARED)
    session = _joined(system, stood | circles)
    sizes = np.bincount(session[session >= 0], minlength=len(columns))
    large = (session >= 0) & (sizes[session] > _TOGETHER)
    alone = len(columns) + np.arange(len(columns))
    return np.where(large, np.where(circles, alone, -1), session)


def _joined(system: Sequence[Equations], some: Bools) -> Ints:
    """Return the piece in which observations join each of some nodes; −1 for others."""
    from scipy.sparse import coo_array
    from scipy.sparse.csgraph import connected_components

    padded = np.append(some, False)
    pairs = []
    for kind in system:
        if kind.kind == "set-up":
            continue
        for batch in kind.covariances:
            at = kind.node[batch.members].reshape(len(batch.members), -1)
            at = np.where(padded[at], at, -1)
            one = np.broadcast_to(at.max(axis=1, keepdims=True), at.shape)
            there = (at >= 0) & (at != one)
            pairs.append(np.stack([at[there], one[there]]))
    a, b = np.concatenate([np.zeros((2, 0), np.int64), *pairs], axis=1)
    shape = (len(some), len(some))
    graph = coo_array((np.ones(len(a)), (a, b)), shape=shape)
    _, piece = connected_components(graph, directed=False)
    return np.where(some, piece.astype(np.int64), -1)


def _places(nodes: Nodes, columns: Ints, system: Sequence[Equations]) -> Floats:
    """Return (N + q, 3) where nodes are; a parameter is where its first reading is."""
    places = len(nodes.xyz)
    made = np.full((len(columns), 3), np.nan)
    made[:places] = nodes.xyz
    for some in system:
        at = some.node[some.used]
        if not at.shape[1] or not (at >= places).any():
            continue
        row, slot = np.nonzero(at >= places)
        made[at[row, slot]] = nodes.xyz[np.clip(at[row, 0], 0, places - 1)]
    return made
