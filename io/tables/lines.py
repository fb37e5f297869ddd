"""Lines of a table file without quotation marks: where its rows are, in arrays."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np

from ...networks.covariances import Ints

PIECE = 1 << 24
"""Bytes that are looked through at a time."""


@dataclass(frozen=True, slots=True)
class Lines:
    """The lines below the header."""

    content: bytes
    separator: str
    width: int
    """Cells of the header."""
    header_line: int
    at: int
    """The byte with which they begin."""

    def pieces(self) -> Iterator[tuple[int, int]]:
        """Yield first byte and end of some whole lines."""
        begin, size = self.at, len(self.content)
        while begin < size:
            end = self.content.find(b"\n", min(begin + PIECE, size)) + 1
            yield begin, end or size
            begin = end or size


def regular_rows(
    lines: Lines, odd: Callable[[int, str], int]
) -> tuple[Ints, Ints, Ints]:
    """Return first byte, end and line number of the rows that are kept.

    Parameters
    ----------
    lines : Lines
    odd : callable
        Asked about every line that does not plainly hold a cell for each column, by
        number and text: how many of its cells are kept; 0 where it is no row.

    Returns
    -------
    first, last, number : ndarray of int, shape (n,)
    """
    found = [np.zeros((3, 0), dtype=np.int64)]
    number = lines.header_line + 1
    for begin, end in lines.pieces():
        first, last, plain = _of_piece(lines, begin, end)
        count = len(first)
        for i in np.flatnonzero(~plain).tolist():
            text = lines.content[first[i] : last[i]].decode()
            kept = odd(number + i, text)
            if kept:
                plain[i] = True
                cells = text.split(lines.separator)[:kept]
                last[i] = first[i] + len(lines.separator.join(cells).encode())
        rows = np.stack([first, last, number + np.arange(count)])
        found.append(rows[:, plain])
        number += count
    first, last, numbers = np.concatenate(found, axis=1)
    return first, last, numbers


def _of_piece(
    lines: Lines, begin: int, end: int
) -> tuple[Ints, Ints, np.ndarray[tuple[int], np.dtype[np.bool_]]]:
    """Return first byte and end of each line, and whether it is a plain row."""
    raw = np.frombuffer(lines.content, np.uint8, end - begin, begin)
    last = np.flatnonzero(raw == ord("\n"))
    if not len(last) or last[-1] != len(raw) - 1:
        last = np.r_[last, len(raw)]
    first = np.r_[0, last[:-1] + 1]
    marks = np.r_[np.flatnonzero(raw == ord(lines.separator)), len(raw)]
    at = np.searchsorted(marks, first)
    count = np.searchsorted(marks, last) - at
    # A row with further cells is one if nothing but separators stands in them.
    over = count - (lines.width - 1)
    tail = marks[np.minimum(at + lines.width - 1, len(marks) - 1)]
    longer = (over > 0) & (last - tail == over)
    lead = np.r_[raw, np.uint8(0)][first]
    plain = (over == 0) | longer
    plain &= (first < last) & (lead > ord(" ")) & (lead < 127)
    plain &= (lead != ord("#")) & (lead != ord(lines.separator))
    last = np.where(longer, tail, last)
    return first + begin, last + begin, plain
