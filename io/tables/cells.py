"""Cells to values, a column at a time; a cell that cannot be read is a problem."""

import re
from collections.abc import Callable, Iterable
from datetime import datetime

import numpy as np

from ...networks.units import LARGEST, convert, dms
from .schema import IN_DEGREES, Column
from .spelling import MOST_SPELLINGS, nearest
from .table import Floats
from .unreadable import Problem, unreadable

LONGEST_NAME = 80
"""Characters; longer, it is a description."""

_UTC = re.compile(r"\d{4}-\d\d-\d\d[T ]\d\d:\d\d(:\d\d(\.\d{1,6})?)?(Z|\+00:00)?")


def read_numbers(
    texts: list[str], column: Column, unit: str
) -> tuple[Floats, list[Problem]]:
    """Return a column of numbers in canonical units; empty and unreadable are NaN.

    Angles become radians, but latitude and longitude stay in degrees.

    Parameters
    ----------
    texts : list of str
        Cells without blanks around them.
    column : Column
    unit : str
        Unit of the header; empty for a bare number.

    Examples
    --------
    >>> values, problems = read_numbers(["1500", "", "1,5"], Column("dx_m", ""), "mm")
    >>> values.tolist(), [(p.i, p.slug) for p in problems]
    ([1.5, nan, nan], [(2, 'decimal-comma')])
    """
    values, problems = read_texts(texts, column, unit)
    problems += out_of_range(values, column, unit)
    return in_radians(values, column), problems


def in_radians(values: Floats, column: Column) -> Floats:
    """Return the values of a column; angles in radians, but for places on the Earth."""
    if column.measure == "angle" and column.name not in IN_DEGREES:
        return np.asarray(np.radians(values))
    return values


def read_texts(
    texts: list[str], column: Column, unit: str
) -> tuple[Floats, list[Problem]]:
    """Return numbers cell by cell, angles in degrees, and those that are none."""
    values = np.full(len(texts), np.nan)
    problems = []
    read = _reader(unit)
    for i, text in enumerate(texts):
        if text:
            try:
                values[i] = read(text)
            except ValueError:
                problems.append(unreadable(i, text, column, unit))
    return values, problems


def _reader(unit: str) -> Callable[[str], float]:
    if unit == "dms":
        return dms
    return lambda text: convert(text, unit or "ratio")


def out_of_range(values: Floats, column: Column, unit: str) -> list[Problem]:
    """Return the values that cannot be; those that are too large become NaN."""
    problems = []
    largest = LARGEST.get(column.measure, 1e9)
    for i in np.flatnonzero(np.abs(values) > largest):
        problems.append(
            Problem(
                int(i),
                column.name,
                "number-too-large",
                f"at most {largest:g} in size",
                mend="compare the cell with its source; is the unit right?",
            )
        )
        values[i] = np.nan
    for i in np.flatnonzero((values < column.low) | (values > column.high)):
        problems.append(
            Problem(
                int(i),
                column.name,
                "out-of-range",
                _limits(column),
                _meant(float(values[i]), column, unit),
                "compare the cell with its source; is the unit right?",
            )
        )
    if column.kind == "code" or column.measure == "count":
        for i in np.flatnonzero(np.isfinite(values) & (values != np.floor(values))):
            problems.append(
                Problem(
                    int(i),
                    column.name,
                    "not-whole",
                    "a whole number",
                    mend="compare the cell with its source",
                )
            )
    return problems


def _meant(value: float, column: Column, unit: str) -> str:
    """Return what a value out of range likely is."""
    if column.name == "zenith" and value < 0:
        return f"an angle from the horizon: zenith angle {90 - value:.4f}°"
    if column.name.startswith("corr_"):
        return f"a covariance: its column is cov_{column.name[5:]}_mm2, not corr_…"
    circle = column.measure == "angle" and column.high == 360
    if circle and unit != "gon" and 360 < value <= 400:
        return "gon: a full circle is 400"
    return ""


def _limits(column: Column) -> str:
    unit = {"angle": " degrees", "year": ""}.get(column.measure, "")
    if column.high == float("inf"):
        return f"not below {column.low:g}{unit}"
    return f"between {column.low:g} and {column.high:g}{unit}"


def check_words(texts: list[str], column: Column) -> list[Problem]:
    """Return what is wrong with a column of words, names or UTC times.

    Examples
    --------
    >>> uses = Column("use_plan", "", "word", choices=("held", "weighted"))
    >>> [(p.slug, p.likely) for p in check_words(["held", "Held"], uses)]
    [('word-not-known', 'held')]
    """
    wrong = wrong_words(texts, column, judge_of(column))
    return [
        Problem(i, column.name, *wrong[text])
        for i, text in enumerate(texts)
        if text in wrong
    ]


Judgement = tuple[str, str, str, str, str]
"""Slug, against, likely, mend, verdict."""

Judge = Callable[[str], Judgement | None]


def wrong_words(
    texts: Iterable[str], column: Column, judge: Judge
) -> dict[str, Judgement]:
    """Return the distinct texts that are wrong, each with what is."""
    if not (column.choices or column.measure == "instant" or column.kind == "name"):
        return {}
    if column.kind == "name" and _plain_names(texts):
        return {}
    # In the order of the rows, for the spellings of the first are sought.
    return {
        text: found for text in dict.fromkeys(texts) if text and (found := judge(text))
    }


def judge_of(column: Column) -> Judge:
    """Return what judges the texts of a column of words, names or UTC times."""
    if column.choices:
        left = iter(range(MOST_SPELLINGS))
        return lambda text: _choice(text, column.choices, next(left, None) is not None)
    if column.measure == "instant":
        return _instant
    return _name if column.kind == "name" else lambda text: None


def _choice(text: str, choices: tuple[str, ...], seek: bool) -> Judgement | None:
    if text in choices:
        return None
    near = nearest(text, choices) if seek else ""
    mend = f"write {near}" if near else "use one of these words"
    return "word-not-known", "one of: " + ", ".join(choices), near, mend, "fault"


def _instant(text: str) -> Judgement | None:
    if _UTC.fullmatch(text):
        try:
            moment = datetime.fromisoformat(text)
        except ValueError:
            pass
        else:
            if 1980 <= moment.year < 2200:
                return None
    if re.fullmatch(r".+:\d\d\s*[+-]\d\d:?\d\d", text):
        return (
            "time-not-utc",
            "UTC, as 2026-05-14T16:30:00Z",
            "",
            "convert the time to UTC",
            "fault",
        )
    return (
        "not-a-time",
        "year-month-day and time in UTC, as 2026-05-14T16:30:00Z",
        "",
        "write date and time in this order",
        "fault",
    )


def _plain_names(texts: Iterable[str]) -> bool:
    """Return whether nothing is wrong with any of some names, which have been trimmed.

    A look at all of them at once; what it does not pass is looked at one by one.
    """
    every = list(texts)
    joined = "".join(every)
    return (
        joined.isprintable()
        and "  " not in joined
        and max(map(len, every), default=0) <= LONGEST_NAME
    )


def _name(text: str) -> Judgement | None:
    if not text.isprintable() and not text.replace("\xa0", " ").isprintable():
        return (
            "name-not-printable",
            "a name in one line, of letters that can be seen",
            " ".join("".join(c if c.isprintable() else " " for c in text).split()),
            "write the name as stamped",
            "fault",
        )
    if "  " in text or "\xa0" in text:
        return (
            "name-has-odd-blanks",
            "single ordinary blanks inside a name",
            " ".join(text.split()),
            "write single blanks, everywhere the name is used",
            "query",
        )
    if len(text) > LONGEST_NAME:
        return (
            "name-too-long",
            f"at most {LONGEST_NAME} characters",
            "",
            "is this a description, or a quotation mark left open?",
            "fault",
        )
    return None
