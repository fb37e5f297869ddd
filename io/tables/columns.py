"""Columns read a block of cells at a time: numbers, words, and what is wrong."""

from dataclasses import dataclass, field
from typing import Any, Protocol

import numpy as np
from numpy.typing import NDArray

from ...networks.covariances import Bools, Floats, Ints
from ...networks.units import UNITS
from .cells import (
    Judge,
    Judgement,
    in_radians,
    judge_of,
    out_of_range,
    read_texts,
    wrong_words,
)
from .decimals import plain_decimals
from .grid import Cells, Grid, Words, Written
from .header import Heading
from .schema import Column
from .unreadable import Problem

MOST_SHARED = 1 << 16
"""Distinct texts of a column of which equal ones are made one object."""

_Column = tuple[NDArray[Any], Words | Written, list[Problem]]
"""Values, the text as booked, and what is wrong with it."""


class Reader(Protocol):
    """What reads a column."""

    def add(self, cells: Cells) -> None:
        """Read the cells of the next block."""

    def read(self, grid: Grid) -> _Column:
        """Return the whole column."""


def reader_of(heading: Heading) -> Reader:
    """Return the reader of a column, by what its header says."""
    column = heading.column
    if column is not None and column.is_number:
        return NumberReader(heading, column)
    return WordReader(heading, judge_of(column) if column else _right)


def _right(text: str) -> Judgement | None:
    return None


@dataclass
class NumberReader:
    """Reads a column of numbers; empty and unreadable ones are NaN."""

    heading: Heading
    column: Column
    values: list[Floats] = field(default_factory=list)
    filled: list[Bools] = field(default_factory=list)
    problems: list[Problem] = field(default_factory=list)
    count: int = 0

    def add(self, cells: Cells) -> None:
        """Read the cells of the next block."""
        unit = self.heading.unit
        filled = cells.stop > cells.start
        if unit == "dms":
            values, read = np.full(len(filled), np.nan), ~filled
        else:
            values, read = plain_decimals(cells, UNITS[unit or "ratio"].factor)
        rows = np.flatnonzero(~read)
        texts = cells.texts(rows)
        values[rows], found = read_texts(texts, self.column, unit)
        filled[rows] = [bool(text) for text in texts]
        self.problems += at_rows(found, rows + self.count)
        self.values.append(values)
        self.filled.append(filled)
        self.count += len(values)

    def read(self, grid: Grid) -> _Column:
        """Return the whole column."""
        values = np.concatenate([np.zeros(0), *self.values])
        filled = np.concatenate([np.zeros(0, dtype=bool), *self.filled])
        self.problems += out_of_range(values, self.column, self.heading.unit)
        written = Written((grid,), (self.heading.position,), filled)
        return in_radians(values, self.column), written, self.problems


@dataclass
class WordReader:
    """Reads a column of words, names or UTC times."""

    heading: Heading
    judge: Judge
    words: list[Words] = field(default_factory=list)
    shared: dict[str, str] = field(default_factory=dict)
    wrong: dict[str, Judgement] = field(default_factory=dict)
    problems: list[Problem] = field(default_factory=list)
    trimmed: list[int] = field(default_factory=list)
    """First row that had blanks around its name, and further ones' number."""
    count: int = 0

    def add(self, cells: Cells) -> None:
        """Read the cells of the next block."""
        words, distinct = cells.words()
        column, shared = self.heading.column, self.shared
        if len(shared) < MOST_SHARED:
            same = {text: shared.setdefault(text, text) for text in set(distinct)}
            if len(same) < len(words) // 4:
                words = np.array([same[text] for text in words], dtype=object)
        if column is not None:
            wrong = wrong_words(distinct, column, self.judge)
            self.problems += [
                Problem(i + self.count, column.name, *wrong[word])
                for i, word in enumerate(words if wrong else ())
                if word in wrong
            ]
        self._trim(cells, words)
        self.words.append(words)
        self.count += len(words)

    def _trim(self, cells: Cells, words: Words) -> None:
        odd = cells.trimmed
        if not cells.is_ascii:
            # Blanks that are not of one byte were taken off as text.
            size = [len(word.encode()) for word in words]
            odd = odd | (cells.stop - cells.start != size)
        self.trimmed += (np.flatnonzero(odd) + self.count).tolist()

    def read(self, grid: Grid) -> _Column:
        """Return the whole column."""
        words = np.concatenate([np.zeros(0, dtype=object), *self.words])
        column, odd = self.heading.column, self.trimmed
        if column is not None and column.kind == "name" and odd:
            self.problems.append(_blanks_around(odd, str(words[odd[0]]), column.name))
        if len(words) and len(self.shared) == 1 and (words == words[0]).all():
            words = np.broadcast_to(np.array(words[0], dtype=object), len(words))
        return words, words, self.problems


def at_rows(problems: list[Problem], rows: Ints) -> list[Problem]:
    """Return problems of some cells at the rows that these cells have."""
    return [
        Problem(
            int(rows[p.i]), p.column, p.slug, p.against, p.likely, p.mend, p.verdict
        )
        for p in problems
    ]


def _blanks_around(rows: list[int], text: str, name: str) -> Problem:
    return Problem(
        rows[0],
        name,
        "name-has-blanks-around",
        f"the name alone; read without the blanks, in {len(rows)} row(s)",
        text,
        "take the blanks away",
        "note",
    )
