"""Set-ups: it stood over the mark, by its eccentricity, at the booked height."""

import numpy as np

from ...networks import Network
from ...networks.covariances import Bools, Floats, keep, single
from ..nodes import Nodes, last_first, taken
from ..observed import free_components, observed_components
from .equations import Equations, masked


def equations(network: Network, nodes: Nodes) -> Equations:
    """Return the set-up observations: node − mark − eccentricity = 0.

    Rows east, north, up at the mark. A component with sd 0 is exact: there the
    set-up falls together with its mark and the row is not active.
    """
    set_ups = network.set_ups
    count = len(network.marks)
    node = count + np.arange(len(set_ups))
    apart = taken(nodes.xyz, node) - taken(nodes.xyz, set_ups.mark)
    offset = np.einsum("ijn,jn->in", taken(nodes.axes, set_ups.mark), apart)
    booked = np.concatenate([set_ups.eccentricity.T, np.zeros((1, len(node)))])
    observed = observed_components(network)[count:]
    active = free_components(network) & observed
    sds = np.stack([set_ups.sd_centring] * 2 + [set_ups.sd_height], axis=1)
    covariances = single(sds[:, :, None] ** 2 * np.eye(3))
    used = np.asarray(observed.any(axis=1))
    if network.part is not None:
        used &= network.part.stood
    return Equations(
        "set-up",
        np.where(active, last_first(booked - offset), 0.0),
        last_first(_design(active)),
        last_first(np.stack([set_ups.mark, node])),
        active,
        masked(keep(covariances, used, 3), active),
    )


def _design(active: Bools) -> Floats:
    """Return (3, 2, 3, n) partials by mark and set-up, ±1: both have the same axes.

    Where all rows are active they are the same numbers for all.
    """
    count = min(1, len(active)) if active.all() else len(active)
    design = np.zeros((3, 2, 3, count))
    for k in range(3):
        one = active[:count, k]
        design[k, 0, k], design[k, 1, k] = -1.0 * one, one
    return np.broadcast_to(design, (3, 2, 3, len(active)))
