"""positions.csv: positions from real-time networks, processing, imported solutions.

A position is of the mark, also where it names a set-up: receivers and processors take
the antenna's height off. What the set-up then adds is its centring and its height
error, which other observations from the same set-up share.
"""

import numpy as np

from ....networks.covariances import Bools, Floats, Ints
from ....networks.covariances import keep as in_use
from ....networks.findings import Finding
from ....networks.frames import Frame
from ....networks.observations import Positions
from ..job import Job
from ..table import Table
from .cross import Blocks, Correlations, cross_blocks, own_blocks
from .definite import not_positive
from .group_unknowns import position_unknowns
from .known import clusters, completed, components
from .names import MarkNames, resolve, unknown_name
from .places import Places
from .repeats import merge_repeats
from .set_ups import Stands
from .uncertainty import note_95, place_covariance, stated_parts
from .unknowns import Unknowns
from .vector_covariances import multipliers, scaled
from .vectors import number


def empty_positions() -> Positions:
    """Return a network's positions where there are none."""
    none, zero = np.zeros(0, dtype=np.int64), np.zeros(0)
    nowhere, used = np.zeros((0, 3)), np.zeros(0, dtype=bool)
    return Positions(
        (), none, nowhere, zero, nowhere.astype(bool), (), none, used, none
    )


def position_marks(
    table: Table, marks: MarkNames, stands: Stands, findings: list[Finding]
) -> tuple[Ints, Ints]:
    """Return the node and the mark of every position, −1 where they cannot be told."""
    mark = resolve(marks, table, "station", findings)
    node = mark.copy()
    for i in np.flatnonzero(table.has("set_up")).tolist():
        row = stands.row.get(str(table.word("set_up")[i]), -1)
        if row < 0:
            findings.append(unknown_name(table, i, "set_up", list(stands.row)))
            node[i] = mark[i] = -1
            continue
        at, set_up = int(stands.mark[row]), int(stands.of_row[row])
        if mark[i] >= 0 and at >= 0 and mark[i] != at:
            findings.append(
                table.finding(
                    "ends-differ",
                    "fault",
                    i,
                    ("station", "set_up"),
                    against=f"the set-up stood over {marks.names[at]} (set_ups.csv)",
                    mend="leave station empty, or correct the set-up by a decision",
                )
            )
        mark[i] = at
        node[i] = len(marks.names) + set_up if set_up >= 0 else -1
    return node, mark


def build_positions(
    table: Table,
    ends: tuple[Ints, Ints],
    places: Places,
    sd_undulation: Floats,
    frame: Frame,
    rough: Floats,
    job: Job,
    correlations: Correlations,
    groups: dict[str, int],
    unknowns: Unknowns,
    left_out: Bools,
    findings: list[Finding],
) -> Positions:
    """Return the positions with their covariances in east, north, up.

    Parameters
    ----------
    table : Table
    ends : tuple of two ndarrays of int, shape (n,)
        Nodes and marks of the rows.
    places : Places
        With ellipsoidal heights.
    sd_undulation : ndarray, shape (n,)
        Added to the height's, m.
    frame : Frame
    rough : ndarray, shape (m, 3)
        Rough positions of the marks, m.
    job : Job
    correlations : Correlations
    groups : dict of str to int
        Numbers of groups by name, extended here.
    unknowns : Unknowns
        Shifts of groups are added.
    left_out : ndarray of bool, shape (n,)
    findings : list of Finding
        Extended here.
    """
    node, mark = ends
    known = components(places)
    xyz = completed(frame, places, rough[mark])
    names = position_names(table)
    own, blocks = _booked_covariances(table, frame, xyz, names, correlations, findings)
    own[:, 2, 2] += sd_undulation**2
    _without_sd(table, own, known, findings)
    correlated = {i for pair in blocks for i in pair if pair[0] != pair[1]}
    usable = (node >= 0) & known.any(axis=1)
    xyz, own, names, left = merge_repeats(
        table,
        names,
        *ends,
        known,
        xyz,
        own,
        correlated,
        usable & ~left_out,
        findings,
    )
    keep = np.flatnonzero(usable & left)
    group = table.word("group")[keep]
    covariances = clusters(keep, own, blocks, frame.axes(xyz))
    factors = multipliers(table, job.groups)[keep]
    if (factors != 1.0).any():
        covariances = scaled(covariances, factors[:, :, None] * np.eye(3))
    used = ~left_out[keep]
    findings += not_positive(in_use(covariances, used, 3), table, keep)
    return Positions(
        name=tuple(names[i] for i in keep.tolist()),
        node=node[keep],
        xyz=xyz[keep],
        offset=np.zeros(len(keep)),
        components=known[keep],
        covariances=covariances,
        group=number(group, groups),
        used=used,
        row=table.row[keep],
        parameter=position_unknowns(group, job.groups, unknowns),
    )


def _booked_covariances(
    table: Table,
    frame: Frame,
    xyz: Floats,
    names: list[str],
    correlations: Correlations,
    findings: list[Finding],
) -> tuple[Floats, Blocks]:
    """Return the rows' own covariances in east, north, up, and those between rows."""
    own = place_covariance(table, frame, xyz)
    blocks = cross_blocks(correlations, "positions", _rows_by_axis(names), findings)
    findings.extend(own_blocks(own, blocks, frame.axes(xyz), table, level=True))
    findings.extend(note_95(table))
    return own, blocks


def position_names(table: Table) -> list[str]:
    """Return the names of positions: their own, else their mark's or set-up's."""
    columns = [table.word(name) for name in ("position", "station", "set_up")]
    return [str(a or b or c) for a, b, c in zip(*columns, strict=True)]


def _rows_by_axis(names: list[str]) -> dict[tuple[str, int], int]:
    rows: dict[tuple[str, int], int] = {}
    for i, name in enumerate(names):
        for axis in range(3):
            rows.setdefault((name, axis), i)
    return rows


def _without_sd(
    table: Table, own: Floats, known: Bools, findings: list[Finding]
) -> None:
    stated = stated_parts(own)
    for i in range(len(table)):
        lacking = [
            columns
            for part, columns in enumerate(("sd_north, sd_east", "sd_height"))
            if known[i, 2 * part] and not stated[i, part]
        ]
        if lacking:
            findings.append(
                table.finding(
                    "sd-missing",
                    "fault",
                    i,
                    ("sd_north", "sd_east", "sd_height"),
                    against=f"{' and '.join(lacking)} (mm), or a full covariance",
                    mend="take it from the receiver's or the processor's report",
                )
            )
