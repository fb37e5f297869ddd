"""GNSS vectors: end minus start, each from the node up by its offset."""

import numpy as np

from ...networks import Network
from ...networks.covariances import keep
from ..nodes import Nodes
from ..observed import dimension_mask
from .equations import Equations, masked


def equations(network: Network, nodes: Nodes) -> Equations:
    """Return the equations of the vectors in use.

    computed = (X_end + o_end·u_end) − (X_start + o_start·u_start), rows in the axes
    of the cartesian frame; u is a node's local vertical, o the offset.
    """
    vectors = network.vectors
    up = nodes.axes[:, 2, :]
    end = nodes.xyz[vectors.end] + vectors.end_offset[:, None] * up[vectors.end]
    start = nodes.xyz[vectors.start] + vectors.start_offset[:, None] * up[vectors.start]
    # X = X0 + Rᵀδ, so the partials are the columns e, n, u of Rᵀ.
    # That the vertical under an antenna leans as its mark moves, by a metre or two
    # over the earth's radius, is 3e-7 of them and is left to the misclosures.
    turned = np.swapaxes(nodes.axes, 1, 2)
    design = np.stack([-turned[vectors.start], turned[vectors.end]], axis=2)
    # A dimension of its own only a local job states, whose rows are east, north, up.
    active = np.broadcast_to(dimension_mask(network), (len(vectors), 3))
    return Equations(
        "baseline",
        np.where(active, vectors.delta - (end - start), 0.0),
        design * active[:, :, None, None],
        np.stack([vectors.start, vectors.end], axis=1),
        active,
        masked(keep(vectors.covariances, vectors.used, 3), active),
    )
