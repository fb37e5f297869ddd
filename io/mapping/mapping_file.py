"""mapping.toml read: what it states, or everything wrong with it in one go."""

import tomllib
from collections.abc import Iterator, Mapping
from functools import partial
from hashlib import sha256

from ...networks.findings import Finding
from ..tables.cells import check_words, read_numbers
from ..tables.schema import Column, Schema
from ..tables.toml_text import parse_toml
from .columns import ColumnMapping, Taken, column_of
from .stated_columns import Fault, Values, about, read_columns, unknown_key

KEYS = (
    *("schema", "table", "header", "separator", "decimal", "leave_out", "columns"),
    "every_row",
)
_CHOICES = {"separator": ("blank",), "decimal": ("point", "comma")}


def read_mapping(
    file: str, content: bytes, table: str, schema: Schema
) -> tuple[ColumnMapping | None, list[Finding]]:
    r"""Return what a mapping states, and every fault in it.

    Parameters
    ----------
    file : str
        Its name, for messages.
    content : bytes
    table : str
        The table that is asked for; the mapping must be one for it.
    schema : Schema
        Of that table.

    Returns
    -------
    mapping : ColumnMapping or None
        None if there is a fault.
    findings : list of Finding

    Examples
    --------
    >>> from brasscap.io.tables.schema import schemas
    >>> text = b'schema = 1\ntable = "stations"\n[columns]\nPt = {ours = "station"}\n'
    >>> mapping, findings = read_mapping("m.toml", text, "stations",
    ...                                  schemas()["stations"])
    >>> mapping.columns[0].said, findings
    ('station from "Pt"', [])
    """
    values, text, findings = parse_toml(content, file)
    if values is None:
        return None, findings
    fault = partial(_fault, file, _lines(text))
    findings += _frame(fault, values, table)
    columns, every_row = (values.get(key, {}) for key in ("columns", "every_row"))
    taken: list[Taken] = []
    if isinstance(columns, dict):
        taken, found = read_columns(fault, columns, schema)
        findings += found
    if isinstance(every_row, dict):
        findings += _every_row(fault, every_row, schema, taken)
        findings += _stated_twice(fault, every_row, taken)
    if findings:
        return None, findings
    return (
        ColumnMapping(
            file,
            table,
            tuple(taken),
            tuple(values.get("leave_out", ())),
            {header: str(value) for header, value in every_row.items()},
            values.get("header", True),
            sha256(content).hexdigest(),
            values.get("separator", ""),
            values.get("decimal", "point"),
        ),
        [],
    )


def _lines(text: str) -> dict[str, int]:
    """Return the line of each key; a column of theirs is one line."""
    lines: dict[str, int] = {}
    for number, line in enumerate(text.split("\n"), 1):
        try:
            found = tomllib.loads(line)
        except tomllib.TOMLDecodeError:
            continue
        for key, value in found.items():
            lines.setdefault(key, number)
            if isinstance(value, dict):
                # A heading, [columns."Pt"], or a dotted key.
                for inner in value:
                    lines.setdefault(inner, number)
    return lines


def _fault(
    file: str,
    lines: Mapping[str, int],
    slug: str,
    key: str,
    booked: object = "",
    against: str = "",
    likely: str = "",
    mend: str = "",
) -> Finding:
    line, text = lines.get(key, 0), str(booked)
    return Finding(
        slug,
        "fault",
        f"{key} in the mapping",
        file=file,
        row=line,
        line=line,
        column=key,
        booked=text if len(text) <= 80 else text[:77] + "…",
        against=against,
        likely=likely,
        mend=mend,
    )


def _frame(fault: Fault, values: Values, table: str) -> Iterator[Finding]:
    """Yield what is wrong beside the columns themselves."""
    for key in values:
        if key not in KEYS:
            yield unknown_key(about(fault, key), key, KEYS)
    for key, example in (("schema", "1"), ("table", f'"{table}"'), ("columns", "")):
        if values.get(key, {}) == {}:
            words = f"{key} = {example}" if example else "[columns], a line for each"
            yield fault("key-missing", key, against=words, mend=f"add {words}")
    schema = values.get("schema", 1)
    if type(schema) is not int or schema != 1:
        mend = "use the version of brasscap that wrote this mapping"
        yield fault("schema-not-known", "schema", schema, "schema = 1", mend=mend)
    named = values.get("table", table)
    if named != table:
        yield fault(
            "word-not-known",
            "table",
            named,
            f"the table that was asked for: --as {table}",
            mend=f"import with --as {named}, or make a mapping for {table}",
        )
    if not isinstance(values.get("header", True), bool):
        yield _type(fault, "header", values["header"], "true or false")
    for key, choices in _CHOICES.items():
        if key in values and values[key] not in choices:
            words = " or ".join(f'"{choice}"' for choice in choices)
            mend = f"write {key} = {words}, or take it out"
            yield fault("word-not-known", key, repr(values[key]), words, mend=mend)
    names = values.get("leave_out", [])
    if not isinstance(names, list) or not all(isinstance(n, str) for n in names):
        yield _type(fault, "leave_out", names, 'a list: ["Remark", "Photo"]')
    for key in ("columns", "every_row"):
        if not isinstance(values.get(key, {}), dict):
            yield _type(fault, key, values[key], f"a section [{key}]")


def _type(fault: Fault, key: str, value: object, words: str) -> Finding:
    return fault("wrong-type", key, repr(value), words, mend=f"write {words}")


def _every_row(
    fault: Fault, every_row: Values, schema: Schema, taken: list[Taken]
) -> Iterator[Finding]:
    """Yield what is wrong with what is to stand in every row, value by value."""
    mapped = {one.column.name for one in taken}
    for header, value in every_row.items():
        column, unit = column_of(header, schema)
        if column is None:
            yield fault(
                "unknown-column",
                header,
                header,
                f"a header of {schema.name}, with its unit: sd_north_mm",
                "",
                "write it as the table has it, or take it out",
            )
        elif column.name in mapped:
            words = f"{column.name} comes from a column of theirs"
            yield fault("duplicate-column", header, header, words, "", "keep one")
        elif type(value) not in (str, int, float):
            yield _type(fault, header, value, "a text or a number")
        else:
            yield from _value(fault, header, column, unit, str(value))


def _stated_twice(
    fault: Fault, every_row: Values, taken: list[Taken]
) -> Iterator[Finding]:
    """Yield a fault where a standard deviation would be divided twice."""
    divided = [one for one in taken if one.confidence not in ("", "sd")]
    stated = "stated_at" in every_row and every_row["stated_at"] != "sd"
    if divided and (stated or any(one.column.name == "stated_at" for one in taken)):
        yield fault(
            "duplicate-column",
            divided[0].theirs,
            f'stated_at, and confidence = "{divided[0].confidence}"',
            "what a standard deviation is stated at once: it is divided once",
            "",
            'keep stated_at with  confidence = "sd"  for each, or take stated_at out',
        )


def _value(
    fault: Fault, header: str, column: Column, unit: str, text: str
) -> Iterator[Finding]:
    problems = check_words([text], column)
    if column.is_number:
        problems = read_numbers([text], column, unit)[1]
    for problem in problems:
        yield fault(
            problem.slug, header, text, problem.against, problem.likely, problem.mend
        )
