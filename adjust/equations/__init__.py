"""Per kind of edge: misclosure, partial derivatives, covariance, as whole arrays.

Every kind gives an ``Equations``, and the estimate knows nothing else about a kind.
"""

from ...networks import Network
from ..datum import Datum
from ..nodes import Nodes
from ..observed import used_parameters
from . import known_marks, levels, parameters, positions, set_ups, sights, vectors
from .equations import Equations

__all__ = ["LINEAR", "Equations", "equations"]

LINEAR = frozenset({"baseline", "set-up", "position", "known mark", "level difference"})
"""Kinds whose partials do not change over the metres that a start may be off."""


def equations(network: Network, datum: Datum, nodes: Nodes) -> tuple[Equations, ...]:
    """Return the equations of every kind that the network has, in a fixed order.

    Parameters
    ----------
    network : Network
    datum : Datum
        What is held, what is weighted.
    nodes : Nodes
        Where to form them.

    Returns
    -------
    tuple of Equations
        A kind without rows in use is left out.
    """
    made = [vectors.equations(network, nodes)]
    made += [sights.equations(network, nodes, some) for some in network.sights]
    if network.levels is not None:
        made.append(levels.equations(network, nodes, network.levels))
    made += [
        positions.equations(network, nodes),
        known_marks.equations(network, datum, nodes),
        set_ups.equations(network, nodes),
        parameters.equations(network, nodes, used_parameters(network)),
    ]
    return tuple(some for some in made if some.covariances)
