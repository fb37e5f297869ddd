"""What follows from a cell that cannot be read is not told a second time."""

from collections.abc import Mapping, Sequence

import numpy as np

from ...networks.findings import Finding
from .table import Table

_ENDS = ("from_set_up", "to_set_up", "set_up", "target_set_up")


def told_once(
    findings: Sequence[Finding], tables: Mapping[str, Table]
) -> list[Finding]:
    """Return findings without those that an unreadable height of a set-up brings.

    The cell itself is a fault already. Without a height its vectors lack one, and
    seem to lead to another place; both vanish with the fault.

    Parameters
    ----------
    findings : sequence of Finding
    tables : mapping of str to Table
    """
    set_ups = tables.get("set_ups")
    if set_ups is None or "height" not in set_ups.booked:
        return list(findings)
    bad = np.flatnonzero(set_ups.has("height") & np.isnan(set_ups.number("height")))
    names = {str(set_ups.word("set_up")[i]) for i in bad}
    stations = {f"mark {set_ups.word('station')[i]}" for i in bad}
    return [
        finding
        for finding in findings
        if not (
            (finding.slug == "height-missing" and _of(finding, names, tables))
            or (finding.slug == "name-two-places" and finding.about in stations)
        )
    ]


def _of(finding: Finding, names: set[str], tables: Mapping[str, Table]) -> bool:
    """Return whether a missing height is that of one of some set-ups."""
    table = tables.get(finding.file.partition("/")[0].removesuffix(".csv"))
    if table is None or not finding.row:
        return False
    here = (table.file == finding.file) & (table.row == finding.row)
    (i,) = np.flatnonzero(here)[:1].tolist() or (-1,)
    if i < 0:
        return False
    side = _side(finding)
    ends = [end for end in _ENDS if end in table.columns and (not side or side in end)]
    return any(str(table.word(end)[i]) in names for end in ends)


def _side(finding: Finding) -> str:
    """Return which end of a vector is meant; empty where it may be any."""
    said = f"{finding.column} {finding.booked}"
    return next((side for side in ("from", "to") if f"{side}_s" in said), "")
