"""The equations formed where the marks are when one cause is in the model.

A set-up on the wrong mark, a hundred metres off, bends lines of sight: residuals of
the whole adjustment then blame others too. At the places that the cause leads to, the
equations are right, and every cause can be compared there.
"""

from dataclasses import replace

import numpy as np

from ...networks.covariances import Floats
from .. import dense
from ..adjustment import Adjustment
from ..constraint import azimuth_constraint
from ..equations import equations
from ..nodes import nodes_at
from ..normal import normal_matrix, right_side, whiten
from .evaluate import Hypotheses


def linearised(adjustment: Adjustment, made: Hypotheses, cause: int) -> Adjustment:
    """Return the adjustment linearised where a cause puts the marks.

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
    joint = made.joint(made.rows.misclosure)
    _, moved = made.corrected(joint, [cause], made.rows.misclosure)
    return formed_at(adjustment, moved)


def formed_at(adjustment: Adjustment, moved: Floats) -> Adjustment:
    """Return the linear solution of equations formed where the unknowns are moved to.

    Parameters
    ----------
    adjustment : Adjustment
    moved : ndarray, shape (u,)
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
    rows = [batch for some in system for batch in whiten(some, columns)]
    count = len(moved)
    matrix = normal_matrix(rows, count)
    bound = azimuth_constraint(network, hold, nodes, columns)
    factor = dense.factor(matrix, bound.basis() if bound else None)
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
