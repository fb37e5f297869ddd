"""What was read at a set-up: heights read twice, in feet, and the letters on a mark."""

from collections.abc import Mapping

import numpy as np

from ....networks.findings import Finding
from ....networks.setups import slant_reduced
from ....networks.units import UNITS
from ..assemble.set_ups import antenna_of
from ..schema import split_header
from ..table import Table

LIMIT_M = 0.003
"""Of two readings of one height, besides their rounding (common practice)."""
HIGH_M = 3.0
"""Above this, a height of an antenna is likely in feet (common practice)."""
FOOT = 0.3048


def check_readings(tables: Mapping[str, Table]) -> list[Finding]:
    """Return the queries about heights and letters read at set-ups."""
    if "set_ups" not in tables:
        return []
    table = tables["set_ups"]
    found: list[Finding] = []
    others = ("height_second_reading", "height_after")
    height = table.number("height")
    gaps = [np.abs(height - table.number(other)) for other in others]
    odd = np.any([gap > LIMIT_M for gap in gaps], axis=0) | (height > HIGH_M)
    for i in np.flatnonzero(odd).tolist():
        for other in others:
            found += _disagree(table, i, other, tables.get("antennas"))
        found += _feet(table, i)
    return found + _not_said(table) + _stamping(table, tables.get("stations"))


def rounding(table: Table, column: str, i: int) -> float:
    """Return half a unit of the last digit of a booked length, m.

    Examples
    --------
    >>> text = {"height": np.array(["1.54"], dtype=object)}
    >>> table = Table("set_ups", {"height": np.array([1.54])}, text,
    ...               {"height": "height_m"}, np.array(["set_ups.csv"], dtype=object),
    ...               np.array([2]), np.array([2]))
    >>> rounding(table, "height", 0)
    0.005
    """
    own = table.file_headers.get(str(table.file[i]), table.header)
    unit = split_header(own.get(column, ""))[1] or "m"
    decimals = str(table.booked[column][i]).partition(".")[2]
    return 0.5 * 10.0 ** -len(decimals) * float(UNITS[unit].factor)


def _disagree(
    table: Table, i: int, other: str, antennas: Table | None
) -> list[Finding]:
    first, second = table.number("height")[i], table.number(other)[i]
    if not np.isfinite([first, second]).all():
        return []
    gap = abs(first - second)
    allowed = LIMIT_M + rounding(table, "height", i) + rounding(table, other, i)
    if gap <= allowed + 1e-9:
        return []
    return [
        table.finding(
            "readings-disagree",
            "query",
            i,
            ("height", other),
            against=f"{gap * 1000:.1f} mm apart ({first:.4f} and {second:.4f} m); "
            f"limit {allowed * 1000:.1f} mm: 3 mm and the rounding (common practice)",
            likely=_likeness(table, i, float(first), float(second), antennas, allowed),
            mend="compare with the sheet and the photograph; then  brasscap decide "
            f"value set-up '{table.word('set_up')[i]}' 'height_m=…', or accept",
        )
    ]


def _likeness(
    table: Table,
    i: int,
    first: float,
    second: float,
    antennas: Table | None,
    allowed: float,
) -> str:
    """Return what would explain the gap of two readings, if anything does."""
    if abs(first * FOOT - second) <= allowed:
        return "the first is in feet"
    if abs(second * FOOT - first) <= allowed:
        return "the second is in feet twice over"
    radius, offset = antenna_of(table, i, antennas)
    for one, two, word in ((first, second, "first"), (second, first, "second")):
        vertical = slant_reduced(one, radius, offset) if np.isfinite(radius) else 0.0
        if abs(vertical - two) <= allowed:
            return f"the {word} is a slant reading, the other vertical"
    return ""


def _feet(table: Table, i: int) -> list[Finding]:
    height = float(table.number("height")[i])
    if not height > HIGH_M:
        return []
    return [
        table.finding(
            "height-looks-like-feet",
            "query",
            i,
            ("height",),
            against=f"antennas stand below {HIGH_M:.0f} m (common practice)",
            likely=f"{table.booked['height'][i]} feet: {height * FOOT:.4f} m",
            mend=f"brasscap decide unit set-up '{table.word('set_up')[i]}' "
            "'height=ift', or accept",
        )
    ]


def _not_said(table: Table) -> list[Finding]:
    """Return one query where it is not said how heights were read."""
    silent = table.has("height") & ~table.has("reading")
    rows = np.flatnonzero(silent)
    if not len(rows):
        return []
    names = ", ".join(str(table.word("set_up")[i]) for i in rows[:12])
    return [
        table.finding_of(
            "reading-not-stated",
            "query",
            rows,
            f"set-ups of {table.name}.csv",
            "reading",
            f"reading empty: {names}{' …' if len(rows) > 12 else ''}",
            against="vertical, slant or fixed pole; taken as vertical",
            mend="fill the column reading, or accept",
        )
    ]


def _stamping(table: Table, stations: Table | None) -> list[Finding]:
    """Return the queries of letters that are not those of the mark."""
    if stations is None:
        return []
    if not table.has("stamping_read").any():
        return []
    letters = {
        str(name): str(stamped or name)
        for name, stamped in zip(
            stations.word("station"), stations.word("stamping"), strict=True
        )
    }
    by_letters = {folded(text): name for name, text in letters.items()}
    found = []
    pairs = zip(table.word("stamping_read"), table.word("station"), strict=True)
    for i, (read, station) in enumerate(pairs):
        if not read or station not in letters:
            continue
        if folded(str(read)) != folded(letters[station]):
            other = by_letters.get(folded(str(read)), "")
            found.append(
                table.finding(
                    "stamping-differs",
                    "query",
                    i,
                    ("stamping_read", "station"),
                    against=f"{letters[station]}, stamped on {station} (stations.csv)",
                    likely=f"it stood over {other}" if other else "",
                    mend=f"brasscap decide rename set-up '{table.word('set_up')[i]}' "
                    f"'{other or 'STATION'}', or accept",
                )
            )
    return found


def folded(name: str) -> str:
    """Return a name without what is easily misread: case, blanks, hyphens, O and I.

    Examples
    --------
    >>> folded("Grove-03") == folded("GROVE O3")
    True
    """
    letters = "".join(c for c in name.upper() if c.isalnum())
    return letters.translate(str.maketrans("OIL", "011"))
