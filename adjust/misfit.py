"""What the observations say against a place: how far off it is, and which way."""

from collections.abc import Iterator
from dataclasses import replace
from typing import NamedTuple

import numpy as np

from ..networks import Network
from ..networks.covariances import Batch, Floats, Ints
from .datum import Datum
from .equations import Equations, each_kind
from .nodes import Nodes
from .normal import add_pull, weighted_square_sum, whiten

_AT_ONCE = 1 << 16
"""Clusters that are whitened together; bounds the memory."""


class Misfit(NamedTuple):
    """The misclosures at a place, summed."""

    pull: Floats
    """(count,) AᵀPl."""
    square_sum: float
    """lᵀPl."""


def misfit_at(at: tuple[Network, Datum, Ints, Nodes], count: int) -> Misfit:
    """Return the misfit at a place, a part at a time: all rows are large.

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
        for part in _parts(some):
            for batch in whiten(part, columns):
                add_pull(pull, batch)
                squares.append(weighted_square_sum([batch]))
            del batch
        del some, part
    return Misfit(pull[:-1], float(sum(squares)))


def _parts(some: Equations) -> Iterator[Equations]:
    """Yield equations of one kind, some clusters of equal size at a time."""
    for batch in some.covariances:
        for low in range(0, len(batch.members), _AT_ONCE):
            here = slice(low, low + _AT_ONCE)
            part = Batch(batch.members[here], batch.matrix[here])
            yield replace(some, covariances=(part,))
