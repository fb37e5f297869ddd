"""Index tables of the stacks of fronts: what the numeric phase needs and no more."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from ...networks.covariances import Floats, Ints
from .layout import Layout
from .links import Link, gathered, links
from .narrow import Places, narrow, room
from .pattern import Pattern


@dataclass(frozen=True, slots=True)
class Stack:
    """Fronts of one size; padding has unit diagonal, and column u in the tables."""

    own: Places
    """(k, s) columns eliminated."""
    border: Places
    """(k, b) columns on the border."""
    single: bool
    kept: bool
    first_entry: int
    """Entries of the matrix from here …"""
    entry: Places
    """… go to these positions of the stack."""
    padding: Ints
    """Positions of the diagonal of the padding."""
    links: tuple[Link, ...]
    """From the children."""
    uses: int
    """How many links have this stack as a child."""

    @property
    def shape(self) -> tuple[int, int, int]:
        """Return fronts, own rows, border rows."""
        return (*self.own.shape, self.border.shape[1])

    def fronts(self, work: Floats) -> Floats:
        """Return room for the fronts, (k, s + b, s + b), in a workspace."""
        count, own, border = self.shape
        width = own + border
        return work[: count * width**2].reshape(count, width, width)

    @property
    def entries(self) -> slice:
        """Return which of the matrix's entries enter."""
        return slice(self.first_entry, self.first_entry + len(self.entry))


def workspace(every: Sequence[Stack]) -> Floats:
    """Return room for the fronts of any stack; new memory is slow at first touch."""
    return np.empty(
        max((k * (s + b) ** 2 for k, s, b in (x.shape for x in every)), default=0)
    )


def stacks(layout: Layout, pattern: Pattern) -> tuple[Stack, ...]:
    """Return the tables of all stacks, children before parents.

    Parameters
    ----------
    layout : Layout
    pattern : Pattern
    """
    target, cuts = _targets(layout, pattern)
    below = links(layout)
    uses = np.bincount(
        [link.child for each in below for link in each], minlength=len(below)
    )
    columns, nothing = _bordering_columns(layout), int(layout.own_start[-1])
    width, base, own = layout.widths(), layout.bases(), layout.own()
    start, count = layout.border_starts(), layout.bordering()
    made = []
    for k, (first, last) in enumerate(pairwise(layout.stack_start)):
        fronts = slice(first, last)
        size, border = layout.padded[first].tolist()
        place = np.arange(size)
        inner = layout.own_start[first:last, None] + place
        empty = place >= own[fronts, None]
        diagonal = base[fronts, None] + place * (width[first] + 1)
        made.append(
            Stack(
                own=narrow(np.where(empty, nothing, inner)),
                border=gathered(columns, start[fronts], count[fronts], border, nothing),
                single=bool(layout.single[first]),
                kept=layout.keeps and k == len(below) - 1,
                first_entry=int(cuts[first]),
                entry=target[cuts[first] : cuts[last]],
                padding=diagonal[empty],
                links=below[k],
                uses=int(uses[k]),
            )
        )
    return tuple(made)


def _targets(layout: Layout, pattern: Pattern) -> tuple[Places, Ints]:
    """Return where in its stack each entry goes, and where each front's start."""
    width, base = layout.widths(), layout.bases()
    start = layout.stack_start
    largest = np.diff(start) * width[start[:-1]] ** 2
    made = room(len(pattern), int(largest.max(initial=0)))
    for some in pattern.in_parts():
        low, high = pattern.nodes(some)
        front = layout.front[low]
        left = layout.column_start[low] - layout.own_start[front]
        first = base[front] + layout.row(front, high) * width[front] + left
        number, row, column = pattern.entries(some)
        here = slice(int(pattern.start[some.start]), int(pattern.start[some.stop]))
        made[here] = first[number] + row * width[front][number] + column
    front = layout.front[pattern.nodes()[0]]
    cuts = np.searchsorted(front, np.arange(len(width) + 1))
    return made, pattern.start[cuts].astype(np.int64)


def _bordering_columns(layout: Layout) -> Places:
    """Return the columns on the borders, border after border."""
    node = layout.border % max(len(layout.front), 1)
    size = np.diff(layout.border_column)
    shift = np.repeat(layout.column_start[node] - layout.border_column[:-1], size)
    return narrow(shift + np.arange(len(shift)))
