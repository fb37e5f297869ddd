"""Which components of which nodes are unknown, and the column of each."""

import numpy as np

from ..networks import Network
from ..networks.covariances import Ints
from .datum import Datum
from .observed import free_components, observed_components, used_parameters


def unknown_columns(network: Network, datum: Datum) -> Ints:
    """Return (N + q, 3) the column of each component; −1 where it is no unknown.

    Held components are not unknowns. A set-up's exact component is its mark's. A
    parameter has its column in its first component, and none where its sd is 0.
    """
    count = len(network.marks)
    observed = observed_components(network)
    columns = np.full((len(observed) + len(network.parameters), 3), -1, dtype=np.int64)
    free = observed[:count] & ~datum.held_marks(network)
    columns[:count][free] = np.arange(free.sum())
    set_ups = columns[count : len(observed)]
    of_mark = columns[:count][network.set_ups.mark]
    own = free_components(network) & observed[count:]
    set_ups[:] = np.where(observed[count:], of_mark, -1)
    set_ups[own] = free.sum() + np.arange(own.sum())
    unknown = used_parameters(network, datum.weighted) & ~(network.parameters.sd == 0)
    first = free.sum() + own.sum()
    columns[len(observed) :, 0][unknown] = first + np.arange(unknown.sum())
    return columns
