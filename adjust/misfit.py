"""What the observations say against a place: how far off it is, and which way."""

from typing import NamedTuple

import numpy as np

from ..networks import Network
from ..networks.covariances import Floats, Ints
from .datum import Datum
from .equations import each_kind
from .nodes import Nodes
from .normal import add_pull, weighted_square_sum, whiten


class Misfit(NamedTuple):
    """The misclosures at a place, summed."""

    pull: Floats
    """(count,) AᵀPl."""
    square_sum: float
    """lᵀPl."""


def misfit_at(at: tuple[Network, Datum, Ints, Nodes], count: int) -> Misfit:
    """Return the misfit at a place, kind by kind: all rows at once are large.

    Parameters
    ----------
    at : tuple
        Network, datum, columns and nodes.
    count : int
        Unknowns.
    """
    network, hold, columns, nodes = at
    pull, squares = np.zeros(count + 1), []
    for some in each_kind(network, hold, nodes):
        for batch in whiten(some, columns):
            add_pull(pull, batch)
            squares.append(weighted_square_sum([batch]))
        del some, batch
    return Misfit(pull[:-1], float(sum(squares)))
