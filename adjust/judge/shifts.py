"""Hypotheses of a shift: what the residuals say about a cause, before any verdict.

A cause is a shift of some rows by C∇. With whitened rows, CᵀPv is the pull of the
residuals on it and M = CᵀPQvPC how well the rest of the network checks it; the test
is T = (CᵀPv)ᵀM⁻¹(CᵀPv), the estimated shift −M⁻¹CᵀPv (Baarda 1968; Teunissen,
Testing Theory; from memory). Shifts are booked minus what the rest says.
"""

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from ...networks.covariances import Bools, Floats, Ints
from ..adjustment import Adjustment
from ..equations import Equations
from ..nodes import last_first
from ..normal import Whitened
from .fold import folded, noise_at
from .touching import seen_of_groups
from .turned import turn_of

SEEN = 1e-12
"""Share of the information on a shift below which no observation sees it: its effect
is a millionth of another direction's, that of rounding and of the earth's curvature.
"""


@dataclass(frozen=True, slots=True)
class Shifts:
    """n causes of up to three components each.

    East, north, up; or the value of a reading in the first, m or rad.
    """

    matrix: Floats
    """(n, 3, 3) M, 1/m²; unit where a component does not exist."""
    pull: Floats
    """(n, 3) −CᵀPv, 1/m."""
    information: Floats
    """(n, 3, 3) M if all marks were known, set-up noise folded in, 1/m²: what M is
    measured against to call a cause unchecked. Where it is singular, no observation
    sees the shift at all: a direction sees a target that stands beside the line, not
    one that stands too far."""
    components: Bools
    """(n, 3) which components exist."""


def of_nodes(adjustment: Adjustment, nodes: Ints, group: Ints, count: int) -> Shifts:
    """Return the shift of each group of nodes together against all observations.

    A set-up (its height, its place) or a mark with all that stands over it (its
    known coordinates). The shift acts on the vectors and positions that use the
    nodes, whether or not a set-up is an unknown of its own.

    Parameters
    ----------
    adjustment : Adjustment
    nodes, group : ndarray of int, shape (k,)
        Nodes, none twice, and the group of each.
    count : int
        How many groups there are.
    """
    of_node = np.full(len(adjustment.columns) + 1, -1)
    of_node[nodes] = group
    seen = seen_of_groups(adjustment, of_node, count)
    own = seen.own
    diagonal = np.einsum("nii->ni", own)
    exists = diagonal > SEEN * diagonal.max(axis=1, keepdims=True)
    matrix = own - seen.lost
    row, axis = np.nonzero(~exists)
    matrix[row, axis, axis] = own[row, axis, axis] = 1.0
    least = np.full((3, count), np.inf)
    for one, variance in zip(least, noise_at(adjustment, nodes), strict=True):
        np.minimum.at(one, group, variance)
    ways = np.broadcast_to(np.eye(3)[:, :, None], (3, 3, count))
    noise = [(ways[k], least[k]) for k in range(3) if least[k].any()]
    information = last_first(folded(np.moveaxis(own, 0, -1), noise))
    return Shifts(matrix, seen.pull, information, exists)


def effect_of_edge(
    adjustment: Adjustment, some: Equations, edge: int, shift: Floats
) -> Floats:
    """Return (m, 3): how far a shift of one edge's rows moves each mark, m.

    Parameters
    ----------
    shift : ndarray, shape (3,)
        East, north, up, m.
    """
    _, column, value = edge_couplings(adjustment, some, np.array([edge]))
    pull = np.zeros(int(adjustment.columns.max()) + 1)
    np.add.at(pull, column, value @ shift[: value.shape[1]])
    moved = np.append(adjustment.factor.solve(pull), 0.0)
    return np.asarray(moved[adjustment.columns[: len(adjustment.network.marks)]])


def edge_couplings(
    adjustment: Adjustment, some: Equations, edges: Ints
) -> tuple[Ints, Ints, Floats]:
    """Return what shifts of some edges share with the unknowns, AᵀPC.

    Parameters
    ----------
    adjustment : Adjustment
    some : Equations
        Of one kind, with r rows an edge.
    edges : ndarray of int, shape (k,)
        In use, none twice.

    Returns
    -------
    number : ndarray of int, shape (e,)
        Place in ``edges``.
    column : ndarray of int, shape (e,)
    value : ndarray, shape (e, r)
    """
    rows = some.active.shape[1]
    place = np.full(len(some.node), -1)
    place[edges] = np.arange(len(edges))
    turn = turn_of(adjustment, some)
    found = [(np.zeros((2, 0), np.int64), np.zeros((0, rows)))]
    for batch in adjustment.whitened:
        if batch.kind != some.kind:
            continue
        c, k = np.nonzero(place[batch.members] >= 0)
        if not len(c):
            continue
        inverse = np.linalg.inv(batch.lower[c])
        inverse = inverse.reshape(len(c), inverse.shape[1], -1, rows)
        mine = batch.members[c, k]
        column = inverse[np.arange(len(c)), :, k] @ turn[mine]
        value = np.einsum("eqw,eqr->ewr", batch.design[c], column)
        at = batch.columns[c]
        number = np.broadcast_to(place[mine][:, None], at.shape)
        keep = at >= 0
        found.append((np.stack([number[keep], at[keep]]), value[keep]))
    index = np.concatenate([part for part, _ in found], axis=1)
    return index[0], index[1], np.concatenate([part for _, part in found])


Edge = tuple[Whitened, int, Floats]
"""A batch, a cluster of it, and the whitened column (q, 3) of a node in it."""


def edges_at_nodes(
    adjustment: Adjustment, some_nodes: Ints | None = None
) -> dict[int, list[Edge]]:
    """Return, for each node, where observations (other than set-ups) touch it.

    Parameters
    ----------
    adjustment : Adjustment
    some_nodes : ndarray of int, optional
        All when not given.
    """
    wanted = np.zeros(len(adjustment.columns) + 1, dtype=bool)
    wanted[:-1] = some_nodes is None
    if some_nodes is not None:
        wanted[some_nodes] = True
    found: dict[int, list[Edge]] = {}
    kinds = {some.kind: some for some in adjustment.equations}
    for batch in adjustment.whitened:
        if batch.kind == "set-up":
            continue
        some = kinds[batch.kind]
        clusters = len(batch.members)
        nodes = some.node[batch.members].reshape(clusters, -1)
        # Whitened partials, free of which components are unknown: (c, q, k·s, 3).
        design = batch.design.reshape(clusters, batch.design.shape[1], -1, 3)
        at, slots = np.nonzero(wanted[nodes])
        each = zip(nodes[at, slots].tolist(), at.tolist(), slots.tolist(), strict=True)
        for node, c, slot in each:
            found.setdefault(node, []).append((batch, c, design[c, :, slot]))
    return found


def by_cluster(edges: Iterable[Edge]) -> list[Edge]:
    """Return one column a cluster: the sum over the nodes that move together."""
    found: dict[tuple[int, int], Edge] = {}
    for batch, c, column in edges:
        key = (id(batch), c)
        before = found[key][2] if key in found else 0.0
        found[key] = (batch, c, before + column)
    return list(found.values())


def noise_of_each(adjustment: Adjustment, nodes: Ints) -> Floats:
    """Return (k, 3, 3) the variance with which each node stands for its mark."""
    variance = noise_at(adjustment, nodes)
    return np.asarray(variance.T[:, :, None] * np.eye(3))


def some_of(found: Shifts, used: Ints | slice) -> Shifts:
    """Return some of the causes, by their numbers."""
    return Shifts(
        found.matrix[used],
        found.pull[used],
        found.information[used],
        found.components[used],
    )
