"""Weighted known marks: coordinates that are observations with a covariance."""

from dataclasses import replace

import numpy as np

from ...networks import Network
from ...networks.covariances import Batch, Bools, Covariances, Floats, Ints, keep
from ..datum import Datum
from ..nodes import Nodes
from .equations import Equations, masked
from .undulations import by_parameter, by_place, common_part


def equations(network: Network, datum: Datum, nodes: Nodes) -> Equations:
    """Return the equations of the weighted components, rows east, north, up.

    Parts of a row that are held leave the unknowns; the covariance of the weighted
    parts is then the conditional one.
    """
    known = network.known
    active: Bools = datum.weighted & known.components
    misclosure = known_minus(network, nodes)
    design, node = _design(network, nodes)
    conditioned = conditional(known.covariances, datum.held_rows, active)
    covariances = keep(conditioned, np.asarray(active.any(axis=1)), 3)
    return Equations(
        "known mark",
        np.where(active, misclosure, 0.0),
        design * active[:, :, None, None],
        node,
        active,
        masked(covariances, active),
    )


def _design(network: Network, nodes: Nodes) -> tuple[Floats, Ints]:
    """Return partials and nodes: the mark, and the parameters of the undulations."""
    known = network.known
    count = len(known)
    partials, numbers = by_parameter(network, nodes, known.mark)
    above = known.orthometric
    if above is None or not len(numbers):
        own = np.broadcast_to(np.eye(3), (count, 3, 3))
        return own[:, :, None, :], known.mark[:, None]
    design = np.zeros((count, 3, 1 + len(numbers), 3))
    design[:, :, 0] = np.eye(3)
    design[:, 2, 0] -= by_place(network, nodes, known.mark) * above[:, None]
    design[:, 2, 1:, 0] = -partials * above[:, None]
    node = np.where(above[:, None], numbers, -1)
    return design, np.concatenate([known.mark[:, None], node], axis=1)


def known_minus(network: Network, nodes: Nodes) -> Floats:
    """Return (n, 3) known minus present position, east, north, up, m.

    The height is compared as a height, so that a mark known in height only is not
    asked where its plan was thought to be.
    """
    known = network.known
    here = nodes.xyz[known.mark]
    difference = np.einsum("nij,nj->ni", nodes.axes[known.mark], known.xyz - here)
    if len(known):
        frame = network.frame
        difference[:, 2] = frame.heights(known.xyz) - frame.heights(here)
    if known.orthometric is not None:
        more = common_part(network, nodes, known.mark)
        difference[:, 2] += np.where(known.orthometric, more, 0.0)
    return np.where(known.components, difference, np.nan)


def conditional(covariances: Covariances, held: Bools, active: Bools) -> Covariances:
    """Return the covariance of the active rows, given that the held ones are exact.

    Examples
    --------
    Plan held, height weighted, correlated 0.5: 4 − 1·1/1 = 3.

    >>> batch = Batch(np.array([[0]]), np.array([[[1.0, 0, 1], [0, 1, 0], [1, 0, 4]]]))
    >>> held, active = np.array([[True, True, False]]), np.array([[False, False, True]])
    >>> float(conditional((batch,), held, active)[0].matrix[0, 2, 2])
    3.0
    """
    made = []
    for batch in covariances:
        fixed = held[batch.members].reshape(len(batch.members), -1)
        wanted = active[batch.members].reshape(len(batch.members), -1)
        matrix = batch.matrix.copy()
        for c in np.flatnonzero(fixed.any(axis=1) & wanted.any(axis=1)):
            h, w = np.flatnonzero(fixed[c]), np.flatnonzero(wanted[c])
            block = matrix[c][np.ix_(h, h)]
            cross = matrix[c][np.ix_(w, h)]
            stated = np.isfinite(block).all() and np.isfinite(cross).all()
            if stated and cross.any():
                drop = cross @ np.linalg.solve(block, cross.T)
                matrix[c][np.ix_(w, w)] -= drop
        made.append(replace(batch, matrix=matrix))
    return tuple(made)


__all__ = ["Batch", "conditional", "equations", "known_minus"]
