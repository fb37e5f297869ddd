"""Frames: the cartesian axes in which everything is computed, and the way in and out.

A geodetic job is computed in geocentric X, Y, Z of its ellipsoid, a local job in
east, north, height of its site (or, where the earth is curved, in geocentric axes of
a sphere). Every mark has local axes east, north, up. pyproj does every
transformation, never by a ballpark route, never from the network.
"""

from dataclasses import dataclass, field
from functools import cache
from typing import Any, Protocol

import numpy as np

from .covariances import Floats
from .errors import InputError, MissingPart
from .findings import Finding


class Frame(Protocol):
    """What a job's frame can do, geodetic or local."""

    @property
    def kind(self) -> str:
        """``geodetic`` or ``local``."""

    @property
    def has_grid(self) -> bool:
        """Whether north and east exist: a site grid, or a stated map projection."""

    def axes(self, xyz: Floats) -> Floats:
        """Return the local axes at cartesian positions.

        Parameters
        ----------
        xyz : ndarray, shape (n, 3)

        Returns
        -------
        ndarray, shape (n, 3, 3)
            Rows: unit vectors east, north, up.
        """

    def place(self, north: Floats, east: Floats, height: Floats) -> Floats:
        """Return cartesian positions of north, east (grid) and height, all m."""

    def grid(self, xyz: Floats) -> Floats:
        """Return (n, 3): north, east (grid) and height, m; NaN where there is none.

        The height is ellipsoidal in a geodetic job and the site's in a local one.
        """

    def heights(self, xyz: Floats) -> Floats:
        """Return (n,) the heights of cartesian positions, m: ellipsoidal or site."""

    def describe(self) -> str:
        """Return frame, epoch and unit in one line, as printed in every heading."""


@dataclass(frozen=True, slots=True)
class LocalFrame:
    """A site grid on a flat earth: east, north, height with parallel verticals."""

    height_datum: str = ""
    kind: str = field(default="local", init=False)
    has_grid: bool = field(default=True, init=False)

    def axes(self, xyz: Floats) -> Floats:
        """Return the same axes everywhere: see ``Frame.axes``."""
        return np.broadcast_to(np.eye(3), (len(xyz), 3, 3)).copy()

    def place(self, north: Floats, east: Floats, height: Floats) -> Floats:
        """Return east, north, height: see ``Frame.place``."""
        return np.stack([east, north, height], axis=-1)

    def grid(self, xyz: Floats) -> Floats:
        """Return north, east, height: see ``Frame.grid``."""
        return xyz[..., [1, 0, 2]]

    def heights(self, xyz: Floats) -> Floats:
        """Return site heights: see ``Frame.heights``."""
        return np.asarray(xyz)[..., 2]

    def describe(self) -> str:
        """Return the frame in one line."""
        heights = self.height_datum or "site datum"
        return f"site grid on a flat earth, heights {heights}, metres"


@dataclass(frozen=True, slots=True)
class GeodeticFrame:
    """A geodetic frame by its EPSG code, at a stated epoch.

    Examples
    --------
    IOGP 373-7-2, method 9602 (from memory): WGS 84, 53°48′33.820″ N, 2°07′46.380″ E,
    73.0 m is X 3771793.968, Y 140253.342, Z 5124304.349 m.

    >>> frame = GeodeticFrame(4979, 2010.0)
    >>> position = frame.cartesian(np.array([[53.80939444, 2.12955, 73.0]]))
    >>> print(np.round(position, 2))
    [[3771793.97  140253.34 5124304.35]]
    """

    geographic_epsg: int
    epoch: float
    """Decimal year."""
    grid_epsg: int | None = None
    kind: str = field(default="geodetic", init=False)

    @property
    def has_grid(self) -> bool:
        """Whether a map projection is stated."""
        return self.grid_epsg is not None

    def cartesian(self, geodetic: Floats) -> Floats:
        """Return geocentric positions.

        Parameters
        ----------
        geodetic : ndarray, shape (n, 3)
            Latitude and longitude in degrees, ellipsoidal height in m.

        Returns
        -------
        ndarray, shape (n, 3)
            X, Y, Z, m.
        """
        lat, lon, height = np.moveaxis(np.asarray(geodetic, dtype=float), -1, 0)
        to = _geocentric(self.geographic_epsg)
        return np.stack(to.transform(lon, lat, height), axis=-1)

    def geodetic(self, xyz: Floats) -> Floats:
        """Return latitude and longitude in degrees and ellipsoidal height in m."""
        x, y, z = np.moveaxis(np.asarray(xyz, dtype=float), -1, 0)
        to = _geocentric(self.geographic_epsg)
        lon, lat, height = to.transform(x, y, z, direction="INVERSE")
        return np.stack([lat, lon, height], axis=-1)

    def geodesic(self, ends: Floats) -> float:
        """Return the distance on the ellipsoid between two positions (2, 3), m."""
        from pyproj import Geod

        ellipsoid = crs(self.geographic_epsg).ellipsoid
        geod = Geod(a=ellipsoid.semi_major_metre, b=ellipsoid.semi_minor_metre)
        (lat, lon, _), (other_lat, other_lon, _) = self.geodetic(ends)
        return float(geod.inv(lon, lat, other_lon, other_lat)[2])

    def heights(self, xyz: Floats) -> Floats:
        """Return ellipsoidal heights: see ``Frame.heights``."""
        return self.geodetic(xyz)[..., 2]

    def axes(self, xyz: Floats) -> Floats:
        """Return east, north, up on the ellipsoid: see ``Frame.axes``."""
        lat, lon, _ = np.moveaxis(self.geodetic(xyz), -1, 0)
        return local_axes(np.radians(lat), np.radians(lon))

    def place(self, north: Floats, east: Floats, height: Floats) -> Floats:
        """Return geocentric positions of grid coordinates: see ``Frame.place``."""
        unit = self._grid_unit()
        lon, lat = self._projection().transform(
            np.asarray(east) / unit, np.asarray(north) / unit, direction="INVERSE"
        )
        return self.cartesian(np.stack([lat, lon, height], axis=-1))

    def grid(self, xyz: Floats) -> Floats:
        """Return north, east, ellipsoidal height: see ``Frame.grid``."""
        lat, lon, height = np.moveaxis(self.geodetic(xyz), -1, 0)
        if self.grid_epsg is None:
            nowhere = np.full_like(height, np.nan)
            return np.stack([nowhere, nowhere, height], axis=-1)
        east, north = self._projection().transform(lon, lat)
        unit = self._grid_unit()
        return np.stack([north * unit, east * unit, height], axis=-1)

    def describe(self) -> str:
        """Return frame, epoch and unit in one line."""
        name = crs_name(self.geographic_epsg)
        text = f"{name} (EPSG:{self.geographic_epsg}), epoch {self.epoch:.7g}"
        if self.grid_epsg is not None:
            text += f", grid {crs_name(self.grid_epsg)} (EPSG:{self.grid_epsg})"
        return text + ", metres"

    def _grid_unit(self) -> float:
        """Return the metres of the projection's own unit: many grids are in feet."""
        if self.grid_epsg is None:
            return 1.0
        return float(crs(self.grid_epsg).axis_info[0].unit_conversion_factor)

    def _projection(self) -> Any:
        if self.grid_epsg is None:
            raise InputError(
                [
                    Finding(
                        "grid-not-stated",
                        "fault",
                        "grid coordinates",
                        file="job.toml",
                        against="[frame] states no grid_epsg",
                        mend="state grid_epsg = CODE of the map grid in [frame]",
                    )
                ]
            )
        return _grid(self.geographic_epsg, self.grid_epsg)


def local_axes(latitude: Floats, longitude: Floats) -> Floats:
    """Return the unit vectors east, north, up at geodetic positions, as rows.

    Parameters
    ----------
    latitude, longitude : ndarray, shape (n,)
        Radians.

    Returns
    -------
    ndarray, shape (n, 3, 3)
    """
    sin_lat, cos_lat = np.sin(latitude), np.cos(latitude)
    sin_lon, cos_lon = np.sin(longitude), np.cos(longitude)
    zero = np.zeros_like(sin_lon)
    rows = [
        [-sin_lon, cos_lon, zero],
        [-sin_lat * cos_lon, -sin_lat * sin_lon, cos_lat],
        [cos_lat * cos_lon, cos_lat * sin_lon, sin_lat],
    ]
    return np.moveaxis(np.array(rows), (0, 1), (-2, -1))


@cache
def crs(code: int) -> Any:
    """Return pyproj's CRS of an EPSG code; an unknown code is an ``InputError``."""
    from pyproj import CRS
    from pyproj.exceptions import CRSError

    try:
        return CRS.from_epsg(code)
    except CRSError:
        raise InputError(
            [
                Finding(
                    "frame-unknown",
                    "fault",
                    f"EPSG:{code}",
                    file="job.toml",
                    booked=f"{code}",
                    against="the EPSG data set of the installed PROJ",
                    mend="look the code up in the EPSG registry",
                )
            ]
        ) from None


def crs_name(code: int) -> str:
    """Return the name of an EPSG code."""
    return str(crs(code).name)


@cache
def _geocentric(geographic_epsg: int) -> Any:
    from pyproj import Transformer

    ellipsoid = crs(geographic_epsg).ellipsoid
    a, b = ellipsoid.semi_major_metre, ellipsoid.semi_minor_metre
    return Transformer.from_pipeline(
        "+proj=pipeline +step +proj=unitconvert +xy_in=deg +xy_out=rad "
        f"+step +proj=cart +a={a!r} +b={b!r}"
    )


@cache
def _grid(geographic_epsg: int, grid_epsg: int) -> Any:
    from pyproj import Transformer
    from pyproj.exceptions import ProjError

    try:
        return Transformer.from_crs(
            crs(geographic_epsg).to_2d(),
            crs(grid_epsg),
            always_xy=True,
            allow_ballpark=False,
            only_best=True,
        )
    except ProjError as error:
        raise MissingPart(
            f"no exact way from EPSG:{geographic_epsg} to EPSG:{grid_epsg}: {error}"
        ) from error
