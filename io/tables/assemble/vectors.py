"""baselines.csv: GNSS vectors with their covariances, singly and as sessions."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from ....networks.covariances import (
    Batch,
    Bools,
    Covariances,
    Floats,
    Ints,
    clustered,
)
from ....networks.covariances import keep as in_use
from ....networks.datums import turned_over
from ....networks.findings import Finding
from ....networks.frames import Frame
from ....networks.observations import Vectors
from ..job import Group, Job
from ..table import Table
from .approximate import Ties
from .cross import (
    Blocks,
    Correlations,
    CrossBlock,
    cross_blocks,
    in_axes,
    not_positive,
    own_blocks,
)
from .ends import Ends, offsets, vector_ends
from .names import MarkNames, resolve
from .set_ups import Stands
from .stated import Stated, stated_frames
from .uncertainty import SIX, from_sds, symmetric

_LEVEL_SIX = ("cov_ee", "cov_en", "cov_eu", "cov_nn", "cov_nu", "cov_uu")


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

    @property
    def ties(self) -> Ties:
        """The vectors as ties between marks, for rough positions."""
        ok = self.usable
        start = np.where(ok, self.start.mark, -1)
        horizon = np.where(self.level, self.horizon, -1)
        lost = self.level & (self.horizon < 0)
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
    wrong |= _axes_fault(table, job, level, findings)
    found = (start.node >= 0) & (end.node >= 0) & np.isfinite(delta).all(axis=1)
    if job.frame.kind != "geodetic" and job.frame.earth == "flat":
        # Parallel verticals: east, north, up are the same everywhere.
        level = np.zeros_like(level)
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
    )


def _same_mark(table: Table, start: Ends, end: Ends, findings: list[Finding]) -> Bools:
    same: Bools = (start.mark == end.mark) & (start.mark >= 0)
    for i in np.flatnonzero(same).tolist():
        findings.append(
            table.finding(
                "vector-to-itself",
                "fault",
                i,
                ("from_set_up", "to_set_up", "from_station", "to_station"),
                against="two different marks",
                mend="correct the name of one end by a decision, or leave it out",
            )
        )
    return same


def _axes_fault(table: Table, job: Job, level: Bools, findings: list[Finding]) -> Bools:
    """Return the vectors that are geocentric in a job that is not."""
    wrong = np.zeros(len(table), dtype=bool)
    if job.frame.kind == "geodetic":
        return wrong
    rows = np.flatnonzero(~level & table.has("dx"))
    wrong[rows] = True
    if len(rows):
        findings.append(
            table.finding(
                "vector-axes",
                "fault",
                int(rows[0]),
                ("dx", "dy", "dz"),
                against=f"a local job; {len(rows)} vectors are geocentric, and their "
                "turn about the vertical of the site grid is not known",
                mend="make the job geodetic, or give de_m, dn_m, du_m and horizon_at "
                "in the axes of the site grid",
            )
        )
    return wrong


def build_vectors(
    booked: Booked,
    correlations: Correlations,
    frame: Frame,
    rough: Floats,
    job: Job,
    numbers: tuple[dict[str, int], dict[str, int]],
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
    left_out : ndarray of bool, shape (n,)
        Rows that a decision leaves out.
    findings : list of Finding
        Extended here.
    """
    table = booked.table
    horizon = np.where(booked.level, booked.horizon, booked.start.mark)
    placed = np.isfinite(rough[horizon]).all(axis=1)
    needs_axes = booked.usable & (booked.level | _level_covariance(table))
    for i in np.flatnonzero(needs_axes & ~placed).tolist():
        findings.append(_no_horizon(table, i))
    axes = np.broadcast_to(np.eye(3), (len(table), 3, 3)).copy()
    if placed.any():
        axes[placed] = frame.axes(rough[horizon[placed]])
    delta = booked.delta.copy()
    level = booked.level
    delta[level] = np.einsum("nji,nj->ni", axes[level], booked.delta[level])
    delta = _carried(booked, delta, rough, findings)
    own = _own_covariance(table, axes)
    blocks = cross_blocks(correlations, "baselines", _rows_by_axis(table), findings)
    findings.extend(own_blocks(own, blocks, axes, table, level=False))
    findings.extend(_incomplete(table, blocks))
    stated = np.isfinite(own).all(axis=(1, 2))
    keep = np.flatnonzero(booked.usable & stated & np.isfinite(delta).all(axis=1))
    covariances = _covariances(table, keep, own, blocks, axes, job.groups)
    used = ~left_out[keep]
    findings.extend(not_positive(in_use(covariances, used, 3), table, keep))
    sessions, groups = numbers
    return Vectors(
        name=tuple(table.word("baseline")[keep]),
        start=booked.start.node[keep],
        end=booked.end.node[keep],
        delta=delta[keep],
        start_offset=booked.start_offset[keep],
        end_offset=booked.end_offset[keep],
        covariances=covariances,
        session=number(table.word("session")[keep], sessions),
        group=number(table.word("group")[keep], groups),
        used=used,
        row=table.row[keep],
    )


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


def _own_covariance(table: Table, axes: Floats) -> Floats:
    """Return (n, 3, 3) covariance in cartesian axes, NaN where none is booked."""
    ways = [
        symmetric(table, SIX),
        from_sds(table, ("sd_x", "sd_y", "sd_z"), ("corr_xy", "corr_xz", "corr_yz")),
    ]
    level = [
        symmetric(table, _LEVEL_SIX),
        from_sds(table, ("sd_e", "sd_n", "sd_u"), ("corr_en", "corr_eu", "corr_nu")),
    ]
    ways += [np.swapaxes(axes, 1, 2) @ way @ axes for way in level]
    own = np.full((len(table), 3, 3), np.nan)
    for way in ways:
        fresh = np.isnan(own).any(axis=(1, 2)) & np.isfinite(way).all(axis=(1, 2))
        own[fresh] = way[fresh]
    return own


def _rows_by_axis(table: Table) -> dict[tuple[str, int], int]:
    return {
        (str(name), axis): i
        for i, name in enumerate(table.word("baseline"))
        if name
        for axis in range(3)
    }


def _covariances(
    table: Table,
    keep: Ints,
    own: Floats,
    blocks: Blocks,
    axes: Floats,
    groups: Mapping[str, Group],
) -> Covariances:
    """Return the covariances of the rows kept, multiplied as their groups say."""
    place = {int(i): k for k, i in enumerate(keep)}
    cross = {}
    for (i, j), block in blocks.items():
        whole = np.isfinite(block.covariance).all()
        if i != j and i in place and j in place and whole:
            turned = in_axes(block, axes[i], axes[j], level=False)
            cross[place[i], place[j]] = turned
    covariances, _ = clustered(own[keep], cross)
    factors = multipliers(table.word("group")[keep], groups)
    if (factors == 1.0).all():
        return covariances
    scale = np.swapaxes(axes[keep], 1, 2) @ (factors[:, :, None] * axes[keep])
    return scaled(covariances, scale)


def multipliers(names: np.ndarray, groups: Mapping[str, Group]) -> Floats:
    """Return (n, 3) factors of the standard deviations in east, north, up."""
    one = Group()
    of_row = [groups.get(str(name), one) for name in names]
    rows = [
        (g.sd_multiplier_plan, g.sd_multiplier_plan, g.sd_multiplier_height)
        for g in of_row
    ]
    return np.array(rows, dtype=float).reshape(-1, 3)


def scaled(covariances: Covariances, scale: Floats) -> Covariances:
    """Return covariances with each observation's rows multiplied by a matrix.

    Parameters
    ----------
    covariances : tuple of Batch
    scale : ndarray, shape (n, 3, 3)
        Standard deviations are multiplied, in whatever axes: S C Sᵀ.
    """
    batches = []
    for batch in covariances:
        c, s = batch.members.shape
        tiles = batch.matrix.reshape(c, s, 3, s, 3)
        left = scale[batch.members]
        tiles = np.einsum("csij,csjtk,ctlk->csitl", left, tiles, left)
        batches.append(Batch(batch.members, tiles.reshape(c, s * 3, s * 3)))
    return tuple(batches)


def _incomplete(table: Table, blocks: Blocks) -> list[Finding]:
    """Return the sessions of which some cross covariances are given, but not all."""
    found = []
    session = table.word("session")
    sets: dict[str, list[tuple[int, int]]] = {}
    for i, j in blocks:
        if i != j:
            name = str(session[i]) if session[i] == session[j] else ""
            sets.setdefault(name, []).append((i, j))
    for name, given in sets.items():
        rows = np.flatnonzero(session == name).tolist() if name else []
        pairs = [(i, j) for k, i in enumerate(rows) for j in rows[k + 1 :]]
        lacking = [pair for pair in pairs if pair not in blocks]
        short = [pair for pair in given if np.isnan(blocks[pair].covariance).any()]
        if lacking or short:
            block = blocks[given[0]]
            found.append(_lacks(block, table, name, lacking, short))
    return found


def _lacks(
    block: CrossBlock,
    table: Table,
    session: str,
    lacking: list[tuple[int, int]],
    short: list[tuple[int, int]],
) -> Finding:
    names = table.word("baseline")
    shown = ", ".join(f"{names[i]} – {names[j]}" for i, j in (lacking + short)[:5])
    what = [f"{len(lacking)} pairs not given"] if lacking else []
    what += [f"{len(short)} pairs with fewer than nine values"] if short else []
    of_session = f"session {session}" if session else "vectors of different sessions"
    return Finding(
        "session-covariance-incomplete",
        "fault",
        of_session,
        file=block.file,
        row=block.row,
        line=block.line,
        column="cov",
        booked=f"{', '.join(what)}: {shown}",
        against="all pairs of a session or none, nine values a pair",
        mend="give them all, zero where there is none, or give none",
    )
