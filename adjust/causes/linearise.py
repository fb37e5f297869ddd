"""The equations formed where the marks are when one cause is in the model.

A set-up on the wrong mark, a hundred metres off, bends lines of sight: residuals of
the whole adjustment then blame others too. At the places that the cause leads to, the
equations are right, and every cause can be compared there.
"""

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np

from ...networks.covariances import Floats
from ..adjustment import Adjustment
from ..constraint import azimuth_constraint
from ..elimination import elimination
from ..equations import Equations, equations
from ..nodes import nodes_at
from ..normal import right_side, whiten
from .cause import Cause
from .evaluate import Hypotheses, hypotheses
from .rows import Rows, rows_of

_ROUNDS = 8
_SETTLED = 1e-4
"""m or parts of a unit: the amounts of a cause are found when they move less."""
_SLOTS = {"instrument": (0,), "target": (1, 2)}
"""Where a sight has its ends; the third is an angle's back target."""
Displaced = Mapping[tuple[str, int], Floats]
"""Role and number of nodes that stood elsewhere; east, north, up by how much, m."""


def linearised(adjustment: Adjustment, made: Hypotheses, cause: int) -> Adjustment:
    """Return the adjustment linearised where a cause puts the marks and what stood.

    Parameters
    ----------
    adjustment : Adjustment
    made : Hypotheses
        Of it, with the cause.
    cause : int

    Returns
    -------
    Adjustment
        The least-squares solution of the same observations in that linear model; its
        residuals are those of a linear network, not of the bent lines of sight.
    """
    what, before = made.causes[cause], None
    for _ in range(_ROUNDS):
        one = hypotheses(adjustment, [what], rows_of(adjustment))
        joint = one.joint(one.rows.misclosure)
        amounts = np.nan_to_num(one.amounts(joint, 0)[0])
        _, moved = one.corrected(joint, [0], one.rows.misclosure)
        elsewhere = displaced(one.rows, what, amounts)
        adjustment = formed_at(adjustment, moved, elsewhere)
        if before is not None and np.abs(amounts - before).max() < _SETTLED:
            break
        before = amounts
    return adjustment


def displaced(rows: Rows, cause: Cause, amounts: Floats) -> Displaced:
    """Return which nodes stood elsewhere in which role, if a cause is true.

    Parameters
    ----------
    rows : Rows
    cause : Cause
    amounts : ndarray, shape (p,)
        Of the cause.
    """
    found: dict[tuple[str, int], Floats] = {}
    by = cause.weight * amounts[cause.column]
    for role in _SLOTS:
        at = cause.base - rows.first_of_role[role]
        mine = (at >= 0) & (at < rows.nodes_width)
        for k in np.flatnonzero(mine).tolist():
            node, way = divmod(int(at[k]), 3)
            found.setdefault((role, node), np.zeros(3))[way] += by[k]
    return found


def _elsewhere(
    system: Sequence[Equations], there: Sequence[Equations], by: Displaced
) -> list[Equations]:
    """Return the equations with the sights of displaced nodes taken from there.

    l − f(x + d) + A d, with the partials A there: the cause, whose amounts are d in
    all, is then linear about where the node really stood.
    """
    made = []
    for here, moved in zip(system, there, strict=True):
        if here.kind not in _BENT:
            made.append(here)
            continue
        along, touched = np.zeros_like(here.misclosure), np.zeros(len(here.node), bool)
        for (role, node), way in by.items():
            for slot in _slots(here, role):
                mine = here.node[:, slot] == node
                along += mine[:, None] * (moved.design[:, :, slot] @ way)
                touched |= mine
        misclosure = np.where(
            touched[:, None], moved.misclosure + along, here.misclosure
        )
        design = np.where(touched[:, None, None, None], moved.design, here.design)
        made.append(replace(here, misclosure=misclosure, design=design))
    return made


def _slots(some: Equations, role: str) -> list[int]:
    """Return the slots of a kind of sight that hold nodes in a role."""
    last = 2 if some.kind == "angle" else 1
    return [slot for slot in _SLOTS[role] if slot <= last]


_BENT = (
    "slope distance",
    "horizontal distance",
    "direction",
    "angle",
    "azimuth",
    "zenith angle",
)


def formed_at(
    adjustment: Adjustment, moved: Floats, by: Displaced | None = None
) -> Adjustment:
    """Return the linear solution of equations formed where the unknowns are moved to.

    Parameters
    ----------
    adjustment : Adjustment
    moved : ndarray, shape (u,)
    by : mapping, optional
        Nodes that stood elsewhere.
    """
    network, hold, columns = (
        adjustment.network,
        adjustment.datum,
        adjustment.columns,
    )
    padded = np.concatenate([moved, [0.0]])
    xyz, values = adjustment.nodes.moved(padded[columns])
    marks = len(network.marks)
    nodes = nodes_at(network, xyz[:marks], xyz[marks:], values)
    system = equations(network, hold, nodes)
    if by:
        stood = nodes.xyz.copy()
        for (_, node), way in by.items():
            stood[node] = nodes.xyz[node] + way @ nodes.axes[node]
        there = equations(network, hold, replace(nodes, xyz=stood))
        system = type(system)(_elsewhere(system, there, by))
    rows = [batch for some in system for batch in whiten(some, columns)]
    count = len(moved)
    bound = azimuth_constraint(network, hold, nodes, columns)
    solver = elimination(network, hold, nodes, columns, system, rows, bound)
    matrix = solver.matrix(rows)
    factor = solver.factor(rows, matrix, bound)
    start = bound.particular() if bound else np.zeros(count)
    shift = start + factor.solve(right_side(rows, count) - matrix @ start)
    solved = np.concatenate([shift, [0.0]])
    left = tuple(
        replace(
            batch,
            misclosure=batch.misclosure
            - np.einsum("cqw,cw->cq", batch.design, solved[batch.columns]),
        )
        for batch in rows
    )
    xyz, values = nodes.moved(solved[columns])
    return replace(
        adjustment,
        nodes=replace(nodes, xyz=xyz, values=values),
        equations=system,
        whitened=left,
        factor=factor,
    )
