"""One exact condition among the unknowns: the azimuth that a minimal solution holds.

cᵀx = w takes one unknown out: x = T y + x₀. Exact, unlike a very small standard
deviation, and it costs no digits.
"""

from dataclasses import dataclass

import numpy as np

from ..networks import Network, Sights
from ..networks.covariances import Floats, Ints
from .datum import Datum
from .equations.sights import equations as sight_equations
from .nodes import Nodes


@dataclass(frozen=True, slots=True)
class Constraint:
    """The condition cᵀx = w, with the unknown that it takes out."""

    coefficients: Floats
    """(u,) c"""
    value: float
    pivot: int

    def basis(self) -> Floats:
        """Return T, (u, u − 1).

        Examples
        --------
        x₀ + 2 x₁ = 0 leaves x₁ = −x₀/2:

        >>> Constraint(np.array([1.0, 2.0]), 0.0, 1).basis().tolist()
        [[1.0], [-0.5]]
        """
        c = self.coefficients / self.coefficients[self.pivot]
        whole = np.eye(len(c))
        whole[self.pivot] = -c
        return np.delete(whole, self.pivot, axis=1)

    def particular(self) -> Floats:
        """Return x₀, (u,)."""
        start = np.zeros(len(self.coefficients))
        start[self.pivot] = self.value / self.coefficients[self.pivot]
        return start


def azimuth_constraint(
    network: Network, datum: Datum, nodes: Nodes, columns: Ints
) -> Constraint | None:
    """Return the condition that the held azimuth puts on the unknowns, if any."""
    if datum.azimuth is None:
        return None
    known = network.known
    rows = np.array(datum.azimuth)
    start, end = known.mark[rows]
    some = sight_equations(network, nodes, _sight(start, end))
    there = known.xyz[rows[1]] - known.xyz[rows[0]]
    level = nodes.axes[start] @ there
    if nodes.plumb is not None:
        # Sights see azimuths about the plumb line.
        level = level - np.cross(nodes.plumb[start], level)
    east, north = level[:2]
    booked = float(np.arctan2(east, north))
    here = -float(some.misclosure[0, 0])
    value = np.mod(booked - here + np.pi, 2 * np.pi) - np.pi
    coefficients = np.zeros(int(columns.max()) + 2)
    for slot in (0, 1):
        at = columns[some.node[0, slot]]
        np.add.at(coefficients, at, some.design[0, 0, slot])
    coefficients = coefficients[:-1]
    return Constraint(coefficients, float(value), int(np.abs(coefficients).argmax()))


def _sight(start: int, end: int) -> Sights:
    one, zero = np.ones(1), np.zeros(1)
    return Sights(
        "azimuth",
        ("",),
        np.array([start]),
        np.array([end]),
        np.array([-1]),
        zero,
        zero,
        zero,
        zero,
        one,
        np.full((1, 2), -1),
        zero,
        np.ones(1, dtype=bool),
        np.zeros(1, dtype=np.int64),
    )
