"""A shift or a plane of the undulations that the job states as unknown."""

from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from ....networks.covariances import Bools, Floats
from ....networks.findings import Finding
from ....networks.frames import Frame
from ....networks.observations import KnownMarks
from ....networks.undulations import SHIFT, TILT, Undulations
from ..job import FrameSection
from ..table import Table
from .geoid import Geoid
from .places import Places
from .unknowns import Unknowns

_NEEDED = {"shift": 1, "plane": 4}
"""Benchmarks; four leave one over to check the plane by."""


def above_geoid(places: Places) -> Bools:
    """Return (n,) whether the height used of a row is one above the geoid."""
    natural = places.natural[:, 2]
    return np.asarray(np.isfinite(places.orthometric) & np.isnan(natural))


def job_undulations(
    section: FrameSection,
    tables: Mapping[str, Table],
    geoid: Geoid,
    frame: Frame,
    dimension: str,
    rough: Floats,
    known: KnownMarks,
    unknowns: Unknowns,
    findings: list[Finding],
) -> Undulations | None:
    """Return the undulations of the marks; None where nothing is said of the geoid.

    Parameters
    ----------
    section : FrameSection
    tables : mapping of str to Table
    geoid : Geoid
    frame : Frame
    dimension : str
    rough : ndarray, shape (m, 3)
        Rough positions of the marks, m.
    known : KnownMarks
    unknowns : Unknowns
        A shift and a tilt that the job states as unknown are added.
    findings : list of Finding
        Too few benchmarks, and held ones, are added here.
    """
    stated = section.undulation
    if frame.kind == "local" or dimension in ("height", "plan"):
        findings.extend(_without_effect(stated))
        return None
    if geoid.source == "none" and not stated:
        return None
    common, middle = (-1, -1, -1), _middle(rough)
    if stated:
        findings.extend(_benchmarks(stated, known))
        common = _common(stated, unknowns)
    made = Undulations(
        geoid.undulation,
        geoid.sd,
        geoid.model,
        _datum(section, tables),
        common,
        middle,
        None if middle is None else frame.axes(middle[None])[0, :2],
    )
    return replace(made, place=made.from_middle(rough))


def _common(stated: str, unknowns: Unknowns) -> tuple[int, int, int]:
    shift = unknowns.number(SHIFT, "shift of the undulations", 0.0)
    if stated == "shift":
        return shift, -1, -1
    east, north = (
        unknowns.number(TILT, f"tilt of the undulations towards {way}", 0.0)
        for way in ("east", "north")
    )
    return shift, east, north


def _middle(rough: Floats) -> Floats | None:
    found = rough[np.isfinite(rough).all(axis=1)]
    return found.mean(axis=0) if len(found) else None


def _datum(section: FrameSection, tables: Mapping[str, Table]) -> str:
    """Return the height datum: of the job, else the one that its control names."""
    booked = [str(word) for name in ("control", "positions") if name in tables
              for word in tables[name].word("height_datum") if word]  # fmt: skip
    return section.height_datum or next(iter(booked), "")


def _benchmarks(stated: str, known: KnownMarks) -> list[Finding]:
    """Return the fault of too few benchmarks."""
    count = 0
    if known.orthometric is not None:
        weighted = known.in_use("weighted")[:, 2] & known.orthometric
        count = len(np.unique(known.mark[weighted]))
    if count >= _NEEDED[stated]:
        return []
    needed = {"shift": "one", "plane": "four"}[stated]
    return [
        Finding(
            "undulation-needs-benchmarks",
            "fault",
            "[frame] undulation",
            file="job.toml",
            column="undulation",
            booked=f'undulation = "{stated}"; {count} weighted heights above the geoid',
            against=f"{needed} at least: marks with height_m, use_height weighted and "
            "sd_height_mm in control.csv",
            mend="book the benchmarks, or state a geoid (table or FILE) and take "
            "undulation out",
        )
    ]


def held_on_unknown_geoid(
    section: FrameSection, table: Table, above: Bools, left_out: Bools
) -> list[Finding]:
    """Return the faults of held heights above a geoid that is itself unknown.

    Parameters
    ----------
    section : FrameSection
    table : Table
        control.
    above : ndarray of bool, shape (n,)
        Rows whose height is one above the geoid.
    left_out : ndarray of bool, shape (n,)
    """
    if not section.undulation or section.kind == "local":
        return []
    held = above & (table.word("use_height") == "held") & ~left_out
    return [
        table.finding(
            "held-height-on-unknown-geoid",
            "fault",
            i,
            ("height", "use_height"),
            against=f'[frame] undulation = "{section.undulation}": the geoid is '
            "estimated, so that the ellipsoidal height cannot be exact",
            mend="state its sd_height_mm and use weighted",
        )
        for i in np.flatnonzero(held).tolist()
    ]


def positions_on_unknown_geoid(
    section: FrameSection, table: Table, above: Bools
) -> list[Finding]:
    """Return the faults of positions with heights above a geoid that is unknown."""
    if not section.undulation or section.kind == "local":
        return []
    return [
        table.finding(
            "position-height-on-unknown-geoid",
            "fault",
            i,
            ("height",),
            against=f'[frame] undulation = "{section.undulation}": the height as it '
            "was measured, above the ellipsoid",
            mend="export the positions with ellipsoidal_height_m; or leave the height "
            "empty",
        )
        for i in np.flatnonzero(above).tolist()
    ]


def _without_effect(stated: str) -> list[Finding]:
    if not stated:
        return []
    return [
        Finding(
            "key-without-effect",
            "query",
            "[frame] undulation",
            file="job.toml",
            column="undulation",
            booked=f'undulation = "{stated}"',
            against="a geodetic job in space: here no height is above the ellipsoid",
            mend="take undulation out",
        )
    ]
