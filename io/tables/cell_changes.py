"""Cells given another value, for decisions; the text as booked stays beside it."""

from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ...networks.covariances import Ints
from ...networks.units import UNITS
from .cells import check_words, read_numbers
from .schema import Column, schemas, split_header
from .spelling import nearest
from .table import Table


class Refused(Exception):  # noqa: N818 - a decision that cannot be carried out
    """A decision cannot be carried out.

    Parameters
    ----------
    against : str
        What was expected.
    mend : str
    likely : str, optional
    slug : str, optional
    """

    def __init__(
        self, against: str, mend: str, likely: str = "", slug: str = "decision-unusable"
    ) -> None:
        super().__init__(against)
        self.against, self.mend, self.likely = against, mend, likely
        self.slug = slug


def with_word(table: Table, column: str, rows: Ints, word: str) -> Table:
    """Return a table with another word in some rows of a column."""
    values = table.word(column).copy()
    values[rows] = word
    return replace(table, columns={**table.columns, column: values})


def with_value(table: Table, rows: Ints, assignment: str) -> tuple[Table, str]:
    """Return a table with another value, ``column=value``, and the column's name.

    Parameters
    ----------
    table : Table
    rows : ndarray of int
        Of several rows, the one that has the column booked is meant.
    assignment : str
        The column with its unit: ``height_m=1.543``.

    Raises
    ------
    Refused
        The column is unknown, has no unit, or the value cannot be read.
    """
    header, sign, text = (part.strip() for part in assignment.partition("="))
    column, unit = _column(table, header, sign)
    some = _meant(table, rows, column)
    new: NDArray[Any]
    if column.is_number:
        values, problems = read_numbers([text], column, unit)
        new = table.number(column.name).copy()
        new[some] = values[0]
    else:
        problems = check_words([text], column)
        new = table.word(column.name).copy()
        new[some] = text
    if problems:
        worst = problems[0]
        mend = worst.mend or "correct the value"
        raise Refused(worst.against, mend, worst.likely, worst.slug)
    booked = table.booked.get(column.name)
    booked = np.full(len(table), "", dtype=object) if booked is None else booked.copy()
    booked[some] = text
    changed = replace(
        table,
        columns={**table.columns, column.name: new},
        booked={**table.booked, column.name: booked},
        header={column.name: header, **table.header},
    )
    return changed, column.name


def read_as(table: Table, rows: Ints, assignment: str) -> tuple[Table, str]:
    """Return a table with booked numbers read in another unit, ``column=unit``.

    Raises
    ------
    Refused
        The column is not booked, or the unit does not measure what it does.
    """
    words, sign, unit = (part.strip() for part in assignment.partition("="))
    name = words if words in table.columns else split_header(words)[0]
    column = schemas()[table.name].by_name.get(name)
    if not sign or column is None or name not in table.columns:
        raise Refused(
            "column=unit as the value, of a column that is booked",
            "brasscap decide unit set-up NAME 'height=ift'",
            likely=nearest(name, table.columns),
        )
    if unit not in UNITS or UNITS[unit].measure != column.measure:
        fit = [u for u, known in UNITS.items() if known.measure == column.measure]
        raise Refused(
            f"a unit of {column.measure}: {', '.join(fit)}", "give one of them"
        )
    texts = [str(table.booked[name][i]) for i in rows]
    values, problems = read_numbers(texts, column, unit)
    if problems:
        worst = problems[0]
        raise Refused(worst.against, worst.mend or "correct the value", worst.likely)
    new = table.number(name).copy()
    new[rows] = values
    return replace(table, columns={**table.columns, name: new}), name


def _column(table: Table, header: str, sign: str) -> tuple[Column, str]:
    """Return the column that an assignment names, and the unit it is given in."""
    known = schemas()[table.name].by_name
    name, unit = (header, "") if header in known else split_header(header)
    column = known.get(name)
    if not sign or column is None:
        raise Refused(
            "column=value as the value, the column as in its header",
            "brasscap decide value set-up NAME 'height_m=1.543'",
            likely=nearest(header, [c.header for c in known.values()]),
        )
    measure = UNITS[unit].measure if unit in UNITS else ""
    if column.is_number and measure != column.measure:
        raise Refused(
            f"the column with its unit, as in {column.header}",
            f"write {column.header}=…",
            likely=column.header,
        )
    return column, unit


def _meant(table: Table, rows: Ints, column: Column) -> Ints:
    booked = rows[table.has(column.name)[rows]]
    return booked[:1] if len(booked) else rows[:1]
