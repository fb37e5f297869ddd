"""Frames as their source names them, against the code that somebody stated."""

from collections.abc import Mapping

import numpy as np

from ....networks.datums import realisation
from ....networks.errors import InputError
from ....networks.findings import Finding
from ....networks.frames import crs_name
from ..job import Job
from ..table import Table


def check_frames_named(job: Job, tables: Mapping[str, Table]) -> list[Finding]:
    """Return one query for each frame of positions that is named otherwise than coded.

    Parameters
    ----------
    job : Job
    tables : mapping of str to Table
    """
    if "positions" not in tables or job.frame.kind != "geodetic":
        return []
    table = tables["positions"]
    rows = np.flatnonzero(table.has("frame_named"))
    code, own = table.number("frame_epsg"), job.frame.geographic_epsg or 0
    told: set[tuple[str, str, int]] = set()
    found = []
    for i in rows.tolist():
        named = str(table.word("frame_named")[i])
        stated = own if np.isnan(code[i]) else int(code[i])
        what = (str(table.file[i]), named, stated)
        if what not in told and _differs(named, stated):
            found.append(_finding(table, i, named, stated))
        told.add(what)
    return found


def _differs(named: str, code: int) -> bool:
    try:
        stated = realisation(crs_name(code))
    except InputError:
        # That there is no such code is told elsewhere.
        return False
    wanted = realisation(named)
    # A name that is not understood tells nothing for or against the code.
    return bool(wanted) and wanted != stated


def _finding(table: Table, i: int, named: str, code: int) -> Finding:
    return table.finding(
        "frame-differs",
        "query",
        i,
        ("frame_named", "frame_epsg"),
        against=f"EPSG:{code} is {crs_name(code)}; the source names {named}",
        likely="the code was stated from habit",
        mend="import again with the code of the frame that the source names; or "
        "accept, if the name is wrong",
    )
