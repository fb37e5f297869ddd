"""One mark seen from another: distances, azimuth, relative ellipse."""

from dataclasses import dataclass

import numpy as np

from ...networks import CommandError, GeodeticFrame
from ...networks.covariances import Floats
from ..adjustment import Adjustment
from .ellipses import Multipliers, circle_exact, ellipse, multipliers


@dataclass(frozen=True, slots=True)
class Pair:
    """Two marks, metres and radians; NaN where a value does not exist."""

    start: str
    end: str
    slope_distance: float
    level_distance: float
    """Horizontal at the mean height of the two marks: the ground distance."""
    ellipsoid_distance: float
    grid_distance: float
    azimuth: float
    """Geodetic, at the start, clockwise from north (grid in a local job)."""
    grid_azimuth: float
    height_difference: float
    covariance: Floats
    """(3, 3) of end minus start, east, north, up at the start, stated, m²."""
    semi_major: float
    semi_minor: float
    ellipse_azimuth: float
    height_limit: float
    circle: float
    sd_distance: float
    """Stated, of the level distance."""
    sd_across: float
    """Stated, across the line."""
    multipliers: Multipliers


def pair(adjustment: Adjustment, start: str, end: str) -> Pair:
    """Return what the solution says about two marks seen from one another.

    Parameters
    ----------
    adjustment : Adjustment
    start, end : str
        Names of two marks.

    Returns
    -------
    Pair
        Metres and radians; NaN for plan or height where one of the two has none.

    Raises
    ------
    CommandError
        A mark has another name, or the two have neither plan nor height in common.
    """
    i, j = (_mark(adjustment, name) for name in (start, end))
    plan, height = _common(adjustment, i, j)
    first, second = np.array([i, i, j]), np.array([i, j, j])
    own, cross, other = adjustment.covariance(first, second)
    axes = adjustment.nodes.axes
    turn = axes[i] @ axes[j].T
    mixed = cross @ turn.T
    covariance = own + turn @ other @ turn.T - mixed - mixed.T
    lacking = ~np.array([plan, plan, height])
    covariance[lacking], covariance[:, lacking] = np.nan, np.nan
    line = axes[i] @ (adjustment.nodes.xyz[j] - adjustment.nodes.xyz[i])
    scale = multipliers(
        adjustment.network.options, adjustment.s0_sq, adjustment.degrees_of_freedom
    )
    major, minor, turned = ellipse(covariance[:2, :2]) if plan else (np.nan,) * 3
    azimuth = float(np.mod(np.arctan2(line[0], line[1]), 2 * np.pi))
    azimuth = azimuth if plan else float("nan")
    along = np.array([np.sin(azimuth), np.cos(azimuth)])
    across = np.array([along[1], -along[0]])
    flat = covariance[:2, :2]
    standard = np.sqrt(scale.ellipse**2 / -2 / np.log(1 - scale.confidence))
    circle = float("nan")
    if plan:
        axes_of_circle = (major * standard, minor * standard)
        circle = float(circle_exact(*axes_of_circle, scale.confidence))
    measures = _measures(adjustment, (i, j), plan=plan, height=height)
    return Pair(
        start,
        end,
        float(np.linalg.norm(line)) if plan and height else float("nan"),
        *measures[:3],
        azimuth,
        *measures[3:],
        covariance,
        float(scale.ellipse * major),
        float(scale.ellipse * minor),
        float(turned),
        float(scale.height * np.sqrt(covariance[2, 2])),
        circle,
        float(np.sqrt(along @ flat @ along)),
        float(np.sqrt(across @ flat @ across)),
        scale,
    )


def _distances(
    adjustment: Adjustment, i: int, j: int
) -> tuple[float, float, float, float, float]:
    """Return level, ellipsoid and grid distance, grid azimuth, height difference."""
    frame = adjustment.network.frame
    ends = adjustment.nodes.xyz[[i, j]]
    rise = float(np.diff(frame.heights(ends))[0])
    slope = float(np.linalg.norm(ends[1] - ends[0]))
    level = float(np.sqrt(max(slope**2 - rise**2, 0.0)))
    ellipsoid = grid_distance = grid_azimuth = float("nan")
    if frame.has_grid:
        north, east = np.diff(frame.grid(ends)[:, :2], axis=0)[0]
        grid_distance = float(np.hypot(north, east))
        grid_azimuth = float(np.mod(np.arctan2(east, north), 2 * np.pi))
    if isinstance(frame, GeodeticFrame):
        ellipsoid = frame.geodesic(ends)
    return level, ellipsoid, grid_distance, grid_azimuth, rise


def _measures(
    adjustment: Adjustment, ends: tuple[int, int], *, plan: bool, height: bool
) -> tuple[float, float, float, float, float]:
    """Return the distances of what was estimated; NaN for the rest."""
    level, ellipsoid, grid, azimuth, rise = _distances(adjustment, *ends)
    nothing = float("nan")
    if not plan:
        level = ellipsoid = grid = azimuth = nothing
    return level, ellipsoid, grid, azimuth, rise if height else nothing


def _mark(adjustment: Adjustment, name: str) -> int:
    names = adjustment.network.marks.name
    if name not in names:
        from difflib import get_close_matches

        near = get_close_matches(name, names, 1)
        hint = f"; did you mean {near[0]}?" if near else ""
        raise CommandError(f"no mark {name}{hint}")
    return names.index(name)


def _common(adjustment: Adjustment, i: int, j: int) -> tuple[bool, bool]:
    """Return whether two marks both have a plan, and both a height."""
    both = adjustment.estimated[i] & adjustment.estimated[j]
    plan, height = bool(both[:2].all()), bool(both[2])
    if not plan and not height:
        names = adjustment.network.marks.name
        raise CommandError(
            f"marks {names[i]} and {names[j]} have neither plan nor height in common"
        )
    return plan, height
