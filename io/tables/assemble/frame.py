"""The job's frame from ``[frame]`` of job.toml."""

from collections.abc import Mapping

import numpy as np

from ....networks.covariances import Floats
from ....networks.curved import CurvedFrame, curved_about
from ....networks.datums import geodetic_code, is_projected, same_datum
from ....networks.errors import InputError
from ....networks.findings import Finding
from ....networks.frames import Frame, GeodeticFrame, LocalFrame, crs_name
from ..job import FrameSection
from ..table import Table


def job_frame(
    section: FrameSection, tables: Mapping[str, Table], findings: list[Finding]
) -> Frame | None:
    """Return the frame in which the job is computed; None where it is not usable.

    Parameters
    ----------
    section : FrameSection
    tables : mapping of str to Table
        Booked positions give the centre of a curved site grid.
    findings : list of Finding
        What is missing or contradicts is added here.
    """
    try:
        if section.kind == "geodetic":
            return _geodetic(section, findings)
        if section.earth == "curved":
            return _curved(section, tables)
        return LocalFrame(section.height_datum)
    except InputError as error:
        findings.extend(error.findings)
        return None


def _fault(slug: str, booked: str, against: str, mend: str) -> Finding:
    return Finding(
        slug,
        "fault",
        "[frame]",
        file="job.toml",
        booked=booked,
        against=against,
        mend=mend,
    )


def _geodetic(section: FrameSection, findings: list[Finding]) -> GeodeticFrame | None:
    code, epoch, grid = section.geographic_epsg, section.epoch, section.grid_epsg
    # Their absence is told when job.toml is read.
    assert code is not None
    assert epoch is not None
    if not geodetic_code(code) or is_projected(code):
        text = "a geographic frame, three-dimensional"
        mend = "give the geographic code; a map grid goes into grid_epsg"
        booked = f"geographic_epsg {code}, {crs_name(code)}"
        findings.append(_fault("frame-unusable", booked, text, mend))
        return None
    if grid is not None and not is_projected(grid):
        mend = "give the code of a map projection, or leave grid_epsg out"
        booked = f"grid_epsg {grid}, {crs_name(grid)}"
        findings.append(_fault("frame-unusable", booked, "a map grid", mend))
        return None
    if grid is not None and not same_datum(code, grid):
        against = f"geographic_epsg {code}, {crs_name(code)}: another datum"
        booked = f"grid_epsg {grid}, {crs_name(grid)}"
        mend = "take the grid of the same datum"
        findings.append(_fault("frame-differs", booked, against, mend))
        return None
    return GeodeticFrame(code, epoch, grid)


def _curved(section: FrameSection, tables: Mapping[str, Table]) -> CurvedFrame:
    latitude, height = section.latitude, section.reference_height
    # Their absence is told when job.toml is read.
    assert latitude is not None
    assert height is not None
    north, east = _booked_plan(tables)
    return curved_about(
        north,
        east,
        latitude_deg=latitude,
        reference_height=height,
        height_datum=section.height_datum,
        centre=section.origin,
    )


def _booked_plan(tables: Mapping[str, Table]) -> tuple[Floats, Floats]:
    north, east = [np.zeros(0)], [np.zeros(0)]
    for name, prefix in (("control", ""), ("stations", "approx_"), ("positions", "")):
        if name in tables:
            north.append(tables[name].number(prefix + "north"))
            east.append(tables[name].number(prefix + "east"))
    return np.concatenate(north), np.concatenate(east)
