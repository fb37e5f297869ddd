"""The coordinates of one mark in every frame that the job states, each with its ±."""

from dataclasses import dataclass
from typing import TYPE_CHECKING, cast

import numpy as np

from ..networks import GeodeticFrame
from ..networks.map_scale import turn_and_scale, turned
from .document import Column, Row, Table
from .judged import Judged
from .rounding import Units, number, percent

if TYPE_CHECKING:
    from ..networks.covariances import Floats


@dataclass(frozen=True, slots=True)
class Places:
    """All marks of a job, a row each, m and degrees; NaN where there is nothing."""

    geodetic: "Floats | None"
    """(m, 3) latitude, longitude, ellipsoidal height; None in a local job."""
    sd_enu: "Floats"
    """(m, 3) stated, in the mark's own axes; 0 where held."""
    sd_grid: "Floats"
    """(m, 2) north and east on the grid."""
    sd_xyz: "Floats"
    """(m, 3) geocentric."""
    turn: "Floats"
    """(m,) of true north, counter-clockwise from grid north, rad."""
    scale: "Floats"
    """(m,) metres on the grid of one on the ground."""


def places_of(judged: Judged) -> Places:
    """Return where all marks are in every frame, and how well that is known.

    Parameters
    ----------
    judged : Judged
    """
    frame, marks = judged.network.frame, judged.marks
    count = len(marks.xyz)
    there = np.flatnonzero(np.isfinite(marks.xyz).all(axis=1))
    xyz, covariance = marks.xyz[there], marks.covariance
    turn, scale = np.full(count, np.nan), np.full(count, np.nan)
    axes = np.full((count, 3, 3), np.nan)
    axes[there] = frame.axes(xyz)
    if frame.has_grid:
        turn[there], scale[there] = turn_and_scale(frame, xyz)
    geodetic = None
    if frame.kind == "geodetic":
        geodetic = np.full((count, 3), np.nan)
        geodetic[there] = cast(GeodeticFrame, frame).geodetic(xyz)
    # A height that is not adjusted has no part in the plan.
    known = np.nan_to_num(covariance)
    on_grid = turned(known, np.nan_to_num(turn))
    return Places(
        geodetic,
        _sd(covariance),
        _sd(on_grid)[:, [1, 0]],
        _sd(axes.swapaxes(1, 2) @ known @ axes),
        turn,
        scale,
    )


def _sd(covariance: "Floats") -> "Floats":
    variance = np.diagonal(covariance, axis1=1, axis2=2)
    return np.sqrt(np.maximum(variance, 0.0))


def places_table(judged: Judged, places: Places, mark: int, units: Units) -> Table:
    """Return the coordinates of a mark, a row each, with the limit of each alone.

    Parameters
    ----------
    judged : Judged
    places : Places
    mark : int
    units : Units
    """
    scale, confidence = judged.marks.multipliers, judged.network.options.confidence
    columns = (
        Column("coordinate", number=False),
        Column("in", number=False),
        Column("value"),
        Column(f"± ({units.small_unit})"),
    )
    rows = [
        *_geodetic_rows(judged, places, mark, units),
        *_grid_rows(judged, places, mark, units),
        *_geocentric_rows(judged, places, mark, units),
        *_height_rows(judged, mark, units),
    ]
    caption = (
        f"coordinates; ± {percent(confidence)}, each alone, {scale.kind}: "
        f"{number(scale.height, 'multiplier')} × the stated sd"
    )
    return Table(caption, columns, tuple(rows))


def _row(
    judged: Judged, what: str, where: str, value: str, sd: float, units: Units
) -> Row:
    limit = units.small(judged.marks.multipliers.height * sd)
    said = "held" if sd == 0 else limit or "not adjusted"
    return Row((what, where, value, said))


def _geodetic_rows(
    judged: Judged, places: Places, mark: int, units: Units
) -> list[Row]:
    if places.geodetic is None:
        return []
    latitude, longitude, height = (float(x) for x in places.geodetic[mark])
    east, north, up = (float(x) for x in places.sd_enu[mark])
    plan, has_height = judged.estimated[mark]
    unit, rows = units.angle_unit, []
    if plan:
        said = units.place(latitude, "NS"), units.place(longitude, "EW")
        geodetic = "geodetic"
        rows = [
            _row(judged, f"latitude ({unit})", geodetic, said[0], north, units),
            _row(judged, f"longitude ({unit})", geodetic, said[1], east, units),
        ]
    if has_height:
        what, said_height = f"height ({units.unit})", units.coordinate(height)
        rows.append(_row(judged, what, "ellipsoidal", said_height, up, units))
    return rows


def _grid_rows(judged: Judged, places: Places, mark: int, units: Units) -> list[Row]:
    frame = judged.network.frame
    if not frame.has_grid:
        return []
    where = "site grid" if frame.kind == "local" else "map grid"
    rows = [
        _row(
            judged,
            f"{axis} ({units.unit})",
            where,
            units.coordinate(float(judged.grid[mark, k])),
            float(places.sd_grid[mark, k]),
            units,
        )
        for k, axis in enumerate(("north", "east"))
        if judged.estimated[mark, 0]
    ]
    if frame.kind == "local" and judged.estimated[mark, 1]:
        said = units.coordinate(float(judged.grid[mark, 2]))
        sd = float(places.sd_enu[mark, 2])
        datum = getattr(frame, "height_datum", "") or "site datum"
        rows.append(_row(judged, f"height ({units.unit})", datum, said, sd, units))
    return rows


def _geocentric_rows(
    judged: Judged, places: Places, mark: int, units: Units
) -> list[Row]:
    if places.geodetic is None or not judged.estimated[mark].all():
        return []
    return [
        _row(
            judged,
            f"{axis} ({units.unit})",
            "geocentric",
            units.coordinate(float(judged.marks.xyz[mark, k])),
            float(places.sd_xyz[mark, k]),
            units,
        )
        for k, axis in enumerate("XYZ")
    ]


def _height_rows(judged: Judged, mark: int, units: Units) -> list[Row]:
    """Return the height above the geoid and the undulation, where they are known."""
    found, stated = judged.heights, judged.network.undulations
    if found is None or stated is None or not judged.estimated[mark, 1]:
        return []
    where, unit = stated.height_datum or "above the geoid", units.unit
    what, model = f"orthometric height ({unit})", stated.model or "no geoid model"
    above = units.coordinate(float(found.height[mark]))
    if not above:
        return [Row((what, where, "not known", ""))]
    undulation = units.coordinate(float(found.undulation[mark]))
    return [
        _row(judged, what, where, above, float(found.sd[mark]), units),
        Row((f"geoid undulation ({unit})", model, undulation, "")),
    ]


def place_facts(
    judged: Judged, places: Places, mark: int, units: Units
) -> list[tuple[str, str]]:
    """Return ellipse and circle of a mark, and how the grid stands to the ground.

    Parameters
    ----------
    judged : Judged
    places : Places
    mark : int
    units : Units
    """
    marks, confidence = judged.marks, percent(judged.network.options.confidence)
    if not judged.estimated[mark, 0]:
        return []
    local = judged.network.frame.kind == "local"
    ellipse, circle = "plan held: no ellipse", "plan held"
    if not judged.held[mark, :2].all():
        north = "grid" if local else "true"
        ellipse = (
            f"{units.small(float(marks.semi_major[mark]))} by "
            f"{units.small(float(marks.semi_minor[mark]))}, azimuth "
            f"{units.said_azimuth(float(marks.azimuth[mark]))} from {north} north"
        )
        circle = f"radius {units.small(float(marks.circle[mark]))}"
    small = units.small_unit
    facts = [
        (f"{confidence} ellipse ({small})", ellipse),
        (f"{confidence} circle ({small})", circle),
    ]
    if not local and np.isfinite(places.turn[mark]):
        said = units.reading(float(places.turn[mark]))
        factor = number(float(places.scale[mark]), "combined factor")
        facts += [
            (f"convergence, grid east of true north ({units.angle_unit})", said),
            ("combined factor, grid over ground", factor),
        ]
    return facts
