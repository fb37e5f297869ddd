"""The columns that a mapping states, each with everything wrong with it."""

from collections.abc import Callable, Iterator, Mapping
from typing import Any

from ...networks.findings import Finding
from ...networks.units import UNITS, units_of
from ..tables.schema import Column, Schema, split_header
from ..tables.spelling import nearest
from .columns import CONFIDENCES, SIGNS, Taken

COLUMN_KEYS = ("ours", "unit", "sign", "confidence")
_FOOT = ("ft", "feet", "foot", "us_ft", "usft")

Fault = Callable[..., Finding]
Values = Mapping[str, Any]


def read_columns(
    fault: Fault, columns: Values, schema: Schema
) -> tuple[list[Taken], list[Finding]]:
    """Return the columns of the section [columns], and every fault in it.

    Parameters
    ----------
    fault : callable
        Makes a fault of slug, key, booked, against, likely, mend.
    columns : mapping
        Their header to what is stated of it.
    schema : Schema
    """
    taken, findings = [], []
    for theirs, values in columns.items():
        said = about(fault, theirs)
        if not isinstance(values, dict):
            words = '{ours = "north", unit = "m"}'
            mend = f"write {words}"
            findings.append(said("wrong-type", repr(values), words, "", mend))
            continue
        column, found = _ours(said, values.get("ours"), schema)
        found += [
            unknown_key(said, k, COLUMN_KEYS) for k in values if k not in COLUMN_KEYS
        ]
        if column is not None:
            found += _of_column(said, values, column)
        findings += found
        if column is not None and not found:
            taken.append(_taken(theirs, column, values))
    return taken, findings + _twice(fault, taken)


def about(fault: Fault, key: str) -> Fault:
    """Return what makes faults about one key."""
    return lambda slug, *more: fault(slug, key, *more)


def unknown_key(fault: Fault, key: str, known: tuple[str, ...]) -> Finding:
    """Return the fault of a key that a mapping does not have."""
    near = nearest(key, known)
    mend = f"write {near}, or take it out" if near else "take it out"
    return fault("unknown-key", key, "one of: " + ", ".join(known), near, mend)


def _taken(theirs: str, column: Column, values: Values) -> Taken:
    # Where a measure has one unit, it need not be said.
    unit = values.get("unit", column.unit)
    sign, stated = values.get("sign", "+"), values.get("confidence", "")
    return Taken(theirs, column, unit, sign, stated)


def _twice(fault: Fault, taken: list[Taken]) -> list[Finding]:
    """Return a fault for each column of ours that two of theirs lead to."""
    first: dict[str, str] = {}
    findings = []
    for one in taken:
        name = one.column.name
        if first.setdefault(name, one.theirs) != one.theirs:
            findings.append(
                fault(
                    "duplicate-column",
                    one.theirs,
                    f'{name} from "{first[name]}" and from "{one.theirs}"',
                    "each column of ours from one of theirs",
                    "",
                    "keep one of the two, and put the other under leave_out",
                )
            )
    return findings


def _ours(
    fault: Fault, ours: object, schema: Schema
) -> tuple[Column | None, list[Finding]]:
    words = f'ours = "…", a column of {schema.name}'
    if ours is None:
        return None, [fault("key-missing", "", words, "", f"add {words}")]
    if not isinstance(ours, str):
        return None, [fault("wrong-type", repr(ours), words, "", f"write {words}")]
    if column := schema.by_name.get(ours):
        return column, []
    name, unit = split_header(ours)
    against, near = f"a column of {schema.name}, without its unit", ""
    if unit and name in schema.by_name:
        near = name
        mend = f'write  ours = "{name}"  and  unit = "…", what theirs is in'
    else:
        near = nearest(ours, schema.by_name)
        mend = f'write  ours = "{near}"' if near else _names(schema)
    return None, [fault("unknown-column", ours, against, near, mend)]


def _names(schema: Schema) -> str:
    return "one of: " + " ".join(schema.by_name)


def _of_column(fault: Fault, values: Values, column: Column) -> Iterator[Finding]:
    yield from _unit(fault, values.get("unit"), column)
    sign = values.get("sign", "+")
    if sign not in SIGNS:
        mend = 'write  sign = "-"  where ours has the other sign, or take it out'
        yield fault("word-not-known", repr(sign), '"+" or "-"', "", mend)
    elif sign == "-" and not column.is_number:
        against = f"{column.name} is no number"
        yield fault("key-without-effect", "sign", against, "", "take the sign out")
    yield from _confidence(fault, values.get("confidence"), column)


def _confidence(fault: Fault, stated: object, column: Column) -> Iterator[Finding]:
    words = "one of: " + ", ".join(f'"{word}"' for word in CONFIDENCES)
    if not (column.name.startswith("sd_") and column.is_number):
        if stated is not None:
            against = f"{column.name} is no standard deviation"
            mend = "take the confidence out"
            yield fault("key-without-effect", "confidence", against, "", mend)
    elif stated is None:
        mend = 'add  confidence = "sd"  or what theirs is stated at; look it up where '
        mend += "the file comes from"
        yield fault("key-missing", f"no confidence of {column.name}", words, "", mend)
    elif stated not in CONFIDENCES:
        near = nearest(str(stated), CONFIDENCES)
        mend = f'write "{near}"' if near else "use one of these words"
        yield fault("word-not-known", repr(stated), words, near, mend)


def _unit(fault: Fault, unit: object, column: Column) -> Iterator[Finding]:
    units = units_of(column.measure) if column.unit else ()
    against = f"a unit of {column.measure}: {', '.join(units)}"
    if not units:
        if unit is not None:
            against = f"{column.name} has no unit"
            mend = "take the unit out"
            yield fault("key-without-effect", f"unit {unit}", against, "", mend)
    elif unit is None:
        if len(units) > 1:
            mend = 'add  unit = "…", what theirs is in'
            yield fault("unit-missing", column.name, against, "", mend)
    elif str(unit).casefold() in _FOOT:
        against = "ift (0.3048 m) or sft (1200/3937 m); they differ by 2 ppm"
        mend = 'name the foot: "ift" or "sft"'
        yield fault("foot-not-named", unit, against, "", mend)
    elif unit not in units:
        slug = "unit-wrong" if unit in UNITS else "unit-unknown"
        near = nearest(str(unit), [*units, *(UNITS[u].words for u in units)])
        near = next((u for u in units if near in (u, UNITS[u].words)), "")
        mend = f'write  unit = "{near}"' if near else "use one of these"
        yield fault(slug, unit, against, near, mend)
