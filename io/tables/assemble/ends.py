"""The two ends of a vector: which nodes it joins, and how far above them."""

from dataclasses import dataclass

import numpy as np

from ....networks.covariances import Bools, Floats, Ints
from ....networks.findings import Finding
from ..table import Table
from .names import MarkNames, resolve, unknown_names
from .set_ups import Stands


@dataclass(frozen=True, slots=True)
class Ends:
    """One end of every vector."""

    node: Ints
    """(n,) node; −1 where it cannot be told."""
    mark: Ints
    """(n,) mark; −1 where it cannot be told."""
    height: Floats
    """(n,) reduced height of the reference point, m; NaN = none booked."""
    by_set_up: Bools
    """(n,) whether a set-up is named."""


def vector_ends(
    table: Table, end: str, marks: MarkNames, stands: Stands, findings: list[Finding]
) -> Ends:
    """Return one end of the vectors, ``from`` or ``to``; findings are added to."""
    n = len(table)
    station = resolve(marks, table, f"{end}_station", findings)
    node, mark = station.copy(), station.copy()
    height = np.full(n, np.nan)
    column = f"{end}_set_up"
    named = table.has(column)
    some = np.flatnonzero(named)
    names = table.word(column)[some]
    row = np.array([stands.row.get(name, -1) for name in names], dtype=np.int64)
    unknown = some[row < 0]
    node[unknown] = mark[unknown] = -1
    known, row = some[row >= 0], row[row >= 0]
    mark[known], height[known] = stands.mark[row], stands.height[row]
    set_up = stands.of_row[row]
    node[known] = np.where(set_up >= 0, len(marks.names) + set_up, -1)
    other = named & (station >= 0) & (mark >= 0) & (station != mark)
    found = unknown_names(table, unknown, column, list(stands.row))
    for i in np.flatnonzero(other).tolist():
        found.append(_another_mark(table, i, end, marks.names[mark[i]]))
    findings.extend(sorted(found, key=lambda finding: finding.row))
    return Ends(node, mark, height, named)


def _another_mark(table: Table, i: int, end: str, at: str) -> Finding:
    return table.finding(
        "ends-differ",
        "fault",
        i,
        (f"{end}_station", f"{end}_set_up"),
        against=f"the set-up stood over {at} (set_ups.csv)",
        mend=f"leave {end}_station empty, or correct the set-up by a decision: "
        "brasscap decide rename set-up NAME STATION",
    )


def free_stations(
    table: Table, stands: Stands, set_ups: Table | None, findings: list[Finding]
) -> None:
    """Add the faults of set-ups that vectors or positions use without a station."""
    if set_ups is None or set_ups.has("station").all():
        return
    asked = set()
    for column in ("from_set_up", "to_set_up", "set_up"):
        asked |= {str(name) for name in table.word(column) if name}
    has_station = set_ups.has("station")
    for name, row in stands.row.items():
        if name in asked and not has_station[row]:
            findings.append(
                set_ups.finding(
                    "set-up-without-station",
                    "fault",
                    row,
                    ("set_up", "station"),
                    against=f"a mark: {table.name}.csv uses the set-up",
                    mend="say over which mark it stood; a free station has no vectors",
                )
            )


def offsets(
    table: Table, start: Ends, end: Ends, findings: list[Finding]
) -> tuple[Floats, Floats]:
    """Return how far above their nodes the vectors start and end, m.

    Between reference points, the reduced height; between marks, what was booked minus
    what the processor used, so that the vector is moved to the booked height.
    """
    between = table.word("vector_between")
    moved: list[str] = []
    result = []
    for side, ends in (("from", start), ("to", end)):
        used = table.number(f"height_used_{side}")
        high, found = np.isfinite(ends.height), ends.node >= 0
        of_points = between == "reference points"
        unsaid = (between == "") & high
        rest = ~of_points & ~unsaid & np.isfinite(used)
        offset = np.where(of_points, ends.height, 0.0)
        offset[rest & high] = (ends.height - used)[rest & high]
        lacking = of_points & ~high & found
        unsaid &= (side == "from") | ~np.isfinite(start.height)
        nowhere = rest & ~high & found
        for i in np.flatnonzero(lacking | unsaid).tolist():
            if lacking[i]:
                findings.append(_no_height(table, i, side))
            else:
                findings.append(_between_what(table, i))
        silent = np.flatnonzero(nowhere & ~lacking & ~unsaid)
        if len(silent):
            findings.append(_nothing_to_move_to(table, silent, side))
        for i in np.flatnonzero(rest & high & (np.abs(offset) > 5e-5)).tolist():
            name = table.word("baseline")[i]
            moved.append(f"{name} {side} {offset[i] * 1000:+.1f} mm")
        result.append(np.nan_to_num(offset))
    findings.extend(_said(table, moved))
    findings.extend(_heights_not_said(table, start, end))
    return result[0], result[1]


def _no_height(table: Table, i: int, side: str) -> Finding:
    return table.finding(
        "height-missing",
        "fault",
        i,
        ("vector_between", f"{side}_set_up", f"{side}_station"),
        against=f"the height of the antenna at the {side} end, in set_ups.csv",
        mend=f"name the set-up in {side}_set_up and book its height, or say that the "
        "vector is between marks",
    )


def _between_what(table: Table, i: int) -> Finding:
    return table.finding(
        "vector-between-not-stated",
        "fault",
        i,
        ("vector_between", "from_set_up", "to_set_up"),
        against="marks (the processor took the heights off) or reference points",
        mend="look into the processor's report and fill vector_between; a wrong guess "
        "moves the marks by whole antenna heights",
    )


def _nothing_to_move_to(table: Table, rows: Ints, side: str) -> Finding:
    """Return one query for all vectors whose used height cannot be compared."""
    return table.finding_of(
        "height-missing",
        "query",
        rows,
        f"heights used at the {side} end of vectors",
        f"height_used_{side}",
        f"height_used_{side} from row {int(table.row[rows[0]])} on",
        against="no height is booked in set_ups.csv; the ones used are taken as right",
        mend=f"book the set-ups with their heights, and name them in {side}_set_up",
    )


def _said(table: Table, moved: list[str]) -> list[Finding]:
    """Return one note that says which vectors were moved to the booked height."""
    if not moved:
        return []
    shown = ", ".join(moved[:12]) + (" …" if len(moved) > 12 else "")
    return [
        Finding(
            "moved-to-booked-height",
            "note",
            f"{len(moved)} ends of vectors",
            file=str(table.file[0]),
            column="height_used_from, height_used_to",
            booked=shown,
            against="processed with another height than booked; the vectors were "
            "moved to the booked height",
        )
    ]


def _heights_not_said(table: Table, start: Ends, end: Ends) -> list[Finding]:
    """Return one query where the heights that a processor used are not known."""
    silent = (table.word("vector_between") == "marks") & (
        (np.isfinite(start.height) & np.isnan(table.number("height_used_from")))
        | (np.isfinite(end.height) & np.isnan(table.number("height_used_to")))
    )
    rows = np.flatnonzero(silent)
    if not len(rows):
        return []
    return [
        table.finding_of(
            "height-used-not-stated",
            "query",
            rows,
            f"vectors of {table.name}.csv",
            "height_used_from, height_used_to",
            "vector_between marks, height_used_from and height_used_to empty",
            against="the heights of set_ups.csv, taken to be those used",
            mend="fill height_used_from_m and height_used_to_m from the processor's "
            "report, or accept",
        )
    ]
