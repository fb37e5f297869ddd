"""Geocentric vectors in a site grid: turned upright where the site is on the earth.

What is left is a turn about the vertical, the azimuth of the grid's north, which is
estimated. Latitude and longitude alone say which way east, north and up point, so that
no ellipsoid, no height and no datum enter: those of GRS 80 and of any other modern
ellipsoid differ by less than a tenth of a second of arc.
"""

import numpy as np

from ....networks.covariances import Bools, Floats
from ....networks.findings import Finding
from ....networks.frames import local_axes
from ..job import FrameSection
from ..table import Table

EARTH_M = 6371000.0
"""Mean radius, for what a flat site neglects."""
NEGLECTED_M = 0.001
"""Curvature from which a flat site is a query: 1 mm at 113 m."""


def origin_axes(section: FrameSection) -> Floats | None:
    """Return (3, 3) rows east, north, up at the origin of a local job; None without.

    Examples
    --------
    At 0° N, 0° E geocentric X is up, Y is east and Z is north:

    >>> section = FrameSection(origin_latitude=0.0, origin_longitude=0.0)
    >>> origin_axes(section).round(12).tolist()
    [[-0.0, 1.0, 0.0], [-0.0, -0.0, 1.0], [1.0, 0.0, 0.0]]
    """
    latitude, longitude = section.origin_latitude, section.origin_longitude
    if section.kind == "geodetic" or latitude is None or longitude is None:
        return None
    return local_axes(np.radians(latitude), np.radians(longitude))


def geocentric_in_site(
    table: Table, section: FrameSection, level: Bools, findings: list[Finding]
) -> Bools:
    """Return (n,) the vectors that are geocentric in a local job.

    Without an origin that is a fault; on a flat earth, where vectors are so long that
    it shows, a query; on a curved one, where the origin lies in the grid is to be said.
    """
    if section.kind == "geodetic":
        return np.zeros(len(table), dtype=bool)
    geocentric: Bools = ~level & table.has("dx")
    rows = np.flatnonzero(geocentric)
    if len(rows) and origin_axes(section) is None:
        findings.append(_no_origin(table, int(rows[0]), len(rows)))
    elif len(rows) and section.earth == "flat":
        findings += _flat(table, rows)
    elif len(rows) and section.origin is None:
        findings.append(_place_assumed(len(rows)))
    return geocentric


def _no_origin(table: Table, row: int, count: int) -> Finding:
    return table.finding(
        "vector-axes",
        "fault",
        row,
        ("dx", "dy", "dz"),
        against=f"a local job; {count} vectors are geocentric, and it is not stated "
        "where on the earth the site is, so that east, north and up are not known",
        mend="state origin_latitude_deg and origin_longitude_deg of the middle of the "
        "site in [frame], to a second of arc; the turn of the grid is then estimated. "
        "Or make the job geodetic",
    )


def _flat(table: Table, rows: np.ndarray) -> list[Finding]:
    delta = np.stack([table.number(f"d{axis}")[rows] for axis in "xyz"], axis=-1)
    length = np.linalg.norm(np.nan_to_num(delta), axis=1)
    k = int(length.argmax())
    neglected = float(length[k]) ** 2 / (2 * EARTH_M)
    if neglected <= NEGLECTED_M:
        return []
    return [
        table.finding(
            "curvature-neglected",
            "query",
            int(rows[k]),
            ("dx", "dy", "dz"),
            against=f"[frame] earth = flat: over {length[k]:.0f} m a vector's height "
            f"and a level's differ by {1000 * neglected:.0f} mm",
            mend="state earth = curved, latitude_deg and reference_height_m",
        )
    ]


def _place_assumed(count: int) -> Finding:
    return Finding(
        "origin-place-assumed",
        "query",
        f"{count} geocentric vectors in a site grid",
        file="job.toml",
        column="origin_north_m",
        booked="origin_latitude_deg, origin_longitude_deg without their place",
        against="north and east of that place in the grid; it is taken to be the "
        "middle of what is booked: 31 m beside it lean every vector by a second of "
        "arc, 1 mm in height over 200 m",
        mend="state origin_north_m and origin_east_m in [frame]",
    )
