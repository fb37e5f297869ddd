"""The plan near one place: north + i·east and a height, good to metres."""

from dataclasses import dataclass

import numpy as np

from ...networks import LocalFrame, Network
from ...networks.covariances import Floats

EARTH = 6371000.0
"""m; mean radius, for the height that a level line loses."""


@dataclass(frozen=True, slots=True)
class Plane:
    """The local axes at one place."""

    network: Network
    origin: Floats
    """(3,) cartesian, m."""

    @property
    def flat(self) -> bool:
        """Whether verticals are parallel."""
        return isinstance(self.network.frame, LocalFrame)

    @property
    def axes(self) -> Floats:
        """(3, 3) rows: east, north, up at the origin."""
        return np.asarray(self.network.frame.axes(self.origin[None])[0])

    def of(self, xyz: Floats) -> list[complex]:
        """Return the plan of positions (n, 3), or of vectors less the origin, m."""
        east, north, _ = self.axes @ (xyz - self.origin).T
        return [complex(n, e) for n, e in zip(north, east, strict=True)]

    def lifted(self, points: list[complex], heights: Floats) -> Floats:
        """Return (n, 3) positions at heights over places of the plan, m."""
        frame = self.network.frame
        local = np.array([[p.imag, p.real, 0.0] for p in points]).reshape(-1, 3)
        for _ in range(2):
            xyz = self.origin + local @ self.axes
            local[:, 2] += heights - frame.heights(xyz)
        return np.asarray(self.origin + local @ self.axes)
