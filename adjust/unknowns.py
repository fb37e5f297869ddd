"""Which components of which nodes are unknown, and the column of each."""

import numpy as np

from ..networks import Network
from ..networks.covariances import Bools, Ints
from .datum import Datum


def observed_components(network: Network) -> Bools:
    """Return (N, 3): which components of each node some observation in use touches.

    A set-up that nothing uses is not observed, nor is a mark that is only known.
    """
    vectors, positions = network.vectors, network.positions
    observed = np.zeros((len(network.marks) + len(network.set_ups), 3), dtype=bool)
    observed[vectors.start[vectors.used]] = True
    observed[vectors.end[vectors.used]] = True
    at = positions.components[positions.used]
    np.logical_or.at(observed, positions.node[positions.used], at)
    of_set_ups = observed[len(network.marks) :]
    np.logical_or.at(observed, network.set_ups.mark, of_set_ups)
    return observed


def free_components(network: Network) -> Bools:
    """Return (s, 3): where a set-up may differ from its mark (sd above 0)."""
    set_ups = network.set_ups
    sds = np.stack([set_ups.sd_centring] * 2 + [set_ups.sd_height], axis=1)
    return np.asarray(sds > 0)


def unknown_columns(network: Network, datum: Datum) -> Ints:
    """Return (N, 3) the column of each component; −1 where it is not an unknown.

    Held components are not unknowns. A set-up's exact component is its mark's.
    """
    count = len(network.marks)
    observed = observed_components(network)
    columns = np.full(observed.shape, -1, dtype=np.int64)
    free = observed[:count] & ~datum.held_marks(network)
    columns[:count][free] = np.arange(free.sum())
    of_mark = columns[:count][network.set_ups.mark]
    own = free_components(network) & observed[count:]
    columns[count:] = np.where(observed[count:], of_mark, -1)
    columns[count:][own] = free.sum() + np.arange(own.sum())
    return columns
