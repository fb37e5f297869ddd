"""Where each pointing starts and ends: the instrument's set-up and the target's.

A target that is named only by its mark gets a set-up of its own, of kind ``target``,
for each set-up of the instrument and each height: its centring and its height are
observations like those of any set-up, shared by all sights to it.
"""

from dataclasses import dataclass, replace

import numpy as np

from ....networks.covariances import Floats, Ints
from ....networks.findings import Finding
from ....networks.observations import SetUps
from ..job import Job, SetUpKind
from ..job_changes import multiplied
from ..table import Table
from .free_stations import is_free
from .names import MarkNames, resolve, unknown_name
from .set_ups import Stands

_SAME_M = 0.0005


@dataclass(frozen=True, slots=True)
class Ends:
    """One end of every pointing."""

    node: Ints
    """(n,) −1 where it cannot be told, or there is none."""
    mark: Ints
    height: Floats
    """(n,) reference point above the mark, m; NaN where none is booked."""


def pointing_ends(
    table: Table,
    set_ups: Table | None,
    marks: MarkNames,
    stands: Stands,
    job: Job,
    findings: list[Finding],
) -> tuple[Ends, Ends, Ends, Ints, Stands]:
    """Return instrument, target and back target of every row, and all set-ups.

    Parameters
    ----------
    table : Table
        total_station.
    set_ups : Table or None
    marks : MarkNames
    stands : Stands
        The set-ups that are booked.
    job : Job
        Its kind ``target`` gives centring and height of unnamed targets.
    findings : list of Finding
        Extended here.

    Returns
    -------
    at, to, back : Ends
    set_up_row : ndarray of int, shape (n,)
    stands : Stands
        With the set-ups of targets behind the booked ones.
    """
    at, set_up_row = _named(table, "set_up", marks, stands, findings)
    at = replace(at, height=_free_height(set_ups, set_up_row, at.height))
    to, _ = _named(table, "target_set_up", marks, stands, findings)
    station = resolve(marks, table, "target_station", findings)
    _both(table, to, station, marks, findings)
    own = table.number("target_height")
    findings.extend(_two_heights(table, to.height, own))
    back_mark = resolve(marks, table, "back_station", findings)
    added = _Added(len(marks.names) + len(stands.set_ups))
    bare = (to.node < 0) & (station >= 0) & ~table.has("target_set_up")
    height = np.where(np.isfinite(own), own, to.height)
    to = Ends(
        added.nodes(set_up_row, np.where(bare, station, -1), own, to.node),
        np.where(bare, station, to.mark),
        height,
    )
    back_height = table.number("back_target_height")
    none = np.full(len(table), -1, dtype=np.int64)
    back = Ends(
        added.nodes(set_up_row, back_mark, back_height, none), back_mark, back_height
    )
    findings.extend(_to_itself(table, at, to, back))
    kind = multiplied(job.set_up_kinds["target"])
    return at, to, back, set_up_row, added.behind(stands, set_ups, marks, kind)


def _named(
    table: Table,
    column: str,
    marks: MarkNames,
    stands: Stands,
    findings: list[Finding],
) -> tuple[Ends, Ints]:
    n = len(table)
    rows = np.full(n, -1, dtype=np.int64)
    for i in np.flatnonzero(table.has(column)).tolist():
        rows[i] = stands.row.get(str(table.word(column)[i]), -1)
        if rows[i] < 0:
            findings.append(unknown_name(table, i, column, list(stands.row)))
    node, mark = rows.copy(), rows.copy()
    height = np.full(n, np.nan)
    known = np.flatnonzero(rows >= 0)
    if len(known):
        set_up = stands.of_row[rows[known]]
        mark[known] = stands.mark[rows[known]]
        # A free station has no set-up beside its mark.
        node[known] = np.where(set_up >= 0, len(marks.names) + set_up, mark[known])
        height[known] = stands.height[rows[known]]
    return Ends(node, mark, height), rows


def _free_height(set_ups: Table | None, rows: Ints, height: Floats) -> Floats:
    """Return heights; a free station without one has its mark at the instrument."""
    filled = height.copy()
    if set_ups is not None:
        some = np.flatnonzero((rows >= 0) & np.isnan(height))
        filled[some[is_free(set_ups)[rows[some]]]] = 0.0
    return filled


def _both(
    table: Table, to: Ends, station: Ints, marks: MarkNames, findings: list[Finding]
) -> None:
    for i in np.flatnonzero((to.mark >= 0) & (station >= 0) & (to.mark != station)):
        findings.append(
            table.finding(
                "ends-differ",
                "fault",
                int(i),
                ("target_station", "target_set_up"),
                against=f"the target stood over {marks.names[to.mark[i]]} "
                "(set_ups.csv)",
                mend="leave target_station empty, or correct the set-up by a decision",
            )
        )


def _two_heights(table: Table, of_set_up: Floats, own: Floats) -> list[Finding]:
    apart = np.flatnonzero(np.abs(of_set_up - own) > _SAME_M)
    return [
        table.finding(
            "heights-differ",
            "query",
            i,
            ("target_height", "target_set_up"),
            against=f"{of_set_up[i]:.4f} m, the height of the set-up in set_ups.csv; "
            "that of the row is used",
            mend="compare with the field book; accept, or decide value pointing "
            f"'{table.word('pointing')[i]}' 'target_height_m=…'",
        )
        for i in apart.tolist()
    ]


def _to_itself(table: Table, at: Ends, to: Ends, back: Ends) -> list[Finding]:
    found = []
    known = at.mark >= 0
    ends = (
        ("target_station", to.mark, at.mark, "the instrument's own mark"),
        ("back_station", back.mark, at.mark, "the instrument's own mark"),
        ("back_station", back.mark, to.mark, "the target of the angle itself"),
    )
    for column, mark, other, what in ends:
        for i in np.flatnonzero(known & (mark >= 0) & (mark == other)).tolist():
            found.append(
                table.finding(
                    "pointing-to-itself",
                    "fault",
                    i,
                    ("set_up", column),
                    against=f"another mark than {what}",
                    mend="compare with the field book; brasscap decide value pointing "
                    f"'{table.word('pointing')[i]}' '{column}=…'",
                )
            )
    return found


class _Added:
    """Set-ups of targets, numbered as they are first met."""

    def __init__(self, first: int) -> None:
        self.first = first
        self.keys: list[tuple[int, int, float]] = []
        """Row of set_ups.csv of the instrument, mark, height (NaN = not booked)."""
        self._number: dict[tuple[int, int, float | None], int] = {}

    def nodes(self, set_up: Ints, mark: Ints, height: Floats, node: Ints) -> Ints:
        """Return the nodes of targets over marks; ``node`` where there is no mark."""
        found = node.copy()
        # Booked heights first, so that a row without one finds its target.
        rows = np.flatnonzero((mark >= 0) & (set_up >= 0))
        for i in rows[np.argsort(np.isnan(height[rows]), kind="stable")].tolist():
            key = int(set_up[i]), int(mark[i])
            own = None if np.isnan(height[i]) else float(height[i])
            if (*key, own) not in self._number:
                self._number[*key, own] = len(self.keys)
                self._number.setdefault((*key, None), len(self.keys))
                self.keys.append((*key, float(height[i])))
            found[i] = self.first + self._number[*key, own]
        return found

    def behind(
        self,
        stands: Stands,
        set_ups: Table | None,
        marks: MarkNames,
        kind: SetUpKind,
    ) -> Stands:
        """Return the set-ups with those of targets behind them."""
        if not self.keys or set_ups is None:
            return stands
        count = len(self.keys)
        old = stands.set_ups
        blank = ("",) * count
        heights = np.array([height for _, _, height in self.keys])
        made = SetUps(
            name=old.name + tuple(self._names(set_ups, marks)),
            mark=np.append(old.mark, [mark for _, mark, _ in self.keys]),
            support=old.support + ("target",) * count,
            session=np.append(old.session, np.full(count, -1)),
            height=np.append(old.height, np.nan_to_num(heights)),
            eccentricity=np.concatenate([old.eccentricity, np.zeros((count, 2))]),
            sd_centring=np.append(old.sd_centring, np.full(count, kind.sd_centring)),
            sd_height=np.append(old.sd_height, np.full(count, kind.sd_height)),
            reduction=old.reduction + blank,
            antenna=old.antenna + blank,
            tripod=old.tripod + blank,
            row=np.append(old.row, np.zeros(count, dtype=np.int64)),
        )
        return replace(stands, set_ups=made)

    def _names(self, set_ups: Table, marks: MarkNames) -> list[str]:
        """Return "target C from T1", with its height where there are several."""
        several: dict[tuple[int, int], int] = {}
        for set_up, mark, _ in self.keys:
            several[set_up, mark] = several.get((set_up, mark), 0) + 1
        names = []
        for set_up, mark, height in self.keys:
            name = f"target {marks.names[mark]} from {set_ups.word('set_up')[set_up]}"
            if several[set_up, mark] > 1:
                name += f" at {height:.4f} m"
            names.append(name)
        return names
