"""Positions: a node, up by the offset, stands at an observed place."""

import numpy as np

from ...networks import Network
from ...networks.covariances import Bools, Floats, Ints, keep
from ..nodes import Nodes
from ..observed import dimension_mask
from .equations import Equations, masked


def equations(network: Network, nodes: Nodes) -> Equations:
    """Return the equations of the positions in use, rows east, north, up.

    observed = where the node stands, up by the offset, and the shift of the group.
    """
    positions = network.positions
    axes = nodes.axes[positions.node]
    up = axes[:, 2, :]
    stood = nodes.xyz[positions.node] + positions.offset[:, None] * up
    misclosure = np.einsum("nij,nj->ni", axes, positions.xyz - stood)
    active = positions.components & dimension_mask(network)
    partial = np.broadcast_to(np.eye(3), (len(positions), 3, 3)).copy()
    # The vertical below the antenna leans as the node moves.
    lean = nodes.turn[positions.node][:, :, 1:] * positions.offset[:, None, None]
    partial[:, :2, :2] += np.swapaxes(lean, 1, 2)
    covariances = keep(positions.covariances, positions.used, 3)
    design = (partial * active[:, :, None])[:, :, None, :]
    node = positions.node[:, None]
    if positions.parameter is not None:
        shift = np.concatenate([nodes.values, [0.0]])[positions.parameter]
        misclosure = misclosure - shift
        extra = np.where(
            positions.parameter >= 0, len(nodes.xyz) + positions.parameter, -1
        )
        node = np.concatenate([node, extra], axis=1)
        design = _with_shift(design, active, positions.parameter)
    return Equations(
        "position",
        np.where(active, misclosure, 0.0),
        design,
        node,
        active,
        masked(covariances, active),
    )


def _with_shift(design: Floats, active: Bools, parameter: Ints) -> Floats:
    """Return the partials (n, 3, 4, 3): each row also by its own part of the shift."""
    wide = np.zeros((len(design), 3, 4, 3))
    wide[:, :, :1] = design
    for k in range(3):
        wide[:, k, 1 + k, 0] = active[:, k] & (parameter[:, k] >= 0)
    return wide
