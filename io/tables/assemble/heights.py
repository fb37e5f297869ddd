"""Orthometric heights to ellipsoidal ones: the geoid table, or a geoid grid."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from ....networks.covariances import Floats, Ints
from ....networks.errors import MissingPart
from ....networks.findings import Finding
from ....networks.frames import Frame, GeodeticFrame
from ....networks.geoid import undulations
from ..job import FrameSection
from ..table import Table
from .names import MarkNames, resolve
from .places import Places, to_natural


@dataclass(frozen=True, slots=True)
class Geoid:
    """What the job knows of the geoid at its marks."""

    undulation: Floats
    """(m,) geoid above the ellipsoid, m; NaN where not known."""
    sd: Floats
    """(m,) m."""
    source: str
    """``none``, ``table``, or the file's name."""


def job_geoid(
    section: FrameSection,
    folder: Path,
    tables: Mapping[str, Table],
    marks: MarkNames,
    frame: Frame,
    rough: Floats,
    findings: list[Finding],
) -> Geoid:
    """Return the undulations at the marks, from the table or the file that is stated.

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
    if section.geoid == "none" or not isinstance(frame, GeodeticFrame):
        return nothing
    if section.geoid == "table":
        return _from_table(tables, marks, nothing, findings)
    latitude, longitude, _ = to_natural(frame, rough).T
    known = np.isfinite(latitude)
    found = np.full(count, np.nan)
    try:
        grid = folder / section.geoid
        found[known] = undulations(grid, latitude[known], longitude[known])
    except MissingPart as error:
        findings.append(_no_grid(section.geoid, str(error)))
    return Geoid(found, np.full(count, section.geoid_sd or 0.0), section.geoid)


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
    return replace(nothing, undulation=undulation, sd=sd)


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


def ellipsoidal(
    places: Places,
    table: Table,
    mark: Ints,
    geoid: Geoid,
    findings: list[Finding],
) -> tuple[Places, Floats]:
    """Return the places with orthometric heights made ellipsoidal, h = H + N.

    Parameters
    ----------
    places : Places
    table : Table
    mark : ndarray of int, shape (n,)
        Marks of the rows, −1 where unknown.
    geoid : Geoid
    findings : list of Finding
        Rows without an undulation are added here.

    Returns
    -------
    places : Places
    sd : ndarray, shape (n,)
        Standard deviation of the undulation in each row's height, m; 0 for none.
    """
    sd = np.zeros(len(table))
    waiting = np.isfinite(places.orthometric)
    both = waiting & np.isfinite(places.natural[:, 2])
    for i in np.flatnonzero(both).tolist():
        findings.append(_two_heights(table, i, places, geoid, int(mark[i])))
    rows = np.flatnonzero(waiting & ~both & (mark >= 0))
    n_of = geoid.undulation[mark[rows]]
    findings.extend(_without(table, rows[np.isnan(n_of)], geoid))
    natural = places.natural.copy()
    natural[rows, 2] = places.orthometric[rows] + n_of
    sd[rows] = geoid.sd[mark[rows]]
    return replace(places, natural=natural), sd


def _without(table: Table, rows: Ints, geoid: Geoid) -> list[Finding]:
    against = {
        "none": "geoid = none: no way from a height above the geoid to the ellipsoid",
        "table": "geoid = table: the mark has no undulation in geoid.csv",
    }.get(geoid.source, f"{geoid.source} has no undulation there")
    mend = {
        "none": "state [frame] geoid = table and give geoid.csv, or geoid = FILE with "
        "geoid_sd_mm; or give ellipsoidal_height_m",
        "table": "add the mark's undulation to geoid.csv",
    }.get(geoid.source, "use a geoid grid that covers the job")
    slug = "geoid-not-stated" if geoid.source == "none" else "undulation-missing"
    return [
        table.finding(slug, "fault", int(i), ("height",), against=against, mend=mend)
        for i in rows
    ]


def _two_heights(
    table: Table, i: int, places: Places, geoid: Geoid, mark: int
) -> Finding:
    gap = places.natural[i, 2] - places.orthometric[i]
    text = f"their difference, the undulation, would be {gap:.3f} m"
    if mark >= 0 and np.isfinite(geoid.undulation[mark]):
        text += f"; the geoid says {geoid.undulation[mark]:.3f} m"
    return table.finding(
        "height-twice",
        "query",
        i,
        ("ellipsoidal_height", "height"),
        against=f"one height a row; the ellipsoidal one is used. {text}",
        mend="accept, or take one of the two out",
    )


def height_datums(
    section: FrameSection, tables: Mapping[str, Table], findings: list[Finding]
) -> None:
    """Add the faults of heights above different datums, and of none stated."""
    own = section.height_datum
    silent: list[tuple[Table, int]] = []
    for name in ("control", "positions"):
        if name not in tables:
            continue
        table = tables[name]
        for i in np.flatnonzero(table.has("height")).tolist():
            datum = str(table.word("height_datum")[i])
            if datum and own and datum.casefold() != own.casefold():
                findings.append(_another_datum(table, i, own))
            own = own or datum
            if not datum and not section.height_datum:
                silent.append((table, i))
    if silent and section.kind == "geodetic":
        table, i = silent[0]
        findings.append(
            table.finding(
                "height-datum-not-stated",
                "query",
                i,
                ("height", "height_datum"),
                against=f"{len(silent)} heights, above which datum?",
                mend="fill height_datum, or state it in [frame]",
            )
        )


def _another_datum(table: Table, i: int, own: str) -> Finding:
    return table.finding(
        "height-datum-differs",
        "fault",
        i,
        ("height", "height_datum"),
        against=f"{own}, the height datum of the job",
        mend="bring the height over to one datum, or leave the row out",
    )
