"""What really was, before anything is observed."""

from dataclasses import dataclass

import numpy as np

from ..covariances import Floats
from ..network import Network


@dataclass(frozen=True, slots=True)
class Field:
    """Where things stand and what is wrong with them; a blunder makes another one.

    Shifts are booked minus true.
    """

    network: Network
    nodes: Floats
    """(m + s, 3) where marks and set-ups really are, m."""
    values: Floats
    """(q,) what the parameters really are, in their own units."""
    known_shift: Floats
    """(k, 3) known coordinates minus truth, east, north, up, m."""
    vector_shift: Floats
    """(n, 3) added to the vectors, in their axes, m."""
    position_shift: Floats
    """(p, 3) added to the positions, east, north, up, m."""
    sight_shift: tuple[Floats, ...]
    """For each kind of sight (n,), m or rad."""
    level_shift: Floats
    """(l,) added to the rises, m."""


def field_of(network: Network, nodes: Floats, values: Floats) -> Field:
    """Return the field in which nothing is wrong.

    Parameters
    ----------
    network : Network
    nodes : ndarray, shape (m + s, 3)
        True places, m.
    values : ndarray, shape (q,)
        True values of the parameters.
    """
    return Field(
        network,
        nodes,
        values,
        np.zeros((len(network.known), 3)),
        np.zeros((len(network.vectors), 3)),
        np.zeros((len(network.positions), 3)),
        tuple(np.zeros(len(sights)) for sights in network.sights),
        np.zeros(0 if network.levels is None else len(network.levels)),
    )
