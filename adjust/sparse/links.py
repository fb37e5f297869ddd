"""How stacks of fronts hang together: whose border goes where in a parent's front."""

from dataclasses import dataclass

import numpy as np

from ...networks.covariances import Floats, Ints
from .layout import Layout
from .narrow import Places, narrow

_CACHED = 1 << 23
"""Positions kept for all links together: 64 MB; the rest is formed when needed."""
_PART = 1 << 20
"""Of a part of a larger network, of which a process holds several."""
_RUN = 0.07
"""Stretches of a border, for each of its rows, up to which slices are quicker than
positions: half a square of these at 0.7 µs against a square of rows at 3.5 ns."""


@dataclass(frozen=True, slots=True)
class Link:
    """Fronts of one stack whose parents are in another."""

    child: int
    """The stack."""
    rows: slice
    """Which of its fronts."""
    base: Ints
    """(k,) where the parent's front starts in its stack."""
    at: Places
    """(k, border) row in the parent's front of each row of the border."""
    width: int
    """Rows of the parent's front."""
    flat: Ints | None
    """(k, border, border) positions, where they are kept."""

    runs: tuple[list[list[int]], ...]
    """Of each front: rows of the border from, to, and the parent's row at which they
    start, where that is quicker than positions; else empty."""

    def add(self, stack: Floats, rest: Floats) -> None:
        """Add what fronts leave for their borders to the parents' fronts.

        Parameters
        ----------
        stack : ndarray, shape (k, s + b, s + b)
        rest : ndarray, shape (k, border, border)
            Their lower triangles suffice.
        """
        if not self.runs:
            np.add.at(stack.reshape(-1), self.positions().ravel(), rest.ravel())
            return
        for runs, left in zip(self.runs, rest, strict=True):
            for k, (first, last, to) in enumerate(runs):
                rows = stack[0, to : to + last - first]
                for start, stop, at in runs[: k + 1]:
                    rows[:, at : at + stop - start] += left[first:last, start:stop]

    def take(self, stack: Floats, borders: Floats) -> None:
        """Fill the borders of fronts from the parents' fronts; as ``add``."""
        if not self.runs:
            stack.reshape(-1).take(self.positions(), out=borders, mode="clip")
            return
        for runs, border in zip(self.runs, borders, strict=True):
            for first, last, to in runs:
                rows = stack[0, to : to + last - first]
                for start, stop, at in runs:
                    border[first:last, start:stop] = rows[:, at : at + stop - start]

    def positions(self) -> Ints:
        """Return where in the parents' stack the border's entries are."""
        if self.flat is not None:
            return self.flat
        return positions(self.base, self.at, self.width)


def positions(base: Ints, at: Places, width: int) -> Ints:
    """Return where in a stack the entries between rows of fronts are, (k, b, b)."""
    left = base[:, None] + at * width
    return np.asarray(left[:, :, None] + at[:, None, :])


def links(layout: Layout) -> list[tuple[Link, ...]]:
    """Return for every stack its links to children."""
    width, stack, base = layout.widths(), layout.stacks(), layout.bases()
    row, start, count = _rows(layout), layout.border_starts(), layout.bordering()
    made: list[list[Link]] = [[] for _ in range(len(layout.stack_start) - 1)]
    left = _PART if layout.keeps else _CACHED
    for child in _families(layout.parent, count, stack):
        below, above = int(stack[child[0]]), layout.parent[child]
        border = int(layout.padded[child[0], 1])
        # Padding is zero there and adds nothing wherever it goes.
        at = gathered(row, start[child], count[child], border, 0)
        here, wide = base[above], int(width[above[0]])
        runs = _runs(at) if layout.single[above[0]] else ()
        keep = not runs and at.size * border <= left
        left -= at.size * border * keep
        flat = positions(here, at, wide) if keep else None
        first = int(child[0] - layout.stack_start[below])
        rows = slice(first, first + len(child))
        made[stack[above[0]]].append(Link(below, rows, here, at, wide, flat, runs))
    return [tuple(each) for each in made]


def _runs(at: Places) -> tuple[list[list[int]], ...]:
    """Return stretches of rows that stay together; none where they are too short."""
    made = []
    for row in at:
        cuts = np.flatnonzero(np.diff(row) != 1) + 1
        if len(cuts) + 1 > _RUN * len(row):
            return ()
        first = np.append(0, cuts)
        made.append(np.column_stack([first, np.append(cuts, len(row)), row[first]]))
    return tuple(each.tolist() for each in made)


def _families(parent: Ints, count: Ints, stack: Ints) -> list[Ints]:
    """Return the fronts of one stack whose parents are in one other, for all such."""
    child = np.flatnonzero((parent >= 0) & (count > 0))
    above = stack[parent[child]]
    order = np.lexsort((child, stack[child], above))
    child, above = child[order], above[order]
    new = (np.diff(above) != 0) | (np.diff(stack[child]) != 0)
    return np.split(child, np.flatnonzero(new) + 1) if len(child) else []


def _rows(layout: Layout) -> Places:
    """Return the row of each column on a border in the front of the parent."""
    front, node = np.divmod(layout.border, max(len(layout.front), 1))
    row = layout.row(layout.parent[front], node)
    size = np.diff(layout.border_column)
    shift = np.repeat(row - layout.border_column[:-1], size)
    return narrow(shift + np.arange(len(shift)))


def gathered(
    values: Places, start: Ints, count: Ints, width: int, nothing: int
) -> Places:
    """Return (k, width) rows of values from each start on, and nothing after count."""
    place = np.arange(width)
    at = start[:, None] + place
    empty = place >= count[:, None]
    if not empty.any():
        return values.take(at)
    at[empty] = 0
    made = values.take(at) if len(values) else narrow(at)
    made[empty] = nothing
    return made
