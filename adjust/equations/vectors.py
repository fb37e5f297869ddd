"""GNSS vectors: end minus start, each from the node up by its offset."""

import numpy as np

from ...networks import Network
from ...networks.covariances import Floats, Ints, keep
from ..nodes import Nodes, last_first, taken
from ..observed import dimension_mask
from .equations import Equations, masked


def equations(network: Network, nodes: Nodes) -> Equations:
    """Return the equations of the vectors in use.

    computed = (X_end + o_end·u_end) − (X_start + o_start·u_start), rows in the axes
    of the cartesian frame; u is a node's local vertical, o the offset. A group with a
    scale κ and a turn ω about the vertical of the job's middle (of a site grid: of its
    centre) sees (1 + κ) R(ω) of it.
    """
    vectors = network.vectors
    start, of_start = _of_node(nodes, vectors.start, vectors.start_offset)
    end, of_end = _of_node(nodes, vectors.end, vectors.end_offset)
    design = last_first(np.stack([-of_start, of_end], axis=1))
    computed = last_first(end - start)
    # A dimension of its own only a local job states, whose rows are east, north, up.
    active = np.broadcast_to(dimension_mask(network), (len(vectors), 3))
    node = last_first(np.stack([vectors.start, vectors.end]))
    if vectors.parameter is not None:
        computed, design = _of_group(
            network, nodes, vectors.parameter, computed, design
        )
        extra = np.where(vectors.parameter >= 0, len(nodes.xyz) + vectors.parameter, -1)
        node = np.concatenate([node, extra], axis=1)
    return Equations(
        "baseline",
        np.where(active, vectors.delta - computed, 0.0),
        design if active.all() else design * active[:, :, None, None],
        node,
        active,
        masked(keep(vectors.covariances, vectors.used, 3), active),
    )


def _of_node(nodes: Nodes, node: Ints, offset: Floats) -> tuple[Floats, Floats]:
    """Return places (3, n) at an end of vectors, and partials (3, 3, n) by its node.

    X = X0 + Rᵀδ, so they are the columns e, n, u of Rᵀ, and the lean of the vertical
    below the end as the node moves, a metre or two over the earth's radius.
    """
    axes, turn = taken(nodes.axes, node), taken(nodes.turn, node)
    place = taken(nodes.xyz, node) + offset * axes[2]
    partial = np.swapaxes(axes, 0, 1).copy()
    for k in (0, 1):
        partial[:, k] += offset * (turn[k, 1] * axes[0] + turn[k, 2] * axes[1])
    return place, partial


def _of_group(
    network: Network, nodes: Nodes, parameter: Ints, computed: Floats, design: Floats
) -> tuple[Floats, Floats]:
    """Return vectors and partials as scaled and turned groups see them."""
    turn, factor = _turn_and_factor(network, nodes, parameter)
    turned = np.einsum("nij,nj->ni", turn, computed)
    both = np.einsum("nij,njkl->nikl", factor[:, None, None] * turn, design)
    wide = np.zeros((len(computed), 3, 4, 3))
    wide[:, :, :2] = both
    wide[:, :, 2, 0] = turned * (parameter[:, :1] >= 0)
    seen = factor[:, None] * turned
    about = np.cross(turning_axes(network, nodes)[2], seen)
    wide[:, :, 3, 0] = about * (parameter[:, 1:] >= 0)
    return seen, wide


def as_seen(
    network: Network, nodes: Nodes, which: Ints | slice = slice(None)
) -> Floats:
    """Return (n, 3, 3) what takes a vector of the frame to one as its group sees it.

    Of all vectors, or of some.
    """
    parameter = network.vectors.parameter
    if parameter is None:
        some = len(network.vectors.start[which])
        return np.broadcast_to(np.eye(3), (some, 3, 3))
    turn, factor = _turn_and_factor(network, nodes, parameter[which])
    return factor[:, None, None] * turn


def _turn_and_factor(
    network: Network, nodes: Nodes, parameter: Ints
) -> tuple[Floats, Floats]:
    """Return R(ω) and 1 + κ of every vector, (n, 3, 3) and (n,)."""
    scale, angle = np.concatenate([nodes.values, [0.0]])[parameter.T]
    cross = np.cross(turning_axes(network, nodes)[2], np.eye(3)).T
    sine, cosine = np.sin(angle)[:, None, None], np.cos(angle)[:, None, None]
    # Rodrigues' formula.
    turn: Floats = np.eye(3) + sine * cross + (1 - cosine) * (cross @ cross)
    return turn, 1 + scale


def turning_axes(network: Network, nodes: Nodes) -> Floats:
    """Return (3, 3) rows east, north, up; about the last the groups are turned.

    Vectors come to a site grid upright at its centre, where up is the third axis.
    """
    if network.frame.kind == "local":
        return np.eye(3)
    middle = nodes.xyz[: len(network.marks)].mean(axis=0)
    if network.part is not None and network.part.middle is not None:
        middle = network.part.middle
    return np.asarray(network.frame.axes(middle[None])[0])
