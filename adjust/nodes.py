"""Where the nodes are, which way is up there, and the values of parameters."""

from dataclasses import dataclass
from typing import TypeVar

import numpy as np

from ..networks import GeodeticFrame, LocalFrame, Network
from ..networks.covariances import Floats, Ints

# m; long enough that the turn of the axes stands clear of rounding, short enough
# that it is linear (second order 2e-10 of it).
_STEP = 100.0
Column = TypeVar("Column", Floats, Ints)
"""Numbers in columns, of either kind."""


@dataclass(frozen=True, slots=True)
class Nodes:
    """Marks, then set-ups, then parameters: the places and values of all unknowns."""

    xyz: Floats
    """(N, 3) cartesian positions of marks and set-ups, m."""
    axes: Floats
    """(N, 3, 3) rows: unit vectors east, north, up; a set-up has its mark's."""
    turn: Floats
    """(N, 2, 3) how the axes turn for a metre east and a metre north, 1/m: east
    towards north, up towards east, up towards north."""
    values: Floats
    """(q,) values of the parameters, in their own units."""
    plumb: Floats | None = None
    """(N, 3) turn of the local axes, rad about east, north, up, that makes them those
    of the plumb line; None where no deflection of the vertical is booked."""

    def moved(self, shift: Floats) -> tuple[Floats, Floats]:
        """Return positions and values moved by (N + q, 3), m and parameters' units.

        A parameter's shift is the first of its three components.
        """
        places = len(self.xyz)
        moved = self.xyz + np.einsum("nij,ni->nj", self.axes, shift[:places])
        return moved, self.values + shift[places:, 0]


def nodes_at(
    network: Network,
    marks: Floats,
    set_ups: Floats | None = None,
    values: Floats | None = None,
) -> Nodes:
    """Return the nodes with marks at (m, 3) positions.

    Parameters
    ----------
    network : Network
    marks : ndarray, shape (m, 3)
    set_ups : ndarray, shape (s, 3), optional
        Positions of the set-ups; over their marks by the booked eccentricity when
        not given.
    values : ndarray, shape (q,), optional
        Values of the parameters; their start when not given.
    """
    axes = network.frame.axes(marks)
    over = network.set_ups.mark
    if set_ups is None:
        east, north = axes[over, 0, :], axes[over, 1, :]
        eccentricity = network.set_ups.eccentricity
        set_ups = marks[over] + eccentricity[:, :1] * east + eccentricity[:, 1:] * north
    mark = np.concatenate([np.arange(len(marks)), over])
    return Nodes(
        last_first(np.concatenate([marks.T, set_ups.T], axis=1)),
        last_first(taken(axes, mark)),
        last_first(taken(_turn(network, marks, axes), mark)),
        network.parameters.start.copy() if values is None else values,
        _plumb(network, axes),
    )


def _plumb(network: Network, axes: Floats) -> Floats | None:
    """Return (N, 3) the turn from the ellipsoid's normal to the plumb line.

    The zenith leans by ξ to the north and η to the east, and the meridian turns by
    η tan φ with it (Laplace's equation; any geodesy text, from memory).
    """
    if network.marks.deflection is None:
        return None
    north, east = network.marks.deflection.T
    sine = np.zeros(len(axes))
    if isinstance(network.frame, GeodeticFrame):
        sine = axes[:, 2, 2]
    tangent = sine / np.sqrt(np.maximum(1 - sine**2, 1e-12))
    turn = np.stack([-north, east, east * tangent], axis=1)
    return np.concatenate([turn, turn[network.set_ups.mark]])


def _turn(network: Network, marks: Floats, axes: Floats) -> Floats:
    """Return (m, 2, 3) how the axes turn, by central differences."""
    if isinstance(network.frame, LocalFrame):
        return np.zeros((len(marks), 2, 3))
    east, north = axes[:, 0], axes[:, 1]
    turned = np.empty((len(marks), 2, 3))
    for k in (0, 1):
        before, after = (
            network.frame.axes(marks + step * axes[:, k]) for step in (-_STEP, _STEP)
        )
        change = (after - before) / (2 * _STEP)
        for which, (moving, towards) in enumerate(((0, north), (2, east), (2, north))):
            turned[:, k, which] = np.einsum("ni,ni->n", change[:, moving], towards)
    return turned


def taken(values: Floats, which: Ints) -> Floats:
    """Return rows of values (n, …) as columns (…, k) in memory.

    Arithmetic on columns is several times quicker than on small matrices.
    """
    columns = np.ascontiguousarray(np.moveaxis(values, 0, -1))
    return np.asarray(np.take(columns, which, axis=-1))


def last_first(columns: Column) -> Column:
    """Return columns (…, n) seen as (n, …), where they are in memory."""
    return np.moveaxis(columns, -1, 0)
