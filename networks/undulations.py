"""Undulations: how high the geoid is above the ellipsoid at the marks of a job."""

from dataclasses import dataclass

import numpy as np

from .covariances import Floats, Ints

SHIFT, TILT = "undulation shift", "undulation tilt"
"""Kinds of the parameters that a whole job's undulations have in common."""


@dataclass(frozen=True, slots=True)
class Undulations:
    """What is thought of the geoid at m marks, and what of it is estimated.

    N = value + p0 + p1·E + p2·N_E, with E and N_E metres east and north of the
    job's middle; the parameters p are those of ``common``.
    """

    value: Floats
    """(m,) geoid above the ellipsoid, m; NaN where not known, 0 without a geoid."""
    sd: Floats
    """(m,) of what is not common to the job, m."""
    model: str = ""
    """The geoid model in words; empty where there is none and 0 stands for it."""
    height_datum: str = ""
    common: tuple[int, int, int] = (-1, -1, -1)
    """Parameters: a shift (m), a tilt towards east and towards north (ratios); −1
    for none."""
    middle: Floats | None = None
    """(3,) cartesian, m, from where the tilt is counted."""
    ways: Floats | None = None
    """(2, 3) unit vectors east and north there."""
    place: Floats | None = None
    """(m, 2) metres east and north of it where the marks are about; NaN where that
    is not known."""

    def from_middle(self, xyz: Floats) -> Floats:
        """Return (n, 2) metres east and north of the middle.

        Parameters
        ----------
        xyz : ndarray, shape (n, 3)
            Cartesian positions, m.

        Examples
        --------
        >>> some = Undulations(np.zeros(1), np.zeros(1), middle=np.array([5.0, 0, 0]),
        ...                    ways=np.eye(3)[:2])
        >>> some.from_middle(np.array([[8.0, 4, 7]])).tolist()
        [[3.0, 4.0]]
        """
        if self.middle is None or self.ways is None:
            return np.zeros((len(xyz), 2))
        from_there: Floats = (xyz - self.middle) @ self.ways.T
        return from_there

    @property
    def estimated(self) -> Ints:
        """(k,) numbers of the common parameters that there are."""
        return np.array([p for p in self.common if p >= 0], dtype=np.int64)
