"""What a job's undulations have in common: a shift and a tilt that are estimated."""

import numpy as np

from ...networks import Network
from ...networks.covariances import Bools, Floats, Ints
from ..nodes import Nodes


def common_part(network: Network, nodes: Nodes, node: Ints) -> Floats:
    """Return (n,) the common part of the undulations at some nodes, m.

    p0 + p1·E + p2·N, of the parameters as they stand; 0 where there are none.
    """
    undulations = network.undulations
    if undulations is None or not len(undulations.estimated):
        return np.zeros(len(node))
    found: Floats = np.sum(_values(network, nodes) * _factors(network, nodes, node), 1)
    return found


def by_parameter(network: Network, nodes: Nodes, node: Ints) -> tuple[Floats, Ints]:
    """Return partials of the common part by its parameters.

    Returns
    -------
    partials : ndarray, shape (n, k)
    numbers : ndarray of int, shape (k,)
        Nodes of the k parameters, after marks and set-ups.
    """
    undulations = network.undulations
    if undulations is None:
        return np.zeros((len(node), 0)), np.zeros(0, dtype=np.int64)
    there: Bools = np.array(undulations.common) >= 0
    numbers = len(nodes.xyz) + undulations.estimated
    return _factors(network, nodes, node)[:, there], numbers


def by_place(network: Network, nodes: Nodes, node: Ints) -> Floats:
    """Return (n, 3) partials of the common part by east, north, up of the nodes."""
    undulations = network.undulations
    if undulations is None or undulations.ways is None:
        return np.zeros((len(node), 3))
    slope = _values(network, nodes)[1:] @ undulations.ways
    partials: Floats = nodes.axes[node] @ slope
    return partials


def _values(network: Network, nodes: Nodes) -> Floats:
    assert network.undulations is not None
    # One more, for −1.
    return np.append(nodes.values, 0.0)[list(network.undulations.common)]


def _factors(network: Network, nodes: Nodes, node: Ints) -> Floats:
    assert network.undulations is not None
    away = network.undulations.from_middle(nodes.xyz[node])
    return np.concatenate([np.ones((len(node), 1)), away], axis=1)
