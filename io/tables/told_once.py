"""What follows from a cell or column that cannot be read is not told a second time."""

import re
from collections.abc import Mapping, Sequence

import numpy as np

from ...networks.findings import Finding
from .header import base_of
from .schema import schemas
from .table import Table

_UNREAD = ("foot-not-named", "unit-missing", "unit-unknown", "unit-wrong")
_LACKS = ("height-missing", "sd-missing", "coordinate-missing", "missing-value")
_ENDS = ("from_set_up", "to_set_up", "set_up", "target_set_up")


def told_once(
    findings: Sequence[Finding], tables: Mapping[str, Table]
) -> list[Finding]:
    """Return findings without those that another one, which is told, brings.

    A column whose header has no unit, a cell that is no number, or a row in another
    frame is a fault already; that its value is missing vanishes with it.

    Parameters
    ----------
    findings : sequence of Finding
    tables : mapping of str to Table
    """
    return _heights_once(_uses_once(_columns_once(findings)), tables)


def _columns_once(findings: Sequence[Finding]) -> list[Finding]:
    """Return findings without the missing values of columns that were not read."""
    names = {
        base_of(f.booked, schemas()[table])
        for f in findings
        if f.slug in _UNREAD
        and (table := f.file.partition("/")[0].removesuffix(".csv")) in schemas()
    } - {""}
    if not names:
        return list(findings)
    return [f for f in findings if f.slug not in _LACKS or not _speaks_of(f, names)]


def _speaks_of(finding: Finding, names: set[str]) -> bool:
    """Return whether a finding says that one of some columns has no value."""
    said = " ".join(re.findall("[a-z_]+", f"{finding.booked} {finding.against}"))
    # A word begins with it, or ends with it but for its unit: target_height_m.
    return any(re.search(rf"(?:^|[ _]){name}(?:[ _]|$)", said) for name in names)


def _uses_once(findings: Sequence[Finding]) -> list[Finding]:
    """Return findings without uses of known marks whose row has another fault."""
    faulty = {
        (f.file, f.row)
        for f in findings
        if f.verdict == "fault" and f.slug != "use-without-value"
    }
    return [
        f
        for f in findings
        if f.slug != "use-without-value" or (f.file, f.row) not in faulty
    ]


def _heights_once(
    findings: Sequence[Finding], tables: Mapping[str, Table]
) -> list[Finding]:
    """Return findings without those that an unreadable height of a set-up brings.

    Without a height its vectors lack one, and seem to lead to another place.
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
