"""East, north, up in the axes in which observations have their rows."""

import numpy as np

from ...networks.covariances import Floats, Ints
from ..adjustment import Adjustment
from ..equations import Equations
from ..equations.vectors import as_seen
from ..nodes import taken


def turn_of(
    adjustment: Adjustment, some: Equations, edges: Ints | slice = slice(None)
) -> Floats:
    """Return (k, r, r): east, north, up in the axes of the rows of some edges."""
    if some.kind != "baseline":
        rows = some.active.shape[1]
        return np.broadcast_to(np.eye(rows), (len(some.node[edges]), rows, rows))
    level = taken(adjustment.nodes.axes, some.node[edges, 0])
    made = np.moveaxis(np.swapaxes(level, 0, 1), -1, 0)
    if adjustment.network.vectors.parameter is None:
        return made
    return np.asarray(as_seen(adjustment.network, adjustment.nodes, edges) @ made)
