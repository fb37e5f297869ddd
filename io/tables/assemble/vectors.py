"""baselines.csv: GNSS vectors with their covariances, singly and as sessions."""

from dataclasses import dataclass

import numpy as np

from ....networks.covariances import Bools, Covariances, Floats, Ints
from ....networks.covariances import keep as in_use
from ....networks.datums import turned_over
from ....networks.findings import Finding
from ....networks.frames import Frame
from ....networks.observations import Vectors
from ..job import Job
from ..table import Table
from .approximate import Ties
from .cross import Correlations, cross_blocks, own_blocks
from .definite import not_positive
from .ends import Ends, offsets, vector_ends
from .group_unknowns import vector_unknowns
from .names import MarkNames, resolve
from .set_ups import Stands
from .site_axes import geocentric_in_site, origin_axes
from .stated import Stated, stated_frames
from .unknowns import Unknowns
from .vector_covariances import (
    covariances_in_use,
    incomplete_sessions,
    own_covariance,
    scaled,
    sessions_without,
)


@dataclass(frozen=True, slots=True)
class Booked:
    """Vectors as booked, before any axes are turned."""

    table: Table
    start: Ends
    end: Ends
    delta: Floats
    """(n, 3) m, cartesian or east, north, up."""
    level: Bools
    """(n,) whether ``delta`` is east, north, up."""
    horizon: Ints
    """(n,) mark of the horizon; −1 where there is none."""
    stated: Stated
    start_offset: Floats
    end_offset: Floats
    usable: Bools
    geocentric: Bools
    """(n,) whether ``delta`` is geocentric in a job that is not."""

    @property
    def ties(self) -> Ties:
        """The vectors as ties between marks, for rough positions."""
        ok = self.usable
        start = np.where(ok, self.start.mark, -1)
        horizon = np.where(self.level, self.horizon, -1)
        # A vector of unknown turn leads nowhere yet.
        lost = (self.level & (self.horizon < 0)) | self.geocentric
        return Ties(np.where(lost, -1, start), self.end.mark, self.delta, horizon)


def empty_vectors() -> Vectors:
    """Return a network's vectors where there are none."""
    none, zero = np.zeros(0, dtype=np.int64), np.zeros(0)
    used = np.zeros(0, dtype=bool)
    return Vectors(
        (), none, none, np.zeros((0, 3)), zero, zero, (), none, none, used, none
    )


def booked_vectors(
    table: Table,
    marks: MarkNames,
    stands: Stands,
    job: Job,
    findings: list[Finding],
) -> Booked:
    """Return the vectors as booked, with both ends found."""
    start = vector_ends(table, "from", marks, stands, findings)
    end = vector_ends(table, "to", marks, stands, findings)
    level = table.has("de") | table.has("dn") | table.has("du")
    cartesian = np.stack([table.number(f"d{axis}") for axis in "xyz"], axis=-1)
    east_north_up = np.stack([table.number(f"d{axis}") for axis in "enu"], axis=-1)
    delta = np.where(level[:, None], east_north_up, cartesian)
    stated = stated_frames(table, job.frame, findings, epochs=False)
    horizon = resolve(marks, table, "horizon_at", findings)
    start_offset, end_offset = offsets(table, start, end, findings)
    wrong = _same_mark(table, start, end, findings)
    geocentric = geocentric_in_site(table, job.frame, level, findings)
    if origin_axes(job.frame) is None:
        wrong |= geocentric
    found = (start.node >= 0) & (end.node >= 0) & np.isfinite(delta).all(axis=1)
    if job.frame.kind != "geodetic" and job.frame.earth == "flat":
        # Parallel verticals: east, north, up are the same everywhere.
        level = np.zeros_like(level)
    _horizon_fault(table, horizon, level, findings)
    usable = found & ~wrong & stated.usable & ~(level & (horizon < 0))
    return Booked(
        table,
        start,
        end,
        delta,
        level,
        horizon,
        stated,
        start_offset,
        end_offset,
        usable,
        geocentric,
    )


def _same_mark(table: Table, start: Ends, end: Ends, findings: list[Finding]) -> Bools:
    same: Bools = (start.mark == end.mark) & (start.mark >= 0)
    ends = ("from_set_up", "to_set_up", "from_station", "to_station")
    for i in np.flatnonzero(same).tolist():
        findings.append(
            table.finding(
                "vector-to-itself",
                "fault",
                i,
                tuple(end for end in ends if table.has(end)[i]),
                against="two different marks",
                mend="correct the name of one end by a decision, or leave it out",
            )
        )
    return same


def _horizon_fault(
    table: Table, horizon: Ints, level: Bools, findings: list[Finding]
) -> None:
    """Add the faults of vectors in east, north, up of no mark's horizon."""
    for i in np.flatnonzero(level & (horizon < 0) & ~table.has("horizon_at")).tolist():
        findings.append(
            table.finding(
                "missing-value",
                "fault",
                i,
                ("horizon_at",),
                against="the mark whose horizon east, north and up are of; only on a "
                "flat site are they the same everywhere",
                mend="name the mark in horizon_at",
            )
        )


def build_vectors(
    booked: Booked,
    correlations: Correlations,
    frame: Frame,
    rough: Floats,
    job: Job,
    numbers: tuple[dict[str, int], dict[str, int]],
    unknowns: Unknowns,
    left_out: Bools,
    findings: list[Finding],
) -> Vectors:
    """Return the vectors in cartesian axes, with their covariances.

    Parameters
    ----------
    booked : Booked
    correlations : Correlations
    frame : Frame
    rough : ndarray, shape (m, 3)
        Rough positions of the marks, for the axes, m.
    job : Job
        Its groups have the multipliers of booked standard deviations.
    numbers : tuple of two dicts
        Numbers of sessions and of groups by name, extended here.
    unknowns : Unknowns
        Scales and turns of groups are added.
    left_out : ndarray of bool, shape (n,)
        Rows that a decision leaves out.
    findings : list of Finding
        Extended here.
    """
    table, upright = booked.table, origin_axes(job.frame)
    axes = _axes(booked, frame, rough, upright, findings)
    delta = booked.delta.copy()
    level = booked.level
    delta[level] = np.einsum("nji,nj->ni", axes[level], booked.delta[level])
    delta = _carried(booked, delta, rough, findings)
    own = own_covariance(table, axes)
    # A million vectors alone need no index of what they have in common.
    rows = {} if correlations.is_empty else _rows_by_axis(table)
    blocks = cross_blocks(correlations, "baselines", rows, findings)
    findings.extend(own_blocks(own, blocks, axes, table, level=False))
    findings.extend(incomplete_sessions(table, blocks))
    findings.extend(sessions_without(table, blocks))
    stated = np.isfinite(own).all(axis=(1, 2))
    keep = np.flatnonzero(booked.usable & stated & np.isfinite(delta).all(axis=1))
    covariances = covariances_in_use(table, keep, own, blocks, axes, job.groups)
    delta, covariances = _upright(delta[keep], covariances, booked, keep, upright)
    used = ~left_out[keep]
    findings.extend(not_positive(in_use(covariances, used, 3), table, keep))
    sessions, groups = numbers
    return Vectors(
        name=tuple(table.word("baseline")[keep]),
        start=booked.start.node[keep],
        end=booked.end.node[keep],
        delta=delta,
        start_offset=booked.start_offset[keep],
        end_offset=booked.end_offset[keep],
        covariances=covariances,
        session=number(table.word("session")[keep], sessions),
        group=number(table.word("group")[keep], groups),
        used=used,
        row=table.row[keep],
        parameter=vector_unknowns(
            table.word("group")[keep], job.groups, booked.geocentric[keep], unknowns
        ),
    )


def _axes(
    booked: Booked,
    frame: Frame,
    rough: Floats,
    upright: Floats | None,
    findings: list[Finding],
) -> Floats:
    """Return (n, 3, 3) east, north, up of each vector's horizon, or of its start."""
    table = booked.table
    horizon = np.where(booked.level, booked.horizon, booked.start.mark)
    placed = np.isfinite(rough[horizon]).all(axis=1)
    needs_axes = booked.level | (_level_covariance(table) & ~booked.geocentric)
    for i in np.flatnonzero(needs_axes & booked.usable & ~placed).tolist():
        findings.append(_no_horizon(table, i))
    axes = np.broadcast_to(np.eye(3), (len(table), 3, 3)).copy()
    if placed.any():
        axes[placed] = frame.axes(rough[horizon[placed]])
    if upright is not None:
        axes[booked.geocentric] = upright
    return axes


def _upright(
    delta: Floats,
    covariances: Covariances,
    booked: Booked,
    keep: Ints,
    upright: Floats | None,
) -> tuple[Floats, Covariances]:
    """Return geocentric vectors of a local job in east, north, up of its origin."""
    geocentric = booked.geocentric[keep]
    if upright is None or not geocentric.any():
        return delta, covariances
    turn = np.where(geocentric[:, None, None], upright, np.eye(3))
    return np.einsum("nij,nj->ni", turn, delta), scaled(covariances, turn)


def number(names: np.ndarray, numbers: dict[str, int]) -> Ints:
    """Return numbers of names, −1 for none; new names get the next number."""
    found = [numbers.setdefault(n, len(numbers)) if n else -1 for n in names]
    return np.array(found, dtype=np.int64)


def _level_covariance(table: Table) -> Bools:
    return table.has("cov_ee") | table.has("sd_e")


def _no_horizon(table: Table, i: int) -> Finding:
    return table.finding(
        "position-missing",
        "fault",
        i,
        ("horizon_at", "from_station", "from_set_up"),
        against="a position of that mark, to turn east, north, up",
        mend="give the mark an approximate position in stations.csv",
    )


def _carried(
    booked: Booked, delta: Floats, rough: Floats, findings: list[Finding]
) -> Floats:
    """Return the vectors in the job's frame: another frame is rotated as stated."""
    table, stated = booked.table, booked.stated
    for i in np.flatnonzero((stated.operation != "") & booked.usable).tolist():
        start = rough[booked.start.mark[i]]
        # Rotations are below 0.1 arcsecond between modern frames: any place will do.
        start = np.nan_to_num(start, nan=4.0e6)
        at = float(stated.epoch[i])
        try:
            way, this = str(stated.operation[i]), slice(i, i + 1)
            over = turned_over(way, start[None], delta[this], at)
        except ValueError as error:
            findings.append(
                table.finding(
                    "operation-unusable",
                    "fault",
                    i,
                    ("frame_epsg", "epoch"),
                    against=f"[frame] transformations operation "
                    f"{stated.operation[i]!r}: {error}",
                    mend="state one that takes geocentric X, Y, Z to the job's frame",
                )
            )
            continue
        delta[i] = over[0]
    return delta


def _rows_by_axis(table: Table) -> dict[tuple[str, int], int]:
    return {
        (str(name), axis): i
        for i, name in enumerate(table.word("baseline"))
        if name
        for axis in range(3)
    }
