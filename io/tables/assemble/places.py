"""Booked coordinates: latitude and longitude, north and east, or X, Y, Z.

A place is kept in the three *natural* coordinates of the job's frame: latitude and
longitude in degrees and ellipsoidal height in a geodetic job; north, east and height
in a local one. What is not booked is NaN, so that a benchmark is a height alone.
"""

from dataclasses import dataclass

import numpy as np

from ....networks.covariances import Bools, Floats, Ints
from ....networks.datums import carried_over, is_projected
from ....networks.errors import BrasscapError
from ....networks.findings import Finding
from ....networks.frames import Frame, GeodeticFrame, crs
from ..table import Table
from .stated import Stated

HIGHEST_M = 20_000.0
"""No mark is higher above the ellipsoid, or deeper below it."""


@dataclass(frozen=True, slots=True)
class Places:
    """Booked coordinates, a row each."""

    natural: Floats
    """(n, 3): latitude, longitude (degrees), height; or north, east, height (m)."""
    xyz: Floats
    """(n, 3) cartesian, m, exact where all three are booked; else NaN."""
    orthometric: Floats
    """(n,) height above a height datum that still waits for the undulation, m."""

    @property
    def has_plan(self) -> Bools:
        """(n,) whether plan is booked."""
        return np.isfinite(self.natural[:, 0]) & np.isfinite(self.natural[:, 1])

    @property
    def has_height(self) -> Bools:
        """(n,) whether a height is booked, of either kind."""
        return np.isfinite(self.natural[:, 2]) | np.isfinite(self.orthometric)

    def placed(self, frame: Frame, heights: Floats) -> Floats:
        """Return cartesian positions, with other heights where none is known, m.

        Parameters
        ----------
        frame : Frame
        heights : ndarray, shape (n,)
            m; a row stays NaN where this one is NaN too.
        """
        natural = self.natural.copy()
        natural[:, 2] = np.where(np.isnan(natural[:, 2]), heights, natural[:, 2])
        whole: Bools = np.all(np.isfinite(self.xyz), axis=1)
        return np.where(whole[:, None], self.xyz, to_cartesian(frame, natural))


def to_cartesian(frame: Frame, natural: Floats) -> Floats:
    """Return cartesian positions of natural coordinates, NaN where one is missing."""
    known = np.isfinite(natural).all(axis=1)
    xyz = np.full((len(natural), 3), np.nan)
    if known.any():
        first, second, height = natural[known].T
        if isinstance(frame, GeodeticFrame):
            xyz[known] = frame.cartesian(natural[known])
        else:
            xyz[known] = frame.place(first, second, height)
    return xyz


def to_natural(frame: Frame, xyz: Floats) -> Floats:
    """Return natural coordinates of cartesian positions, NaN where there is none."""
    known = np.isfinite(xyz).all(axis=1)
    natural = np.full((len(xyz), 3), np.nan)
    if known.any():
        if isinstance(frame, GeodeticFrame):
            natural[known] = frame.geodetic(xyz[known])
        else:
            natural[known] = frame.grid(xyz[known])
    return natural


def booked_places(
    table: Table,
    frame: Frame,
    stated: Stated,
    findings: list[Finding],
    prefix: str = "",
) -> Places:
    """Return the coordinates of a table's rows, in the job's frame.

    Parameters
    ----------
    table : Table
        Columns as control.csv has them, or stations.csv with ``approx_``.
    frame : Frame
    stated : Stated
        Frame, epoch and operation of the rows.
    findings : list of Finding
        Rows that cannot be placed are added here.
    prefix : str, optional
        ``approx_`` for the stations table.
    """
    n = len(table)
    geodetic = isinstance(frame, GeodeticFrame)
    natural = np.full((n, 3), np.nan)
    xyz = np.stack([table.number(prefix + axis) for axis in "xyz"], axis=-1)
    first, second = ("latitude", "longitude") if geodetic else ("north", "east")
    natural[:, 0] = table.number(prefix + first)
    natural[:, 1] = table.number(prefix + second)
    heights = table.number(prefix + "height")
    orthometric = heights if geodetic else np.full(n, np.nan)
    natural[:, 2] = table.number(prefix + "ellipsoidal_height") if geodetic else heights
    wrong = _misplaced_columns(table, geodetic, prefix, findings)
    usable = stated.usable & ~wrong
    if isinstance(frame, GeodeticFrame):
        _from_grids(table, frame, stated, natural, prefix, findings)
        # A latitude beyond the pole is told by its cell, half a plan by its row.
        on_earth = (np.abs(natural[:, 0]) <= 90) & np.isfinite(natural[:, 1])
        natural[~on_earth, :2] = np.nan
        whole: Bools = np.all(np.isfinite(xyz), axis=1)
        natural[whole] = to_natural(frame, xyz[whole])
        usable &= ~_off_the_ground(table, natural, prefix, findings)
        natural[~usable], xyz[~usable] = np.nan, np.nan
        xyz = np.where(whole[:, None], xyz, to_cartesian(frame, natural))
        _carry_over(table, frame, stated, natural, xyz, findings)
    else:
        xyz = to_cartesian(frame, np.where(usable[:, None], natural, np.nan))
    natural[~usable], xyz[~usable] = np.nan, np.nan
    return Places(natural, xyz, np.where(usable, orthometric, np.nan))


def _misplaced_columns(
    table: Table, geodetic: bool, prefix: str, findings: list[Finding]
) -> Bools:
    """Return the rows booked in coordinates that this kind of job does not have."""
    wrong = np.zeros(len(table), dtype=bool)
    ways = [prefix + column for column in ("latitude", "north", "x")]
    has = {column: table.has(column) for column in ways}
    suspects = np.sum(list(has.values()), axis=0) > 1
    if not geodetic:
        suspects |= has[ways[0]] | has[ways[2]]
    for i in np.flatnonzero(suspects).tolist():
        plans = [column for column in ways if has[column][i]]
        booked = [] if geodetic else [c for c in plans if c != ways[1]]
        if booked:
            wrong[i] = True
            findings.append(
                table.finding(
                    "frame-differs",
                    "fault",
                    i,
                    tuple(booked),
                    against="a local job: positions are north, east, height of the "
                    "site grid",
                    mend="give north_m, east_m, height_m, or make the job geodetic",
                )
            )
        elif len(plans) > 1:
            wrong[i] = True
            findings.append(
                table.finding(
                    "position-twice",
                    "fault",
                    i,
                    tuple(plans),
                    against="one position a row",
                    mend="give one of latitude/longitude, north/east, or x/y/z; "
                    "put the other into a row of its own job",
                )
            )
    return wrong


def _from_grids(
    table: Table,
    frame: GeodeticFrame,
    stated: Stated,
    natural: Floats,
    prefix: str,
    findings: list[Finding],
) -> None:
    """Fill latitude and longitude of the rows booked as north and east."""
    on_grid = table.has(prefix + "north") & stated.usable
    north, east = table.number(prefix + "north"), table.number(prefix + "east")
    for code in np.unique(stated.code[on_grid]):
        rows = np.flatnonzero(on_grid & (stated.code == code))
        own = is_projected(int(code))
        grid = int(code) if own else frame.grid_epsg
        base = frame.geographic_epsg if grid is None else _geodetic_code(grid)
        try:
            source = GeodeticFrame(base, frame.epoch, grid)
            xyz = source.place(north[rows], east[rows], np.zeros(len(rows)))
        except BrasscapError as error:
            findings.append(_no_grid(table, rows, prefix, str(error)))
            continue
        natural[rows, :2] = source.geodetic(xyz)[:, :2]
        for i in rows[~np.isfinite(xyz).all(axis=1)].tolist():
            findings.append(_outside(table, i, prefix))


def _off_the_ground(
    table: Table, natural: Floats, prefix: str, findings: list[Finding]
) -> Bools:
    """Return the rows that are so high or so deep that a unit must be wrong."""
    high: Bools = ~np.isnan(natural[:, 2]) & ~(np.abs(natural[:, 2]) < HIGHEST_M)
    for i in np.flatnonzero(high).tolist():
        columns = ("x", "y", "z", "ellipsoidal_height")
        booked = tuple(prefix + c for c in columns if table.has(prefix + c)[i])
        findings.append(
            table.finding(
                "position-not-on-earth",
                "fault",
                i,
                booked,
                against=f"within {HIGHEST_M / 1000:.0f} km of the ellipsoid",
                likely="another unit, or X, Y, Z in another order or with another sign",
                mend="compare with the source, and mind the unit in the header",
            )
        )
    return high


def _outside(table: Table, i: int, prefix: str) -> Finding:
    return table.finding(
        "position-outside-grid",
        "fault",
        i,
        (prefix + "north", prefix + "east"),
        against="the map grid does not reach there",
        likely="north and east exchanged, or another unit",
        mend="compare with the source, and mind the unit in the header",
    )


def _geodetic_code(code: int) -> int:
    """Return the geographic frame of a grid's code; any other code as it is."""
    return int(crs(code).geodetic_crs.to_epsg())


def _no_grid(table: Table, rows: Ints, prefix: str, problem: str) -> Finding:
    return table.finding(
        "grid-not-stated",
        "fault",
        int(rows[0]),
        (prefix + "north", prefix + "east"),
        against=f"no map grid that can be used ({problem}); {len(rows)} rows of the "
        "table are booked so",
        mend="state grid_epsg = CODE of the map grid in [frame]",
    )


def _carry_over(
    table: Table,
    frame: GeodeticFrame,
    stated: Stated,
    natural: Floats,
    xyz: Floats,
    findings: list[Finding],
) -> None:
    """Bring the rows of another frame or epoch to the job's, in place."""
    for i in np.flatnonzero((stated.operation != "") & stated.usable):
        plan = np.isfinite(natural[i, :2]).all()
        if not plan:
            natural[i], xyz[i] = np.nan, np.nan
            findings.append(
                table.finding(
                    "frame-differs",
                    "fault",
                    int(i),
                    ("frame_epsg",),
                    against="the job's frame; a height alone cannot be brought over",
                    mend="give the position too, or the height in the job's frame",
                )
            )
            continue
        # Where only the plan is known, its height hardly matters to the way over.
        start = np.where(np.isfinite(natural[i]), natural[i], 0.0)
        source = GeodeticFrame(_geodetic_code(int(stated.code[i])), frame.epoch)
        place = xyz[i] if table.has("x")[i] else source.cartesian(start[None])[0]
        try:
            over = carried_over(
                str(stated.operation[i]), place[None], float(stated.epoch[i])
            )
        except ValueError as error:
            findings.append(_bad_operation(table, int(i), stated, str(error)))
            continue
        known = np.isfinite(natural[i])
        natural[i] = np.where(known, frame.geodetic(over)[0], np.nan)
        if known.all():
            xyz[i] = over[0]


def _bad_operation(table: Table, i: int, stated: Stated, problem: str) -> Finding:
    return table.finding(
        "operation-unusable",
        "fault",
        i,
        ("frame_epsg", "epoch"),
        against=f"[frame] transformations operation {stated.operation[i]!r}: {problem}",
        mend="state one that takes geocentric X, Y, Z to the job's frame",
    )
