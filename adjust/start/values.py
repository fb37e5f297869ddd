"""Starting values of the parameters."""

import numpy as np

from ...networks import Network
from ...networks.covariances import Floats
from ..equations.sights import line_of_sight
from ..equations.vectors import turning_axes
from ..nodes import Nodes


def starting_values(network: Network, nodes: Nodes) -> Floats:
    """Return (q,) the values of the parameters to start from.

    An orientation is the mean of azimuth minus direction over its sights, the
    azimuths from the starting positions; the turn of a group of vectors is that which
    fits them best; others start where they are booked.

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
    _find_turns(network, nodes, values)
    return values


def _find_turns(network: Network, nodes: Nodes, values: Floats) -> None:
    """Give the turns of vectors their values, in place: arg Σ conj(between)·seen."""
    vectors, number = network.vectors, network.turns_to_find()
    rows = np.flatnonzero(vectors.used & (number >= 0))
    if not len(rows):
        return
    level = turning_axes(network, nodes)[:2]
    between = nodes.xyz[vectors.end[rows]] - nodes.xyz[vectors.start[rows]]
    here, seen = between @ level.T, vectors.delta[rows] @ level.T
    products = (here[:, 0] - 1j * here[:, 1]) * (seen[:, 0] + 1j * seen[:, 1])
    sums = np.zeros(len(values), dtype=complex)
    np.add.at(sums, number[rows], products)
    found = number[rows]
    values[found] = np.angle(sums[found])
