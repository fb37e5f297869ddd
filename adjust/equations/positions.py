"""Positions: a node, up by the offset, stands at an observed place."""

import numpy as np

from ...networks import Network
from ...networks.covariances import keep
from ..nodes import Nodes
from ..observed import dimension_mask
from .equations import Equations, masked


def equations(network: Network, nodes: Nodes) -> Equations:
    """Return the equations of the positions in use, rows east, north, up."""
    positions = network.positions
    axes = nodes.axes[positions.node]
    up = axes[:, 2, :]
    stood = nodes.xyz[positions.node] + positions.offset[:, None] * up
    misclosure = np.einsum("nij,nj->ni", axes, positions.xyz - stood)
    active = positions.components & dimension_mask(network)
    partial = np.broadcast_to(np.eye(3), (len(positions), 3, 3)).copy()
    # The vertical below the antenna leans as the node moves.
    lean = nodes.turn[positions.node][:, :, 2, :] * positions.offset[:, None, None]
    partial[:, :, :2] += axes @ np.swapaxes(lean, 1, 2)
    covariances = keep(positions.covariances, positions.used, 3)
    return Equations(
        "position",
        np.where(active, misclosure, 0.0),
        (partial * active[:, :, None])[:, :, None, :],
        positions.node[:, None],
        active,
        masked(covariances, active),
    )
