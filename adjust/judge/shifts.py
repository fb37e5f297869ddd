"""Hypotheses of a shift: what the residuals say about a cause, before any verdict.

A cause is a shift of some rows by C∇. With whitened rows, CᵀPv is the pull of the
residuals on it and M = CᵀPQvPC how well the rest of the network checks it; the test
is T = (CᵀPv)ᵀM⁻¹(CᵀPv), the estimated shift −M⁻¹CᵀPv (Baarda 1968; Teunissen,
Testing Theory; from memory). Shifts are booked minus what the rest says.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from ...networks.covariances import Bools, Floats, Ints
from ..adjustment import Adjustment
from ..equations import Equations
from ..equations.vectors import as_seen
from ..normal import Whitened, chosen, present_columns, solved
from .touching import seen_of_groups

SEEN = 1e-12
"""Share of the information on a shift below which no observation sees it: its effect
is a millionth of another direction's, that of rounding and of the earth's curvature.
"""
_VALUES = 1 << 22
"""Covariances that are read together; bounds the memory."""


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


def of_edges(adjustment: Adjustment, some: Equations) -> tuple[Shifts, Floats]:
    """Return the shift of each edge of one kind by itself, and its redundancy.

    Returns
    -------
    shifts : Shifts
        One for each edge of the kind; NaN where it is not in use.
    redundancy : ndarray, shape (m,)
        Trace of the edge's block of QvP; NaN where it is not in use or exact.
    """
    count, rows = some.active.shape
    turn = turn_of(adjustment, some)
    matrix = np.full((count, rows, rows), np.nan)
    own, pull = matrix.copy(), np.full((count, rows), np.nan)
    redundancy = np.full(count, np.nan)
    made = _Edges(matrix, own, pull, redundancy)
    for number, batch in enumerate(adjustment.whitened):
        if batch.kind == some.kind:
            present = present_columns(batch)
            for start, part in parts(batch):
                free = _left_over(adjustment, part, present, (number, start))
                _add_edges(made, free, some, turn, part)
    redundancy[~some.active.any(axis=1)] = np.nan
    information = _with_noise(own, _set_up_noise(adjustment, some, turn))
    return _three(Shifts(matrix, pull, information, some.active)), redundancy


class _Edges(NamedTuple):
    """What is filled in for the edges of a kind, batch by batch."""

    matrix: Floats
    own: Floats
    pull: Floats
    redundancy: Floats


def _add_edges(
    made: _Edges, free: Floats, some: Equations, turn: Floats, batch: Whitened
) -> None:
    clusters, size = batch.members.shape
    rows = turn.shape[1]
    inverse = solved(batch.lower, np.eye(size * rows)[None])
    back = batch.lower @ free @ inverse
    active = some.active[batch.members].reshape(clusters, -1)
    diagonal = np.einsum("cqq->cq", back) * active
    made.redundancy[batch.members] = diagonal.reshape(clusters, size, rows).sum(axis=2)
    for k in range(size):
        edges = batch.members[:, k]
        column = inverse[:, :, k * rows : (k + 1) * rows] @ turn[edges]
        across = np.swapaxes(column, 1, 2)
        made.matrix[edges] = across @ free @ column
        made.own[edges] = across @ column
        made.pull[edges] = np.einsum("crq,cq->cr", across, batch.misclosure)


def parts(batch: Whitened) -> Iterator[tuple[int, Whitened]]:
    """Yield a batch in parts whose covariances are read together, and their starts."""
    clusters, width = batch.columns.shape
    step = max(1, _VALUES // max(width, 1) ** 2)
    if step >= clusters:
        yield 0, batch
        return
    for start in range(0, clusters, step):
        some = slice(start, start + step)
        yield (
            start,
            Whitened(
                batch.kind,
                batch.members[some],
                batch.lower[some],
                batch.design[some],
                batch.misclosure[some],
                batch.columns[some],
            ),
        )


def _three(found: Shifts) -> Shifts:
    """Return the same causes with three components; a reading has only the first."""
    count, rows = found.pull.shape
    if rows == 3:
        return found
    used = np.asarray(np.isfinite(found.pull).all(axis=1))
    unit = np.where(used[:, None, None], np.eye(3), np.nan)
    matrix, information = unit.copy(), unit.copy()
    matrix[:, :rows, :rows] = found.matrix
    information[:, :rows, :rows] = found.information
    pull = np.where(used[:, None], np.zeros((count, 3)), np.nan)
    pull[:, :rows] = found.pull
    components = np.zeros((count, 3), dtype=bool)
    components[:, :rows] = found.components
    return Shifts(matrix, pull, information, components)


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
    noise = np.full((count, 3, 3), np.inf)
    np.minimum.at(noise, group, _noise(adjustment, nodes))
    return Shifts(matrix, seen.pull, _with_noise(own, noise), exists)


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


def _left_over(
    adjustment: Adjustment, batch: Whitened, present: Bools, place: tuple[int, int]
) -> Floats:
    """Return I − A Q Aᵀ in whitened rows, (c, q, q)."""
    columns, design = chosen(batch.columns, present), chosen(batch.design, present)
    local = adjustment.factor.cliques(columns, place)
    hat = design @ local @ np.swapaxes(design, 1, 2)
    left: Floats = np.eye(hat.shape[1]) - hat
    return left


def turn_of(adjustment: Adjustment, some: Equations) -> Floats:
    """Return (m, r, r): east, north, up in the axes of each edge's rows."""
    if some.kind == "baseline":
        level = np.swapaxes(adjustment.nodes.axes[some.node[:, 0]], 1, 2)
        return np.asarray(as_seen(adjustment.network, adjustment.nodes) @ level)
    rows = some.active.shape[1]
    return np.broadcast_to(np.eye(rows), (len(some.node), rows, rows))


def _set_up_noise(adjustment: Adjustment, some: Equations, turn: Floats) -> Floats:
    """Return (m, r, r) the variance that set-ups at its ends bring into an edge."""
    rows = some.active.shape[1]
    total = np.zeros((len(some.node), rows, rows))
    if some.kind == "set-up":
        return total
    for k in range(some.node.shape[1]):
        design = some.design[:, :, k]
        noise = _noise(adjustment, some.node[:, k])
        total += design @ noise @ np.swapaxes(design, 1, 2)
    return np.asarray(np.swapaxes(turn, 1, 2) @ total @ turn)


def _noise(adjustment: Adjustment, nodes: Ints) -> Floats:
    set_ups = adjustment.network.set_ups
    count = len(adjustment.network.marks)
    # One row more, of zeros, for node −1; parameters stand over no mark.
    variance = np.zeros((len(adjustment.columns) + 1, 3))
    places = slice(count, count + len(set_ups))
    variance[places, :2] = set_ups.sd_centring[:, None] ** 2
    variance[places, 2] = set_ups.sd_height**2
    noise: Floats = variance[nodes][:, :, None] * np.eye(3)
    return noise


def noise_of_each(adjustment: Adjustment, nodes: Ints) -> Floats:
    """Return (k, 3, 3) the variance with which each node stands for its mark."""
    return _noise(adjustment, nodes)


def _with_noise(own: Floats, noise: Floats) -> Floats:
    """Return (own⁻¹ + noise)⁻¹, also where ``own`` is singular; NaN stays NaN."""
    finite = np.isfinite(own).all(axis=(1, 2))
    made = own.copy()
    finite &= (noise != 0).any(axis=(1, 2))
    spread = np.eye(own.shape[1]) + noise[finite] @ own[finite]
    turned = np.linalg.solve(np.swapaxes(spread, 1, 2), own[finite])
    made[finite] = (turned + np.swapaxes(turned, 1, 2)) / 2
    return made


def some_of(found: Shifts, used: Ints) -> Shifts:
    """Return some of the causes, by their numbers."""
    return Shifts(
        found.matrix[used],
        found.pull[used],
        found.information[used],
        found.components[used],
    )
