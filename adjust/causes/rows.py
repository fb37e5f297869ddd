"""All whitened rows of an adjustment side by side, and what a shift does to them.

A cause is a matrix C of few columns over these rows. Every C of every kind is a sum of
*base columns*: a shift of one observation as it was booked, or of one node against all
that was observed from it.
"""

from dataclasses import dataclass

import numpy as np
from scipy import sparse

from ...networks.covariances import Floats, Ints
from ..adjustment import Adjustment
from ..equations import Equations
from ..normal import Whitened
from ..sparse.narrow import Places, narrow

ROLES = ("antenna", "instrument", "target")
"""What a node is to an observation: an end of a vector, position or level; where a
sight starts; where it ends."""

_NOT_FROM_NODES = ("set-up", "known mark", "parameter")


@dataclass(frozen=True, slots=True)
class Rows:
    """n whitened rows, u unknowns, and the base columns of shifts."""

    misclosure: Floats
    """(n,) minus the whitened residuals."""
    design: "sparse.csc_array"
    """(n, u)."""
    base: "sparse.csc_array"
    """(n, b) whitened base columns."""
    first_of_kind: dict[str, int]
    """Where the base columns of a kind of edge start."""
    first_of_role: dict[str, int]
    """Where the base columns of nodes in a role start, three a node."""
    width: dict[str, int]
    """Base columns of one edge of a kind: 3 (east, north, up) or 1."""

    def edge(self, kind: str, edge: int) -> Ints:
        """Return the base columns of an edge: east, north, up, or its one value."""
        width = self.width[kind]
        return self.first_of_kind[kind] + edge * width + np.arange(width)

    @property
    def nodes_width(self) -> int:
        """How many base columns the nodes of one role have."""
        all_roles = int(self.base.shape[1]) - min(self.first_of_role.values())
        return all_roles // len(ROLES)

    def node(self, node: int, role: str) -> Ints:
        """Return the base columns east, north, up of a node in one role."""
        return self.first_of_role[role] + 3 * node + np.arange(3)


def rows_of(adjustment: Adjustment) -> Rows:
    """Return the rows of an adjustment.

    Parameters
    ----------
    adjustment : Adjustment

    Returns
    -------
    Rows
    """
    count = sum(batch.misclosure.size for batch in adjustment.whitened)
    nodes = len(adjustment.columns)
    unknowns = int(adjustment.columns.max(initial=-1)) + 1
    kinds = {some.kind: some for some in adjustment.equations}
    design = _Entries()
    roles = {role: _Entries() for role in ROLES}
    edges = {kind: _Entries() for kind in kinds}
    start = 0
    for batch in adjustment.whitened:
        clusters, size = batch.misclosure.shape
        at = start + np.arange(clusters * size).reshape(clusters, size)
        design.add(at[:, :, None], batch.columns[:, None, :], batch.design)
        some = kinds[batch.kind]
        edges[batch.kind].add(at[:, :, None], *_shifted(adjustment, batch, some))
        if batch.kind not in _NOT_FROM_NODES:
            _add_nodes(roles, batch, some, at)
        start += clusters * size
    made = design.matrix(count, unknowns)
    width = {kind: some.active.shape[1] for kind, some in kinds.items()}
    widths = {k: some.active.size for k, some in kinds.items()}
    parts = [edges[kind].matrix(count, widths[kind]) for kind in kinds]
    parts += [roles[role].matrix(count, 3 * nodes) for role in ROLES]
    places = np.cumsum([0, *(part.shape[1] for part in parts)]).tolist()
    return Rows(
        np.concatenate([b.misclosure.ravel() for b in adjustment.whitened]),
        made,
        sparse.csc_array(sparse.hstack(parts, format="csc")),
        dict(zip(kinds, places, strict=False)),
        dict(zip(ROLES, places[len(kinds) :], strict=False)),
        width,
    )


class _Entries:
    """Entries of a sparse matrix as they are gathered; column −1 is left out."""

    def __init__(self) -> None:
        self.parts: list[tuple[Places, Places, Floats]] = []

    def add(self, row: Ints, column: Ints, value: Floats) -> None:
        row, column = (np.broadcast_to(some, value.shape) for some in (row, column))
        keep = (column >= 0) & (value != 0)
        at = narrow(row[keep]), narrow(column[keep])
        self.parts.append((*at, value[keep]))

    def matrix(self, rows: int, columns: int) -> "sparse.csc_array":
        none = (np.zeros(0, np.int32), np.zeros(0, np.int32), np.zeros(0))
        row, column, value = (
            np.concatenate(some) for some in zip(none, *self.parts, strict=True)
        )
        # Of a large network there is no room for the same entries three times.
        self.parts.clear()
        return sparse.csc_array(
            sparse.coo_array((value, (row, column)), shape=(rows, columns))
        )


def _shifted(
    adjustment: Adjustment, batch: Whitened, some: Equations
) -> tuple[Ints, Floats]:
    """Return base columns and whitened shifts of the edges of a batch, (c, q, s·r)."""
    clusters, size = batch.members.shape
    rows = some.active.shape[1]
    inverse = np.linalg.inv(batch.lower).reshape(clusters, size * rows, size, rows)
    turn = np.broadcast_to(np.eye(rows), (clusters, size, rows, rows))
    if some.kind == "baseline":
        axes = adjustment.nodes.axes[some.node[batch.members, 0]]
        turn = np.swapaxes(axes, 2, 3)
    turn = turn * some.active[batch.members][..., None]
    value = np.einsum("cqsr,csrk->cqsk", inverse, turn)
    column = batch.members[:, :, None] * rows + np.arange(rows)
    return column.reshape(clusters, 1, -1), value.reshape(clusters, size * rows, -1)


def _add_nodes(
    roles: dict[str, _Entries], batch: Whitened, some: Equations, at: Ints
) -> None:
    """Add the whitened partials by the nodes of a batch, each to the node's role."""
    clusters = len(batch.members)
    slots = some.node.shape[1]
    nodes = some.node[batch.members].reshape(clusters, -1)
    design = batch.design.reshape(clusters, at.shape[1], -1, 3)
    for slot in range(slots):
        mine = slice(slot, None, slots)
        role = _role(some.kind, slot)
        if not role:
            continue
        own = nodes[:, mine]
        column = np.where(own[:, :, None] >= 0, 3 * own[:, :, None] + np.arange(3), -1)
        value = design[:, :, mine]
        roles[role].add(at[:, :, None, None], column[:, None], value)


def _role(kind: str, slot: int) -> str:
    """Return the role of a node slot; empty for that of a parameter."""
    if kind == "position":
        return "antenna" if slot == 0 else ""
    if kind in ("baseline", "level difference"):
        return "antenna" if slot < 2 else ""
    return ("instrument", "target", "target", "", "")[slot]
