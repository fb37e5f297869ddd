"""Per kind of edge: misclosure, partial derivatives, covariance, as whole arrays.

Every kind gives an ``Equations``, and the estimate knows nothing else about a kind.
"""

from collections.abc import Iterator

from ...networks import Network
from ..datum import Datum
from ..nodes import Nodes
from ..observed import used_parameters
from . import known_marks, levels, parameters, positions, set_ups, sights, vectors
from .equations import Equations

__all__ = ["LINEAR", "Equations", "each_kind", "equations"]

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
    return tuple(each_kind(network, datum, nodes))


def each_kind(network: Network, datum: Datum, nodes: Nodes) -> Iterator[Equations]:
    """Yield the same a kind at a time, for who has no need of all at once.

    Parameters
    ----------
    network : Network
    datum : Datum
    nodes : Nodes

    Yields
    ------
    Equations
    """
    for some in _made(network, datum, nodes):
        if some.covariances:
            yield some
        # Nothing of it stays while the next is formed.
        del some


def _made(network: Network, datum: Datum, nodes: Nodes) -> Iterator[Equations]:
    yield vectors.equations(network, nodes)
    for some in network.sights:
        yield sights.equations(network, nodes, some)
    if network.levels is not None:
        yield levels.equations(network, nodes, network.levels)
    yield positions.equations(network, nodes)
    yield known_marks.equations(network, datum, nodes)
    yield set_ups.equations(network, nodes)
    yield parameters.equations(network, nodes, used_parameters(network))
