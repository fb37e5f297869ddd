"""What the job knows of the geoid: from geoid.csv, or from a geoid grid."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from ....networks.covariances import Floats
from ....networks.errors import MissingPart
from ....networks.findings import Finding
from ....networks.frames import Frame, GeodeticFrame
from ....networks.geoid import undulations
from ..job import FrameSection
from ..table import Table
from .names import MarkNames, resolve
from .places import to_natural

_STEP_DEG = 0.005
"""Half the span over which a grid's slope is taken: about the half of a kilometre,
less than the cells of common grids (1′ to 2.5′)."""


@dataclass(frozen=True, slots=True)
class Geoid:
    """What the job knows of the geoid at its marks."""

    undulation: Floats
    """(m,) geoid above the ellipsoid, m; NaN where not known."""
    sd: Floats
    """(m,) m."""
    source: str
    """``none``, ``table``, or the file's name."""
    model: str = ""
    """In words, as it is printed."""
    deflection: Floats | None = None
    """(m, 2) deflection of the vertical north and east, rad; NaN where not known."""


def job_geoid(
    section: FrameSection,
    folder: Path,
    tables: Mapping[str, Table],
    marks: MarkNames,
    frame: Frame,
    rough: Floats,
    findings: list[Finding],
) -> Geoid:
    """Return the geoid at the marks, from the table or the file that is stated.

    Without a geoid, but with undulations that are to be estimated, it is 0.

    Parameters
    ----------
    section : FrameSection
    folder : Path
        The job folder, in which a geoid file is looked up.
    tables : mapping of str to Table
    marks : MarkNames
    frame : Frame
    rough : ndarray, shape (m, 3)
        Rough positions of the marks, m.
    findings : list of Finding
        A missing file, or a mark outside the grid, is added here.
    """
    count = len(marks.names)
    nothing = Geoid(np.full(count, np.nan), np.zeros(count), section.geoid)
    if not isinstance(frame, GeodeticFrame):
        return nothing
    if section.geoid == "none":
        zero = replace(nothing, undulation=np.zeros(count))
        return zero if section.undulation else nothing
    if section.geoid == "table":
        return _from_table(tables, marks, nothing, findings)
    try:
        return _from_grid(section, folder / section.geoid, frame, rough)
    except MissingPart as error:
        findings.append(_no_grid(section.geoid, str(error)))
    return nothing


def none_needed(geoid: Geoid) -> Geoid:
    """Return the geoid of a job of heights alone, which needs none: 0 everywhere."""
    if geoid.source != "none":
        return geoid
    return replace(geoid, undulation=np.zeros_like(geoid.undulation))


def _from_table(
    tables: Mapping[str, Table],
    marks: MarkNames,
    nothing: Geoid,
    findings: list[Finding],
) -> Geoid:
    if "geoid" not in tables:
        return nothing
    table = tables["geoid"]
    mark = resolve(marks, table, "station", findings)
    rows = np.flatnonzero(mark >= 0)
    undulation, sd = nothing.undulation.copy(), nothing.sd.copy()
    undulation[mark[rows]] = table.number("undulation")[rows]
    sd[mark[rows]] = np.nan_to_num(table.number("sd_undulation")[rows])
    deflection = np.full((len(sd), 2), np.nan)
    for k, way in enumerate(("north", "east")):
        deflection[mark[rows], k] = table.number(f"deflection_{way}")[rows]
    models = dict.fromkeys(str(word) for word in table.word("model") if word)
    booked = np.isfinite(deflection).any()
    return replace(
        nothing,
        undulation=undulation,
        sd=sd,
        model=", ".join(models) or "geoid.csv",
        deflection=deflection if booked else None,
    )


def _from_grid(
    section: FrameSection, grid: Path, frame: GeodeticFrame, rough: Floats
) -> Geoid:
    latitude, longitude, _ = to_natural(frame, rough).T
    known = np.isfinite(latitude)
    found = np.full(len(rough), np.nan)
    found[known] = undulations(grid, latitude[known], longitude[known])
    sd = np.full(len(rough), section.geoid_sd or 0.0)
    slope = np.full((len(rough), 2), np.nan)
    slope[known] = slopes(grid, frame, latitude[known], longitude[known])
    return Geoid(found, sd, section.geoid, section.geoid, -slope)


def slopes(
    grid: Path, frame: GeodeticFrame, latitude: Floats, longitude: Floats
) -> Floats:
    """Return how a geoid grid rises to the north and to the east, by differences.

    Deflections of the vertical are the slope downwards: ξ ≈ −dN/dnorth,
    η ≈ −dN/deast (any geodesy text, from memory).

    Parameters
    ----------
    grid : Path
    frame : GeodeticFrame
    latitude, longitude : ndarray, shape (n,)
        Degrees.

    Returns
    -------
    ndarray, shape (n, 2)
        Ratios; NaN where the grid has no data about the place.
    """
    made = np.empty((len(latitude), 2))
    for k, (north, east) in enumerate(((_STEP_DEG, 0.0), (0.0, _STEP_DEG))):
        ends, heights = [], []
        for sign in (-1, 1):
            lat, lon = latitude + sign * north, longitude + sign * east
            heights.append(undulations(grid, lat, lon))
            natural = np.stack([lat, lon, np.zeros_like(lat)], axis=-1)
            ends.append(frame.cartesian(natural))
        apart = np.linalg.norm(ends[1] - ends[0], axis=1)
        made[:, k] = (heights[1] - heights[0]) / apart
    return made


def looked_up_about(
    geoid: Geoid, approximate: Floats, rough: Floats, names: tuple[str, ...]
) -> list[Finding]:
    """Return the note of undulations that hang on booked approximate positions.

    Parameters
    ----------
    geoid : Geoid
    approximate, rough : ndarray, shape (m, 3)
        As booked, and where the grid was looked up, m.
    names : tuple of str
        Of the marks.
    """
    if geoid.source in ("none", "table") or geoid.deflection is None:
        return []
    found = np.isfinite(geoid.undulation)
    about = np.flatnonzero(found & (rough == approximate).all(axis=1))
    slope = np.hypot(*geoid.deflection[about].T)
    if not len(about) or not np.isfinite(slope).any():
        return []
    few = ", ".join(names[m] for m in about[:8].tolist())
    more = f" and {len(about) - 8} more" if len(about) > 8 else ""
    return [
        Finding(
            "undulation-about",
            "note",
            f"{few}{more}",
            file="stations.csv",
            booked=f"looked up in {geoid.source} at the approximate position",
            against="an error of 10 m in it is worth up to "
            f"{np.nanmax(slope) * 1e4:.2f} mm of undulation there",
        )
    ]


def _no_grid(name: str, problem: str) -> Finding:
    return Finding(
        "geoid-file-missing",
        "fault",
        name,
        file="job.toml",
        booked=f"geoid = {name!r}",
        against=problem,
        likely="without it, heights would be off by the whole undulation, tens of "
        "metres",
        mend="put the grid file into the job folder, or state geoid = table",
    )
