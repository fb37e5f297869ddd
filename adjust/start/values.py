"""Starting values of the parameters."""

import numpy as np

from ...networks import Network
from ...networks.covariances import Floats
from ..equations.sights import line_of_sight
from ..nodes import Nodes


def starting_values(network: Network, nodes: Nodes) -> Floats:
    """Return (q,) the values of the parameters to start from.

    An orientation is the mean of azimuth minus direction over its sights, the
    azimuths from the starting positions; others start where they are booked.

    Parameters
    ----------
    network : Network
    nodes : Nodes
        At the starting positions.

    Returns
    -------
    ndarray, shape (q,)
        In the parameters' own units.
    """
    values = network.parameters.start.copy()
    for sights in network.sights:
        if sights.kind != "direction":
            continue
        line = line_of_sight(nodes, sights)
        turned = np.arctan2(line[:, 0], line[:, 1]) - sights.value
        use = sights.used & (sights.parameter[:, 0] >= 0)
        sums = np.zeros(len(values), dtype=complex)
        np.add.at(sums, sights.parameter[use, 0], np.exp(1j * turned[use]))
        unknown = np.isnan(values) & (sums != 0)
        values[unknown] = np.angle(sums[unknown])
    return values
