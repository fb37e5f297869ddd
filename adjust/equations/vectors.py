"""GNSS vectors: end minus start, each from the node up by its offset."""

import numpy as np

from ...networks import Network
from ...networks.covariances import Floats, Ints, keep
from ..nodes import Nodes
from ..observed import dimension_mask
from .equations import Equations, masked


def equations(network: Network, nodes: Nodes) -> Equations:
    """Return the equations of the vectors in use.

    computed = (X_end + o_end·u_end) − (X_start + o_start·u_start), rows in the axes
    of the cartesian frame; u is a node's local vertical, o the offset. A group with a
    scale κ and a turn ω about the vertical of the job's middle sees (1 + κ) R(ω) of
    it.
    """
    vectors = network.vectors
    up = nodes.axes[:, 2, :]
    end = nodes.xyz[vectors.end] + vectors.end_offset[:, None] * up[vectors.end]
    start = nodes.xyz[vectors.start] + vectors.start_offset[:, None] * up[vectors.start]
    design = np.stack(
        [
            -_of_node(nodes, vectors.start, vectors.start_offset),
            _of_node(nodes, vectors.end, vectors.end_offset),
        ],
        axis=2,
    )
    # A dimension of its own only a local job states, whose rows are east, north, up.
    active = np.broadcast_to(dimension_mask(network), (len(vectors), 3))
    computed, node = end - start, np.stack([vectors.start, vectors.end], axis=1)
    if vectors.parameter is not None:
        computed, design = _of_group(
            network, nodes, vectors.parameter, computed, design
        )
        extra = np.where(vectors.parameter >= 0, len(nodes.xyz) + vectors.parameter, -1)
        node = np.concatenate([node, extra], axis=1)
    return Equations(
        "baseline",
        np.where(active, vectors.delta - computed, 0.0),
        design * active[:, :, None, None],
        node,
        active,
        masked(keep(vectors.covariances, vectors.used, 3), active),
    )


def _of_node(nodes: Nodes, node: Ints, offset: Floats) -> Floats:
    """Return (n, 3, 3) the partials of a vector's end by its node.

    X = X0 + Rᵀδ, so they are the columns e, n, u of Rᵀ, and the lean of the vertical
    below the end as the node moves, a metre or two over the earth's radius.
    """
    partial = np.swapaxes(nodes.axes[node], 1, 2).copy()
    lean = nodes.turn[node][:, :, 2, :] * offset[:, None, None]
    partial[:, :, :2] += np.swapaxes(lean, 1, 2)
    return partial


def _of_group(
    network: Network, nodes: Nodes, parameter: Ints, computed: Floats, design: Floats
) -> tuple[Floats, Floats]:
    """Return vectors and partials as scaled and turned groups see them."""
    scale, angle = np.concatenate([nodes.values, [0.0]])[parameter.T]
    middle = nodes.xyz[: len(network.marks)].mean(axis=0)
    axis = network.frame.axes(middle[None])[0, 2]
    cross = np.cross(axis, np.eye(3)).T
    sine, cosine = np.sin(angle)[:, None, None], np.cos(angle)[:, None, None]
    # Rodrigues' formula.
    turn = np.eye(3) + sine * cross + (1 - cosine) * (cross @ cross)
    turned = np.einsum("nij,nj->ni", turn, computed)
    factor = (1 + scale)[:, None]
    both = np.einsum("nij,njkl->nikl", factor[:, :, None] * turn, design)
    wide = np.zeros((len(computed), 3, 4, 3))
    wide[:, :, :2] = both
    wide[:, :, 2, 0] = turned * (parameter[:, :1] >= 0)
    wide[:, :, 3, 0] = np.cross(axis, factor * turned) * (parameter[:, 1:] >= 0)
    return factor * turned, wide
