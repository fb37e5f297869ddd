"""Per kind of edge: misclosure, partial derivatives, covariance, as whole arrays.

Every kind gives an ``Equations``; ``KINDS`` lists them, and the estimate knows
nothing else about a kind.
"""

from collections.abc import Callable, Mapping

from ...networks import Network
from ..datum import Datum
from ..nodes import Nodes
from . import known_marks, positions, set_ups, vectors
from .equations import Equations

__all__ = ["KINDS", "Equations", "equations"]

KINDS: Mapping[str, Callable[[Network, Datum, Nodes], Equations]] = {
    "baseline": vectors.equations,
    "set-up": set_ups.equations,
    "position": positions.equations,
    "known mark": known_marks.equations,
}


def equations(network: Network, datum: Datum, nodes: Nodes) -> tuple[Equations, ...]:
    """Return the equations of every kind that the network has.

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
    made = (make(network, datum, nodes) for make in KINDS.values())
    return tuple(some for some in made if some.covariances)
