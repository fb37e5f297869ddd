"""Frame and epoch of booked coordinates: always stated, never mixed."""

from dataclasses import dataclass

import numpy as np

from ....networks.covariances import Floats, Ints
from ....networks.datums import same_datum
from ....networks.errors import InputError
from ....networks.findings import Finding
from ....networks.frames import crs_name
from ..job import FrameSection, Transformation
from ..table import Table, Words

EPOCH_QUERY = 0.0125
"""Years: 1 mm where the ground moves at 8 cm a year."""
EPOCH_FAULT = 0.125
"""Years: 1 cm at the same speed."""


@dataclass(frozen=True, slots=True)
class Stated:
    """What the rows of a table are referred to."""

    code: Ints
    """(n,) EPSG code; 0 in a local job."""
    epoch: Floats
    """(n,) decimal year; NaN in a local job."""
    operation: Words
    """(n,) the stated operation that takes the row to the job's frame; empty = none."""
    usable: np.ndarray
    """(n,) bool: the row is in the job's frame, or can be brought there."""


def stated_frames(
    table: Table, section: FrameSection, findings: list[Finding], *, epochs: bool
) -> Stated:
    """Return frame, epoch and operation of every row; faults are added to findings.

    Parameters
    ----------
    table : Table
        With ``frame_epsg`` and ``epoch_year``; empty means the job's.
    section : FrameSection
    findings : list of Finding
    epochs : bool
        Whether another epoch matters: it does for coordinates, not for vectors.
    """
    n = len(table)
    own = section.geographic_epsg or 0
    booked = table.number("frame_epsg")
    epoch = table.number("epoch")
    code = np.where(np.isnan(booked), own, booked).astype(np.int64)
    epoch = np.where(np.isnan(epoch), section.epoch or np.nan, epoch)
    operation = np.full(n, "", dtype=object)
    usable = np.ones(n, dtype=bool)
    if section.kind != "geodetic":
        # Geocentric vectors come in by their site's latitude and longitude, which
        # modern frames give alike to a tenth of a second of arc.
        usable = ~table.has("frame_epsg") | table.has("dx")
        rows = np.flatnonzero(~usable).tolist()
        findings.extend(_in_local_job(table, i) for i in rows)
        return Stated(code, epoch, operation, usable)
    # Most rows book the frame and the epoch of the job.
    gap = np.abs(epoch - (section.epoch or np.nan)) if epochs else np.zeros(n)
    odd = (code != own) | (gap > EPOCH_QUERY)
    odd &= table.has("frame_epsg") | table.has("epoch")
    for i in np.flatnonzero(odd).tolist():
        try:
            way, found = _way(table, i, int(code[i]), float(epoch[i]), section, epochs)
        except InputError:
            findings.append(_unknown_code(table, i))
            usable[i] = False
            continue
        operation[i] = way
        findings.extend(found)
        usable[i] = not any(f.verdict == "fault" for f in found)
    return Stated(code, epoch, operation, usable)


def _way(
    table: Table,
    i: int,
    code: int,
    epoch: float,
    section: FrameSection,
    epochs: bool,
) -> tuple[str, list[Finding]]:
    """Return the operation for a row, or what is wrong with its frame and epoch."""
    own, own_epoch = section.geographic_epsg or 0, section.epoch or np.nan
    gap = abs(epoch - own_epoch) if epochs else 0.0
    other = not same_datum(code, own)
    if not other and not gap > EPOCH_QUERY:
        return "", []
    for transformation in section.transformations:
        if _applies(transformation, code, epoch):
            return transformation.operation, []
    if other:
        return "", [_other_datum(table, i, code, own)]
    return "", [_other_epoch(table, i, gap, own_epoch)]


def _applies(transformation: Transformation, code: int, epoch: float) -> bool:
    if not same_datum(transformation.from_epsg, code):
        return False
    at = transformation.from_epoch
    return at is None or np.isnan(epoch) or abs(at - epoch) <= EPOCH_QUERY


def _other_datum(table: Table, i: int, code: int, own: int) -> Finding:
    return table.finding(
        "frame-differs",
        "fault",
        i,
        ("frame_epsg",),
        against=f"the job's frame, EPSG:{own} {crs_name(own)}",
        likely=f"coordinates in {crs_name(code)}, a metre or two away",
        mend="state [frame] transformations = [{from_epsg, from_epoch, operation}], "
        "or leave the row out",
    )


def _other_epoch(table: Table, i: int, gap: float, own_epoch: float) -> Finding:
    fault = gap > EPOCH_FAULT
    return table.finding(
        "epoch-differs",
        "fault" if fault else "query",
        i,
        ("epoch",),
        against=f"the job's epoch {own_epoch:.4f}: {gap:.4f} year apart, at 8 cm a "
        f"year {gap * 80:.0f} mm",
        mend="bring the coordinates to the job's epoch, or state [frame] "
        "transformations = [{from_epsg, from_epoch, operation}]",
    )


def _in_local_job(table: Table, i: int) -> Finding:
    return table.finding(
        "frame-differs",
        "fault",
        i,
        ("frame_epsg",),
        against="a local job: its frame is the site grid",
        mend="leave frame_epsg empty, or make the job geodetic",
    )


def _unknown_code(table: Table, i: int) -> Finding:
    return table.finding(
        "frame-unknown",
        "fault",
        i,
        ("frame_epsg",),
        against="the EPSG data set of the installed PROJ",
        mend="look the code up in the EPSG registry",
    )
