"""A site grid on a curved earth: a sphere and a plane that touches it."""

from dataclasses import dataclass, field
from math import radians, sin, sqrt

import numpy as np

from .covariances import Floats
from .errors import InputError
from .findings import Finding

LIMIT_M = 10_000.0
"""Farthest from the centre: there a line across is 0.4 ppm too long in the grid."""

_GRS80 = (6378137.0, 0.00669438002290)
"""Semi-major axis, m, and eccentricity squared (GRS 80, Moritz 1980)."""


def mean_radius(latitude_deg: float) -> float:
    """Return the Gaussian mean radius √(MN) of GRS 80 at a latitude.

    Parameters
    ----------
    latitude_deg : float

    Returns
    -------
    float
        m.

    Examples
    --------
    At the pole M and N are both a²/b = 6399593.626 m (Moritz 1980, polar radius of
    curvature), at the equator √(MN) is the semi-minor axis, 6356752.314 m.

    >>> round(mean_radius(90.0), 2), round(mean_radius(0.0), 2)
    (6399593.63, 6356752.31)
    """
    a, e2 = _GRS80
    w2 = 1 - e2 * sin(radians(latitude_deg)) ** 2
    return a * sqrt(1 - e2) / w2


@dataclass(frozen=True, slots=True)
class CurvedFrame:
    """A site grid whose verticals meet at the centre of a sphere.

    North and east are azimuthal equidistant about the job's centre, with distances at
    ``reference_height``: a line from the centre has its ground length at that height.
    The cartesian axes have their origin at the centre of the sphere; X points east,
    Y north and Z up at the job's centre. A mark's own east and north are those of the
    grid: the axes of the centre, carried along the great circle.

    Examples
    --------
    1 km out, the plumb line has turned by 1000 / R and the sphere has fallen away by
    1000² / 2R = 78 mm:

    >>> frame = CurvedFrame(latitude_deg=45.0, reference_height=0.0)
    >>> (place,) = frame.place(np.array([0.0]), np.array([1000.0]), np.array([0.0]))
    >>> print(np.round(frame.radius - place[2], 4))
    0.0784
    >>> print(np.round(frame.grid(place[None]), 6))
    [[   0. 1000.    0.]]
    """

    latitude_deg: float
    """Of the job, for the radius only."""
    reference_height: float
    """Height at which north and east are ground distances, m."""
    centre_north: float = 0.0
    centre_east: float = 0.0
    height_datum: str = ""
    kind: str = field(default="local", init=False)
    has_grid: bool = field(default=True, init=False)

    @property
    def radius(self) -> float:
        """Radius of the sphere of height 0, m."""
        return mean_radius(self.latitude_deg)

    def axes(self, xyz: Floats) -> Floats:
        """Return east, north, up of the grid: see ``Frame.axes``."""
        east, north, up = np.moveaxis(_directions(xyz), -1, 0)
        # The rotation that takes the centre's vertical to the mark's, the short way.
        k = 1 / (1 + up)
        rows = [
            [1 - k * east * east, -k * east * north, -east],
            [-k * east * north, 1 - k * north * north, -north],
            [east, north, up],
        ]
        return np.moveaxis(np.array(rows), (0, 1), (-2, -1))

    def place(self, north: Floats, east: Floats, height: Floats) -> Floats:
        """Return cartesian positions: see ``Frame.place``.

        Raises
        ------
        InputError
            A position is farther than 10 km from the centre.
        """
        n = np.asarray(north, dtype=float) - self.centre_north
        e = np.asarray(east, dtype=float) - self.centre_east
        distance = np.hypot(n, e)
        self._refuse_beyond(distance)
        angle = distance / (self.radius + self.reference_height)
        # sin(angle) / distance, which has a limit at the centre
        scale = np.sinc(angle / np.pi) / (self.radius + self.reference_height)
        r = self.radius + np.asarray(height, dtype=float)
        return np.stack([r * scale * e, r * scale * n, r * np.cos(angle)], axis=-1)

    def grid(self, xyz: Floats) -> Floats:
        """Return north, east, height: see ``Frame.grid``."""
        east, north, up = np.moveaxis(_directions(xyz), -1, 0)
        across = np.hypot(east, north)
        angle = np.arctan2(across, up)
        whole = np.where(across > 0, across, 1.0)
        scale = np.where(across > 0, angle / whole, 1.0)
        scale = scale * (self.radius + self.reference_height)
        return np.stack(
            [
                self.centre_north + scale * north,
                self.centre_east + scale * east,
                self.heights(xyz),
            ],
            axis=-1,
        )

    def heights(self, xyz: Floats) -> Floats:
        """Return heights above the sphere: see ``Frame.heights``."""
        distance: Floats = np.linalg.norm(np.asarray(xyz, dtype=float), axis=-1)
        return distance - self.radius

    def describe(self) -> str:
        """Return the frame in one line."""
        heights = self.height_datum or "site datum"
        return (
            f"site grid on a curved earth (sphere of {self.radius:.0f} m at latitude "
            f"{self.latitude_deg:g}°, distances at {self.reference_height:g} m), "
            f"heights {heights}, metres"
        )

    def _refuse_beyond(self, distance: Floats) -> None:
        if not np.any(distance > LIMIT_M):
            return
        raise InputError(
            [
                Finding(
                    "beyond-curved-limit",
                    "fault",
                    "[frame] earth = curved",
                    file="job.toml",
                    booked=f"{np.nanmax(distance) / 1000:.1f} km from the job's centre",
                    against=f"at most {LIMIT_M / 1000:.0f} km",
                    mend="use a geodetic frame: kind = geodetic, with geographic_epsg",
                )
            ]
        )


def _directions(xyz: Floats) -> Floats:
    positions = np.asarray(xyz, dtype=float)
    length: Floats = np.linalg.norm(positions, axis=-1, keepdims=True)
    return positions / length


def curved_about(
    north: Floats,
    east: Floats,
    *,
    latitude_deg: float,
    reference_height: float,
    height_datum: str = "",
    centre: tuple[float, float] | None = None,
) -> CurvedFrame:
    """Return the curved frame about the middle of a job's booked positions.

    Parameters
    ----------
    north, east : ndarray, shape (n,)
        Booked grid positions, m; NaN where there is none.
    latitude_deg : float
    reference_height : float
        m.
    height_datum : str, optional
    centre : tuple of two floats, optional
        North, east of the centre, m; the middle where it is not stated.

    Returns
    -------
    CurvedFrame

    Raises
    ------
    InputError
        A position is farther than 10 km from the centre.

    Examples
    --------
    >>> frame = curved_about(np.array([0.0, 10.0]), np.array([4.0, 6.0]),
    ...                      latitude_deg=47.0, reference_height=400.0)
    >>> frame.centre_north, frame.centre_east
    (5.0, 5.0)
    """
    known = np.isfinite(north) & np.isfinite(east)
    at = (0.0, 0.0) if centre is None else centre
    if centre is None and known.any():
        at = _middle(north[known]), _middle(east[known])
    frame = CurvedFrame(latitude_deg, reference_height, *at, height_datum)
    frame.place(north[known], east[known], np.zeros(int(known.sum())))
    return frame


def _middle(values: Floats) -> float:
    """Return the middle of the extent, in whole metres.

    It does not move when a mark is added inside, and it can be written down.
    """
    return float(np.round((values.min() + values.max()) / 2))
