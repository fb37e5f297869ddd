"""Rows of a table file as bytes, cut into cells a block of rows at a time.

A cell is a place in the bytes. Texts are made only of what is asked for, so that a
table of a million rows does not become as many objects as it has cells.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ...networks.covariances import Bools, Ints

Bytes = NDArray[np.uint8]
Words = NDArray[np.object_]

BLOCK = 1 << 22
"""Bytes of rows that are cut at a time."""

WIDEST = 1 << 26
"""Bytes that the cells of a column may take in a block when laid side by side."""

_BLANKS = np.isin(np.arange(256), [ord(c) for c in " \t\n"])
_END = "\0"


@dataclass(frozen=True)
class Grid:
    """The rows of one file that have a cell for each column."""

    content: bytes
    """UTF-8. Between the first and the last byte of a row only its cells and
    separators."""
    separator: str
    first: Ints
    """(n,) byte with which each row begins."""
    last: Ints
    """(n,) byte after its end."""
    width: int
    """Cells of a row; the rows of a matrix in triangle form may have fewer."""

    def __len__(self) -> int:
        return len(self.first)

    @cached_property
    def is_ascii(self) -> bool:
        """Whether every character is one byte."""
        return self.content.isascii()

    def record(self, i: int) -> list[str]:
        """Return the cells of a row, with the blanks around them."""
        row = self.content[int(self.first[i]) : int(self.last[i])]
        return row.decode().split(self.separator)

    def blocks(self) -> Iterator["Block"]:
        """Yield the rows in blocks of about ``BLOCK`` bytes."""
        begin = 0
        while begin < len(self):
            limit = self.first[begin] + BLOCK
            end = max(int(np.searchsorted(self.last, limit)), begin + 1)
            yield _cut(self, begin, end)
            begin = end


@dataclass(frozen=True, slots=True)
class Block:
    """Some rows, and where each cell of them is."""

    grid: Grid
    raw: Bytes
    """The bytes of these rows."""
    start: Ints
    """(k, width) in ``raw``."""
    stop: Ints

    def column(self, position: int) -> "Cells":
        """Return the cells of a column, without the blanks around them."""
        start, stop = self.start[:, position].copy(), self.stop[:, position].copy()
        raw = np.r_[self.raw, np.uint8(0)]
        while (lead := _BLANKS[raw[start]] & (start < stop)).any():
            start += lead
        while (trail := _BLANKS[raw[stop - 1]] & (start < stop)).any():
            stop -= trail
        bare = (start == self.start[:, position]) & (stop == self.stop[:, position])
        return Cells(self.raw, start, stop, ~bare, self.grid.is_ascii)


@dataclass(frozen=True, slots=True)
class Cells:
    """Cells of one column in a block."""

    raw: Bytes
    start: Ints
    stop: Ints
    trimmed: Bools
    """(k,) whether there were blanks around it."""
    is_ascii: bool

    def texts(self, rows: Ints) -> list[str]:
        """Return the texts of some of the cells."""
        ends = zip(self.start[rows].tolist(), self.stop[rows].tolist(), strict=True)
        return [self.raw[a:b].tobytes().decode().strip() for a, b in ends]

    def laid(self, width: int) -> tuple[Bytes, Bools]:
        """Return the cells one below the other, (k, width), and what is in them."""
        places = self.start[:, None] + np.arange(width)
        inside = places < self.stop[:, None]
        return np.where(inside, self.raw[np.where(inside, places, 0)], 0), inside

    def words(self) -> tuple[Words, Words]:
        """Return the texts (k,), and those that differ from the one above, in order."""
        length = self.stop - self.start
        width = int(length.max(initial=0))
        if width * len(length) > WIDEST:
            every = _objects(self.texts(np.arange(len(length))))
            return every, every
        if not width:
            none = np.full(len(length), "", dtype=object)
            return none, none[:1]
        laid, inside = self.laid(width)
        fresh = np.ones(len(length), dtype=bool)
        fresh[1:] = (laid[1:] != laid[:-1]).any(axis=1)
        # The byte that ends each text is none that a text can have.
        ended = np.pad(laid[fresh], ((0, 0), (0, 1)))
        kept = np.pad(inside[fresh], ((0, 0), (0, 1)), constant_values=True)
        texts = ended[kept].tobytes().decode().split(_END)[:-1]
        if not self.is_ascii:
            texts = [text.strip() for text in texts]
        found = _objects(texts)
        return found[np.cumsum(fresh) - 1], found


@dataclass(frozen=True)
class Written:
    """A column as written, cut from its files when it is asked for.

    It is used like the array of the texts: by number, or by an array of numbers.
    """

    grids: tuple[Grid, ...]
    positions: tuple[int, ...]
    """Of the column in each; −1 where it has none."""
    filled: Bools
    """(n,) whether there is a text."""

    def __len__(self) -> int:
        return len(self.filled)

    def __getitem__(self, i: Any) -> Any:
        if np.ndim(i) == 0 and not isinstance(i, slice):
            return self._text(range(len(self))[int(i)])
        return _objects([self._text(k) for k in np.arange(len(self))[i].tolist()])

    def _text(self, i: int) -> str:
        for grid, position in zip(self.grids, self.positions, strict=True):
            if i < len(grid):
                return grid.record(i)[position].strip() if position >= 0 else ""
            i -= len(grid)
        raise IndexError(i)

    def copy(self) -> Words:
        """Return all texts."""
        return np.asarray(self[:])

    def tolist(self) -> list[str]:
        """Return all texts."""
        return [str(text) for text in self[:]]


def together(parts: Sequence[Words | Written]) -> Words | Written:
    """Return columns one below the other."""
    written = [part for part in parts if isinstance(part, Written)]
    if not written:
        return np.concatenate([np.asarray(part, dtype=object) for part in parts])
    grids: list[Grid] = []
    positions: list[int] = []
    filled = []
    for part in parts:
        if isinstance(part, Written):
            grids += part.grids
            positions += part.positions
            filled.append(part.filled)
        else:
            # A file without the column: as many rows with nothing in them.
            grids.append(grid_of_rows([b""] * len(part), 1))
            positions.append(-1)
            filled.append(np.zeros(len(part), dtype=bool))
    return Written(tuple(grids), tuple(positions), np.concatenate(filled))


def grid_of(records: list[list[str]]) -> Grid:
    """Return the grid of cells that are at hand.

    Examples
    --------
    >>> grid_of([["T1", "1.5"], ["T2", ""]]).record(1)
    ['T2', '']
    """
    rows = ["\x1f".join(cells).encode() for cells in records]
    return grid_of_rows(rows, max((len(cells) for cells in records), default=0))


def grid_of_rows(rows: list[bytes], width: int) -> Grid:
    """Return the grid of rows whose cells are parted by the separator 0x1f."""
    last = np.cumsum([len(row) for row in rows], dtype=np.int64)
    first = last - np.array([len(row) for row in rows], dtype=np.int64)
    return Grid(b"".join(rows), "\x1f", first, last, width)


def _cut(grid: Grid, begin: int, end: int) -> Block:
    offset, stop = int(grid.first[begin]), int(grid.last[end - 1])
    raw = np.frombuffer(grid.content, np.uint8, stop - offset, offset)
    first, last = grid.first[begin:end] - offset, grid.last[begin:end] - offset
    marks = np.flatnonzero(raw == ord(grid.separator))
    at = np.searchsorted(marks, first)
    inner = marks[at[:, None] + np.arange(grid.width - 1)]
    starts = np.concatenate([first[:, None], inner + 1], axis=1)
    stops = np.concatenate([inner, last[:, None]], axis=1)
    return Block(grid, raw, starts, stops)


def _objects(texts: list[str]) -> Words:
    words = np.empty(len(texts), dtype=object)
    words[:] = texts
    return words
