"""A mapping proposed from the header and the values of a file; never a silent guess."""

import math
import re
from collections.abc import Iterator
from dataclasses import dataclass, replace

from ...networks.units import UNITS, convert, dms, units_of
from ..tables.cells import check_words, read_numbers
from ..tables.schema import Column, Schema
from ..tables.sheet import Sheet
from .columns import Taken, column_of
from .hearing import Heard, hear, meaning
from .words import PAIRS, SD_WORDS

MOST_ROWS = 10_000
"""Rows whose values are looked at."""
_EARTH = (6.33e6, 6.40e6)
"""m from the centre of the Earth: less than any ellipsoid's polar radius, 6 356.8 km,
more than its equatorial one, 6 378.1 km (GRS 80), with hills."""


@dataclass(frozen=True, slots=True)
class Proposed:
    """What one column of theirs may be."""

    theirs: str
    ours: str = ""
    """Empty where no column can be named."""
    unit: str = ""
    sign: str = "+"
    confidence: str = ""
    reason: str = ""
    """What is not sure; empty where it is understood."""


@dataclass(frozen=True, slots=True)
class Asked:
    """What the asker states beside the file."""

    local: bool = False
    """Whether the job has no ellipsoid, so that a height is above its datum."""
    length_unit: str = ""
    """Of lengths whose header states none, or a foot without its name."""
    covariance: str = ""
    """``cov`` or ``sd-corr``: what six columns xx, xy … are."""
    decimal: str = "point"
    """As ``decimal_of`` finds it."""


def propose(sheet: Sheet, schema: Schema, asked: Asked) -> list[Proposed]:
    """Return what each column of a file may be, in its order.

    Parameters
    ----------
    sheet : Sheet
        With a header of names.
    schema : Schema
        Of the table that it is to become.
    asked : Asked

    Examples
    --------
    >>> from brasscap.io.tables.schema import schemas
    >>> sheet = Sheet("a.csv", ["Pt", "Northing (m)", "Easting"])
    >>> for one in propose(sheet, schemas()["control"], Asked()):
    ...     print((one.theirs, one.ours, one.unit, one.reason))
    ('Pt', 'station', '', '')
    ('Northing (m)', 'north', 'm', '')
    ('Easting', 'east', '', 'the header states no unit: m, mm, km, ift, sft')
    """
    header = [cell.strip() for cell in sheet.header]
    found = [_column(sheet, i, schema, asked) for i in range(len(header))]
    found = _geocentric(sheet, found, schema)
    return list(_once(found))


def decimal_of(sheet: Sheet) -> str:
    """Return ``comma`` where numbers have one and none has a point, else ``point``.

    Three digits behind every comma may be thousands; that is not taken for granted.
    """
    cells = [t for i in range(len(sheet.header)) for t in _texts(sheet, i)[1]]
    commas = [text for text in cells if re.fullmatch(r"[+-]?\d+,\d+", text)]
    points = any(re.fullmatch(r"[+-]?\d*\.\d+", text) for text in cells)
    certain = any(len(text.partition(",")[2]) != 3 for text in commas)
    return "comma" if certain and not points else "point"


def _column(sheet: Sheet, position: int, schema: Schema, asked: Asked) -> Proposed:
    theirs = sheet.header[position].strip()
    heard = hear(theirs)
    own, own_unit = column_of(theirs, schema)
    if own is not None:
        heard = heard._replace(unit=own_unit)
    ours, reason = _meant(theirs, heard, schema, asked)
    if not ours:
        return Proposed(theirs, reason=reason)
    column = schema.by_name[ours]
    rows, texts = _texts(sheet, position)
    if column.is_number and asked.decimal == "comma":
        texts = [text.replace(",", ".") for text in texts]
    unit, open_unit = _unit(column, heard, texts, asked)
    confidence, open_stated = _confidence(column, heard)
    reason = "; ".join(filter(None, (reason, open_unit, open_stated)))
    sign = heard.sign if column.is_number else "+"
    if not reason:
        taken = Taken(theirs, column, unit, sign, confidence)
        reason = _of_values(taken, rows, texts)
    return Proposed(theirs, ours, unit, sign, confidence, reason)


def _meant(theirs: str, heard: Heard, schema: Schema, asked: Asked) -> tuple[str, str]:
    """Return the column of ours that a header means, and what is not sure of it."""
    known = frozenset(schema.by_name)
    if asked.local:
        known -= {"ellipsoidal_height"}
    own = column_of(theirs, schema)[0]
    shared = {"x", "y", "z"} | ({"height"} if "ellipsoidal_height" in known else set())
    # Names of ours that others give to something else are asked.
    if own is not None and own.name not in shared:
        return own.name, ""
    ours, reason = _six(heard.phrase, known, asked.covariance)
    if ours or reason:
        return ours, reason
    return meaning(heard.phrase, known, schema.key)


def _six(phrase: str, known: frozenset[str], covariance: str) -> tuple[str, str]:
    """Return what a column headed xx, cxx or q xy is: one of six."""
    found = re.fullmatch(r"(?:[cqs]\s?)?([xyz]{2})", phrase)
    if not found or found[1] not in PAIRS or f"cov_{found[1]}" not in known:
        return "", ""
    pair = found[1]
    if covariance == "cov":
        return f"cov_{pair}", ""
    if covariance == "sd-corr":
        ours = f"sd_{pair[0]}" if pair[0] == pair[1] else f"corr_{pair}"
        return (ours, "") if ours in known else ("", "no such column in this table")
    return "", (
        "a covariance, or one of standard deviations and correlations? "
        "--covariance cov or sd-corr says"
    )


def _unit(
    column: Column, heard: Heard, texts: list[str], asked: Asked
) -> tuple[str, str]:
    """Return the unit of a column, and why it is not known."""
    if not column.unit:
        said = f"the header says {heard.unit}, and {column.name} has no unit"
        return "", said if heard.unit else ""
    units = units_of(column.measure)
    filled = [text for text in texts if text]
    if column.measure == "angle" and filled and all(_is_dms(t) for t in filled):
        return "dms", ""
    if heard.unit in units:
        return heard.unit, ""
    if column.measure == "length" and heard.unit == "ft":
        if asked.length_unit in ("ift", "sft"):
            return asked.length_unit, ""
        return "", "the foot is not named: ift (0.3048 m) or sft (1200/3937 m)"
    if heard.unit:
        says = UNITS[heard.unit].words if heard.unit in UNITS else "feet"
        return "", f"the header says {says}, and a unit of {column.measure} is asked"
    if len(units) == 1:
        return column.unit, ""
    if column.measure == "length" and asked.length_unit:
        return asked.length_unit, ""
    if column.measure == "variance" and asked.length_unit == "m":
        return "m2", ""
    if column.measure == "angle" and any(_cannot_be_packed(t) for t in filled):
        return "deg", ""
    return "", f"the header states no unit: {', '.join(units)}"


def _is_dms(text: str) -> bool:
    try:
        dms(text)
    except ValueError:
        return False
    return True


def _cannot_be_packed(text: str) -> bool:
    """Return whether a decimal has 60 or more where packed digits have minutes."""
    found = re.fullmatch(r"[+-]?\d{1,3}\.(\d\d)(\d\d)?\d*", text)
    return found is not None and (int(found[1]) >= 60 or int(found[2] or 0) >= 60)


def _confidence(column: Column, heard: Heard) -> tuple[str, str]:
    if not (column.name.startswith("sd_") and column.is_number):
        return "", ""
    if heard.confidence:
        return heard.confidence, ""
    # A standard deviation by name is one; anything else is asked.
    if any(heard.phrase.startswith(f"{word} ") for word in SD_WORDS):
        return "sd", ""
    return "", "stated at which confidence: sd, 2 sd, 95 %?"


def _of_values(taken: Taken, rows: list[int], texts: list[str]) -> str:
    """Return what speaks against a column in its values."""
    ours = taken.changed(texts)
    if taken.sign == "-" and any(text[:1] == "-" for text in texts):
        return "the header says west, and there are negative values: which sign?"
    if taken.column.is_number:
        problems = read_numbers(ours, taken.column, taken.unit)[1]
    else:
        problems = check_words(ours, taken.column)
    wrong = [p for p in problems if p.verdict == "fault"]
    if not wrong:
        return ""
    first = wrong[0]
    more = f", and {len(wrong) - 1} more like it" if len(wrong) > 1 else ""
    return f"row {rows[first.i]} has {texts[first.i][:40]!r}{more}: {first.against}"


def _texts(sheet: Sheet, position: int) -> tuple[list[int], list[str]]:
    texts: list[str] = []
    for block in sheet.grid.blocks():
        texts += block.column(position).words()[0].tolist()
        if len(texts) >= MOST_ROWS:
            break
    return sheet.rows[:MOST_ROWS].tolist(), texts[:MOST_ROWS]


def _geocentric(sheet: Sheet, found: list[Proposed], schema: Schema) -> list[Proposed]:
    """Return the columns, x, y, z as geocentric where they lie on the Earth."""
    phrases = [hear(one.theirs) for one in found]
    at = [[i for i, p in enumerate(phrases) if p.phrase == axis] for axis in "xyz"]
    if "x" not in schema.by_name or any(len(i) != 1 for i in at):
        return found
    places = [i for (i,) in at]
    if any(phrases[i].unit not in ("", "m") for i in places):
        return found
    rows = list(zip(*(_texts(sheet, i)[1] for i in places), strict=True))
    try:
        radii = [math.hypot(*(convert(text, "m") for text in row)) for row in rows]
    except ValueError:
        return found
    if radii and all(_EARTH[0] < radius < _EARTH[1] for radius in radii):
        for axis, i in zip("xyz", places, strict=True):
            found[i] = replace(found[i], ours=axis, unit="m", reason="")
    return found


def _once(found: list[Proposed]) -> Iterator[Proposed]:
    """Yield the columns; two that are called alike, or mean the same, are open."""
    names = [one.theirs for one in found]
    ours = [one.ours for one in found if one.ours]
    for one in found:
        if not one.theirs:
            yield replace(one, reason="the column has no name")
        elif names.count(one.theirs) > 1:
            yield replace(one, reason="two columns have this name")
        elif one.ours and ours.count(one.ours) > 1:
            others = [o.theirs for o in found if o.ours == one.ours and o != one]
            also = " and ".join(f'"{other}"' for other in others)
            reason = f"{also} may be {one.ours} too: which is it?"
            yield replace(one, reason="; ".join(filter(None, (one.reason, reason))))
        else:
            yield one
