"""The header of a table: which column a cell names, and in which unit."""

from dataclasses import dataclass
from functools import partial

from ...networks.findings import Finding
from ...networks.units import UNITS, units_of
from .schema import Column, Schema, split_header
from .sheet import Sheet
from .spelling import nearest

_FOOT = ("ft", "feet", "foot", "us_ft", "usft", "us_feet", "int_ft")
# What people write where a unit is meant; anything else is part of the words.
_MEANT_AS_UNITS = {
    *UNITS,
    *_FOOT,
    *("metre", "metres", "meter", "meters", "cm", "in", "inch", "inches", "miles"),
    *("degree", "degrees", "dd", "rad", "grad", "sec", "arcmin", "minutes", "hours"),
    *("cm2", "ft2", "hpa", "mbar", "inhg", "degc", "degf", "c", "f", "yr", "years"),
    *("M", "MM", "KM", "FT", "DMS", "DEG", "UTC", "Year"),
}


@dataclass(frozen=True, slots=True)
class Heading:
    """One cell of a header, understood."""

    position: int
    written: str
    name: str
    """Canonical name; the header as written where the column is not known."""
    unit: str
    column: Column | None
    """None for a column that the table does not know."""


def read_header(sheet: Sheet, schema: Schema) -> tuple[list[Heading], list[Finding]]:
    """Return what each column of a sheet is, and what is wrong with the header.

    Examples
    --------
    >>> from brasscap.io.tables.schema import schemas
    >>> sheet = Sheet("levels.csv", ["section", "rise_ift"])
    >>> headings, findings = read_header(sheet, schemas()["levels"])
    >>> [(heading.name, heading.unit) for heading in headings]
    [('section', ''), ('rise', 'ift')]
    >>> [(finding.slug, finding.booked) for finding in findings]
    [('missing-column', 'the header has no from_station'), \
('missing-column', 'the header has no to_station')]
    """
    headings: dict[str, Heading] = {}
    tried: set[str] = set()
    findings = []
    for position, cell in enumerate(sheet.header):
        written = cell.strip()
        heading, finding = _understand(position, written, schema, sheet)
        if finding:
            findings.append(finding)
        if heading is None:
            tried.add(base_of(written, schema))
        elif heading.name in headings:
            findings.append(_duplicate(sheet, headings[heading.name].written, written))
        else:
            headings[heading.name] = heading
    unknown = [h.written for h in headings.values() if h.column is None]
    findings += _missing(sheet, schema, set(headings) | tried, unknown)
    return list(headings.values()), findings


def _duplicate(sheet: Sheet, first: str, second: str) -> Finding:
    return _fault(
        "duplicate-column",
        sheet,
        f"{first}, {second}",
        against="each column once, in one unit",
        mend="keep one of the two columns",
    )


def _understand(
    position: int, written: str, schema: Schema, sheet: Sheet
) -> tuple[Heading | None, Finding | None]:
    fault = partial(_fault, sheet=sheet, booked=written)
    if not written:
        return None, fault(
            "column-without-name",
            booked=f"column {position + 1} has no header",
            against="a name in every cell of the header",
            mend="name the column, or take it out",
        )
    column = schema.by_name.get(written)
    if column and (column.kind or column.unit == "ppm"):
        return Heading(position, written, written, column.unit, column), None
    words, unit = split_header(written)
    column = schema.by_name.get(words) if unit else None
    if column and UNITS[unit].measure == column.measure:
        return Heading(position, written, words, unit, column), None
    base = base_of(written, schema)
    if written.endswith("_ft") or (base and written[len(base) + 1 :] in _FOOT):
        return None, _bare_foot(fault, base or written[: -len("_ft")])
    if base:
        return None, _wrong_unit(fault, written, schema.by_name[base])
    return _unknown(position, written, schema, sheet)


def base_of(written: str, schema: Schema) -> str:
    """Return the column that a header names but for its unit, empty if none.

    Parameters
    ----------
    written : str
        The header as written: ``height_ft``.
    schema : Schema
    """
    words = written
    while words:
        column = schema.by_name.get(words)
        tail = written[len(words) + 1 :]
        if column and not column.kind and (not tail or tail in _MEANT_AS_UNITS):
            return words
        words = words.rpartition("_")[0]
    return ""


def _bare_foot(fault: partial[Finding], words: str) -> Finding:
    return fault(
        "foot-not-named",
        against="ift (0.3048 m) or sft (1200/3937 m); they differ by 2 ppm",
        mend=f"name the foot: {words}_ift or {words}_sft",
    )


def _wrong_unit(fault: partial[Finding], written: str, column: Column) -> Finding:
    units = units_of(column.measure)
    known = split_header(written)[1]
    slug = "unit-wrong" if known else "unit-unknown"
    if written == column.name:
        slug = "unit-missing"
    tail = written[len(column.name) + 1 :]
    like = nearest(tail, [*units, *(UNITS[u].words for u in units)]) if tail else ""
    like = next((u for u in units if like in (u, UNITS[u].words)), column.unit)
    return fault(
        slug,
        against=f"a unit of {column.measure}: {', '.join(units)}",
        likely=f"{column.name}_{like}",
        mend=f"end the header with its unit: {column.name}_{like}",
    )


def _unknown(
    position: int, written: str, schema: Schema, sheet: Sheet
) -> tuple[Heading, Finding]:
    near = nearest(written, [column.header for column in schema.columns])
    finding = Finding(
        "unknown-column",
        "query",
        f"column {written} of {schema.name}",
        file=sheet.file,
        row=sheet.header_row,
        line=sheet.header_line,
        column=written,
        booked=written,
        against=f"the columns of {schema.name}; this one is kept and not used",
        likely=near,
        mend=f"rename it to {near}" if near else "accept it, or take it out",
    )
    return Heading(position, written, written, "", None), finding


def _missing(
    sheet: Sheet, schema: Schema, present: set[str], unknown: list[str]
) -> list[Finding]:
    """Return the faults of columns that lack; one not understood may be the one."""
    lacking: list[tuple[str, ...]] = [
        (name,) for name in schema.need if name not in present
    ]
    for group in schema.either:
        if not any(present.issuperset(names) for names in group):
            # The set of which most is there is what was meant.
            best = max(group, key=lambda names: len(present.intersection(names)))
            lacking.append(tuple(name for name in best if name not in present))
    for names in schema.together:
        if present.intersection(names):
            lacking.append(tuple(name for name in names if name not in present))
    findings = []
    told: set[str] = set()
    for names in lacking:
        new = [name for name in names if name not in told]
        told.update(new)
        if new:
            findings.append(_missing_column(sheet, schema, new, unknown))
    return findings


def _missing_column(
    sheet: Sheet, schema: Schema, names: list[str], unknown: list[str]
) -> Finding:
    headers = ", ".join(schema.by_name[name].header for name in names)
    like = nearest(schema.by_name[names[0]].header, unknown)
    return _fault(
        "missing-column",
        sheet,
        f"the header has no {headers}",
        against=_alternatives(schema, names[0]),
        likely=f"the column {like}" if like else "",
        mend=f"add {headers}, in any unit of the kind",
    )


def _alternatives(schema: Schema, name: str) -> str:
    for group in schema.either:
        if any(name in names for names in group) and len(group) > 1:
            sets = (
                " ".join(schema.by_name[part].header for part in names)
                for names in group
                if all(schema.by_name[part].offered for part in names)
            )
            return "one of: " + " | ".join(sets)
    for names in schema.together:
        if name in names:
            return "all or none of: " + " ".join(
                schema.by_name[part].header for part in names
            )
    return f"every row of {schema.name} needs it"


def _fault(
    slug: str,
    sheet: Sheet,
    booked: str,
    *,
    against: str = "",
    likely: str = "",
    mend: str = "",
) -> Finding:
    return Finding(
        slug,
        "fault",
        f"header of {sheet.file}",
        file=sheet.file,
        row=sheet.header_row,
        line=sheet.header_line,
        column=booked,
        booked=booked,
        against=against,
        likely=likely,
        mend=mend,
    )
