"""Where the nodes are, and which way is up there."""

from dataclasses import dataclass

import numpy as np

from ..networks import Network
from ..networks.covariances import Floats


@dataclass(frozen=True, slots=True)
class Nodes:
    """Positions of the marks, then of the set-ups."""

    xyz: Floats
    """(N, 3) cartesian, m."""
    axes: Floats
    """(N, 3, 3) rows: unit vectors east, north, up; a set-up has its mark's."""

    def moved(self, shift: Floats) -> "Nodes":
        """Return the nodes moved by (N, 3) east, north, up, m."""
        return Nodes(self.xyz + np.einsum("nij,ni->nj", self.axes, shift), self.axes)


def nodes_at(network: Network, marks: Floats, set_ups: Floats | None = None) -> Nodes:
    """Return the nodes with marks at (m, 3) positions.

    Parameters
    ----------
    network : Network
    marks : ndarray, shape (m, 3)
    set_ups : ndarray, shape (s, 3), optional
        Positions of the set-ups; over their marks by the booked eccentricity when
        not given.
    """
    axes = network.frame.axes(marks)
    over = axes[network.set_ups.mark]
    if set_ups is None:
        east, north = over[:, 0, :], over[:, 1, :]
        eccentricity = network.set_ups.eccentricity
        set_ups = (
            marks[network.set_ups.mark]
            + eccentricity[:, :1] * east
            + eccentricity[:, 1:] * north
        )
    return Nodes(np.concatenate([marks, set_ups]), np.concatenate([axes, over]))
