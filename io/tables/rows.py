"""Sheets of one table to a ``Table``, and every fault within the table."""

from collections import Counter
from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ...networks.findings import Finding
from .columns import reader_of
from .grid import Written, together
from .header import Heading, read_header
from .schema import Schema
from .sheet import Sheet
from .table import Table, Words
from .unreadable import Problem


def read_table(sheets: list[Sheet], schema: Schema) -> tuple[Table, list[Finding]]:
    """Return the rows of a table from all its files, and what is wrong with them.

    Parameters
    ----------
    sheets : list of Sheet
        ``NAME.csv`` and ``NAME/*.csv``, those that have a header.
    schema : Schema

    Returns
    -------
    table : Table
        A value that cannot be read is NaN; a row of the wrong length is left out.
    findings : list of Finding
    """
    tables: list[Table] = []
    findings: list[Finding] = []
    for sheet in sheets:
        headings, found = read_header(sheet, schema)
        table, problems = _one_file(sheet, schema, headings)
        findings += found
        findings += _as_findings(table, problems)
        findings += _not_filled(table, schema)
        tables.append(table)
    whole = tables[0] if len(tables) == 1 else _together(tables, schema)
    return whole, findings + _repeated(whole, schema)


def _one_file(
    sheet: Sheet, schema: Schema, headings: list[Heading]
) -> tuple[Table, list[Problem]]:
    columns: dict[str, NDArray[Any]] = {}
    booked: dict[str, Words | Written] = {}
    problems: list[Problem] = []
    made = [reader_of(heading) for heading in headings]
    for block in sheet.grid.blocks():
        for heading, reader in zip(headings, made, strict=True):
            reader.add(block.column(heading.position))
    for heading, reader in zip(headings, made, strict=True):
        values, text, found = reader.read(sheet.grid)
        columns[heading.name], booked[heading.name] = values, text
        problems += found
    header = {heading.name: heading.written for heading in headings}
    table = Table(
        schema.name,
        columns,
        booked,
        header,
        np.broadcast_to(np.array(sheet.file, dtype=object), len(sheet.grid)),
        sheet.rows,
        sheet.lines,
        schema.subject,
        schema.key,
        {sheet.file: header},
    )
    return table, problems


def _as_findings(table: Table, problems: list[Problem]) -> list[Finding]:
    return [
        table.finding(
            problem.slug,
            problem.verdict,
            problem.i,
            (problem.column,),
            against=problem.against,
            likely=problem.likely,
            mend=problem.mend,
        )
        for problem in problems
    ]


def _not_filled(table: Table, schema: Schema) -> list[Finding]:
    """Return a fault for every row that lacks what the table needs."""
    findings = []
    for name in schema.need:
        if name in table.columns:
            for i in np.flatnonzero(~table.has(name)):
                findings.append(_missing_value(table, schema, int(i), (name,)))
    for names in schema.together:
        if not set(names) <= set(table.columns):
            continue
        filled = np.array([table.has(name) for name in names])
        for i in np.flatnonzero(filled.any(axis=0) & ~filled.all(axis=0)):
            findings.append(_missing_value(table, schema, int(i), names))
    for group in schema.either:
        there = [names for names in group if set(names) <= set(table.columns)]
        if not there:
            continue
        filled = np.zeros(len(table), dtype=bool)
        for names in there:
            filled |= np.all([table.has(name) for name in names], axis=0)
        told = {finding.row for finding in findings}
        for i in np.flatnonzero(~filled):
            if int(table.row[i]) not in told:
                findings.append(_missing_either(table, there, int(i)))
    return findings


def _missing_value(
    table: Table, schema: Schema, i: int, names: tuple[str, ...]
) -> Finding:
    written = {n: table.header.get(n, schema.by_name[n].header) for n in names}
    lacking = [name for name in names if not table.has(name)[i]]
    headers = ", ".join(written[name] for name in lacking)
    alone = len(names) == 1
    finding = table.finding(
        "missing-value",
        "fault",
        i,
        tuple(name for name in names if name not in lacking),
        against="needed in every row"
        if alone
        else "all or none of: " + " ".join(written.values()),
        mend=f"fill {headers}",
    )
    return replace(finding, booked=finding.booked or f"{headers} is empty")


def _missing_either(table: Table, sets: list[tuple[str, ...]], i: int) -> Finding:
    written = [" ".join(table.header[name] for name in names) for names in sets]
    finding = table.finding(
        "missing-value",
        "fault",
        i,
        against="one of: " + " | ".join(written)
        if len(written) > 1
        else "needed in every row",
        mend="fill one of them" if len(written) > 1 else f"fill {written[0]}",
    )
    return replace(finding, booked=", ".join(written) + ": empty")


def _repeated(table: Table, schema: Schema) -> list[Finding]:
    """Return a fault for every row whose name another row has already."""
    findings = []
    for names, among in schema.unique:
        inside = table.has(names[0])
        if among:
            inside = inside & table.has(among)
        rows = np.flatnonzero(inside)
        parts = [_part(table, name)[rows].tolist() for name in names]
        texts = parts[0] if len(parts) == 1 else list(zip(*parts, strict=True))
        if len(set(texts)) == len(texts):
            continue
        counts = Counter(texts)
        first: dict[Any, int] = {}
        for i, text in zip(rows, texts, strict=True):
            if counts[text] > 1 and first.setdefault(text, int(i)) != i:
                findings.append(_duplicate(table, int(i), first[text], names))
    return findings


def _part(table: Table, name: str) -> Words:
    """Return a column's words; of "has NAME" whether each row has one."""
    if name.startswith("has "):
        return table.has(name.removeprefix("has ")).astype(object)
    return table.word(name)


def _duplicate(table: Table, i: int, other: int, names: tuple[str, ...]) -> Finding:
    return table.finding(
        "duplicate-name",
        "fault",
        i,
        tuple(name for name in names if name in table.columns),
        against=f"each once; also in {table.file[other]} row {table.row[other]}",
        likely="a row pasted twice, or two things of one name",
        mend="rename one of them, or take the copy out",
    )


def _together(tables: list[Table], schema: Schema) -> Table:
    names = list(dict.fromkeys(name for table in tables for name in table.columns))
    columns: dict[str, NDArray[Any]] = {}
    booked: dict[str, Words | Written] = {}
    header: dict[str, str] = {}
    headers: dict[str, dict[str, str]] = {}
    for name in names:
        column = schema.by_name.get(name)
        numeric = column is not None and column.is_number
        columns[name] = np.concatenate(
            [t.number(name) if numeric else t.word(name) for t in tables]
        )
        booked[name] = together([_booked(t, name) for t in tables])
        header[name] = next(t.header[name] for t in tables if name in t.header)
    for table in tables:
        headers.update(table.file_headers)
    return Table(
        schema.name,
        columns,
        booked,
        header,
        np.concatenate([table.file for table in tables]),
        np.concatenate([table.row for table in tables]),
        np.concatenate([table.line for table in tables]),
        schema.subject,
        schema.key,
        headers,
    )


def _booked(table: Table, name: str) -> Words | Written:
    nothing = np.broadcast_to(np.array("", dtype=object), len(table))
    return table.booked.get(name, nothing)
