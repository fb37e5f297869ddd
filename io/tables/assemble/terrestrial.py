"""Sights and levels of a survey, with the unknowns that belong to no place."""

from collections.abc import Mapping

import numpy as np

from ....networks.covariances import Bools, Ints
from ....networks.findings import Finding
from ....networks.frames import Frame
from ....networks.observations import Levels, Sights
from ..job import Job
from ..table import Table
from .geoid import Geoid
from .levels import build_levels
from .names import MarkNames
from .places import Places
from .set_ups import Stands
from .sights import Pointings, build_sights
from .targets import pointing_ends
from .unknowns import Unknowns


def booked_pointings(
    tables: Mapping[str, Table],
    left_out: Mapping[str, Bools],
    marks: MarkNames,
    stands: Stands,
    job: Job,
    findings: list[Finding],
) -> tuple[Pointings | None, Stands]:
    """Return the pointings with their ends, and the set-ups with those of targets.

    Parameters
    ----------
    tables : mapping of str to Table
    left_out : mapping of str to ndarray of bool
        Rows that decisions leave out.
    marks : MarkNames
    stands : Stands
        The booked set-ups.
    job : Job
    findings : list of Finding
        Extended here.
    """
    if not len(tables.get("total_station", ())):
        return None, stands
    table = tables["total_station"]
    out = left_out.get("total_station", np.zeros(len(table), dtype=bool))
    set_ups = tables.get("set_ups")
    at, to, back, row, stands = pointing_ends(
        table, set_ups, marks, stands, job, findings
    )
    parts = {
        name.partition(": ")[2]: rows
        for name, rows in left_out.items()
        if name.startswith("total_station: ")
    }
    return Pointings(table, at, to, back, row, out, parts), stands


def terrestrial(
    tables: Mapping[str, Table],
    left_out: Mapping[str, Bools],
    pointings: Pointings | None,
    marks: MarkNames,
    frame: Frame,
    job: Job,
    dimension: str,
    geoid: Geoid,
    control: tuple[Ints, Places] | None,
    unknowns: Unknowns,
    findings: list[Finding],
    groups: dict[str, int],
) -> tuple[tuple[Sights, ...], Levels | None]:
    """Return sights and levels; every fault is added to findings.

    Parameters
    ----------
    tables : mapping of str to Table
    left_out : mapping of str to ndarray of bool
    pointings : Pointings or None
    marks : MarkNames
    frame : Frame
    job : Job
    dimension : str
    geoid : Geoid
    control : tuple of ndarray of int and Places, or None
        Mark and place of each known one.
    unknowns : Unknowns
        Orientations, refraction and undulations are added.
    findings : list of Finding
    groups : dict of str to int
        Numbers of groups by name, extended here.
    """
    sights: tuple[Sights, ...] = ()
    levels = None
    if pointings is not None:
        sights = build_sights(
            pointings, tables, job, dimension, unknowns, findings, groups
        )
    if len(tables.get("levels", ())) and dimension != "plan":
        table = tables["levels"]
        levels = build_levels(
            table,
            marks,
            frame,
            job,
            dimension,
            geoid,
            _above_geoid(control, len(marks.names)),
            unknowns,
            left_out.get("levels", np.zeros(len(table), dtype=bool)),
            findings,
            groups,
        )
    return sights, levels


def _above_geoid(control: tuple[Ints, Places] | None, count: int) -> Bools:
    """Return (m,) whether a height above the geoid is known for a mark."""
    known = np.zeros(count, dtype=bool)
    if control is not None:
        mark, places = control
        known[mark[(mark >= 0) & np.isfinite(places.orthometric)]] = True
    return known
