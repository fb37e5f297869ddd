"""Set-ups: it stood over the mark, by its eccentricity, at the booked height."""

import numpy as np

from ...networks import Network
from ...networks.covariances import keep, single
from ..nodes import Nodes
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
    axes = nodes.axes[set_ups.mark]
    offset = np.einsum("nij,nj->ni", axes, nodes.xyz[node] - nodes.xyz[set_ups.mark])
    booked = np.concatenate([set_ups.eccentricity, np.zeros((len(node), 1))], axis=1)
    # The axes of a set-up are those of its mark, so the partials are ±1.
    unit = np.broadcast_to(np.eye(3), (len(node), 3, 3))
    observed = observed_components(network)[count:]
    active = free_components(network) & observed
    design = np.stack([-unit, unit], axis=2) * active[:, :, None, None]
    sds = np.stack([set_ups.sd_centring] * 2 + [set_ups.sd_height], axis=1)
    covariances = single(sds[:, :, None] ** 2 * np.eye(3))
    used = np.asarray(observed.any(axis=1))
    return Equations(
        "set-up",
        np.where(active, booked - offset, 0.0),
        design,
        np.stack([set_ups.mark, node], axis=1),
        active,
        masked(keep(covariances, used, 3), active),
    )
