"""Index tables of the stacks of fronts: what the numeric phase needs and no more."""

from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from ...networks.covariances import Ints
from .layout import Layout
from .pattern import Pattern

_CACHED = 1 << 23
"""Positions kept for all links together: 64 MB; the rest is formed when needed."""


@dataclass(frozen=True, slots=True)
class Link:
    """Fronts of one stack whose parents are in another."""

    child: int
    """The stack."""
    rows: Ints | None
    """Which of its fronts; None for all of them in order."""
    base: Ints
    """(k,) where the parent's front starts in its stack."""
    at: Ints
    """(k, border) row in the parent's front of each row of the border."""
    width: int
    """Rows of the parent's front."""
    flat: Ints | None
    """(k, border, border) positions, where they are kept."""

    def positions(self) -> Ints:
        """Return where in the parents' stack the border's entries are."""
        return _flat(self) if self.flat is None else self.flat


def _flat(link: Link) -> Ints:
    left = link.base[:, None] + link.at * link.width
    return np.asarray(left[:, :, None] + link.at[:, None, :])


@dataclass(frozen=True, slots=True)
class Stack:
    """Fronts of one size; padding has unit diagonal, and column u in the tables."""

    own: Ints
    """(k, s) columns eliminated."""
    border: Ints
    """(k, b) columns on the border."""
    single: bool
    kept: bool
    first_entry: int
    """Entries of the matrix from here …"""
    entry: Ints
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

    @property
    def entries(self) -> slice:
        """Return which of the matrix's entries enter."""
        return slice(self.first_entry, self.first_entry + len(self.entry))


def stacks(layout: Layout, pattern: Pattern) -> tuple[Stack, ...]:
    """Return the tables of all stacks, children before parents."""
    cuts = layout.stack_start
    width = layout.padded.sum(axis=1)
    stack = np.repeat(np.arange(len(cuts) - 1), np.diff(cuts))
    base = (np.arange(len(stack)) - cuts[stack]) * width**2
    target, entry_cuts = _entries(layout, pattern, base, width)
    own = layout.own()
    columns = _expanded(layout)
    rows = _rows(layout, columns)
    links = _links(layout, stack, base, width, rows)
    uses = np.bincount(
        [link.child for each in links for link in each], minlength=len(links)
    )
    made = []
    for k, (first, last) in enumerate(pairwise(cuts)):
        fronts = slice(first, last)
        size, border = layout.padded[first]
        inner = _table(layout.own_start[fronts], own[fronts], size)
        place = np.arange(size)
        empty = place >= own[fronts, None]
        diagonal = base[fronts, None] + place * (width[first] + 1)
        made.append(
            Stack(
                own=np.where(empty, layout.own_start[-1], inner),
                border=_gathered(columns, layout, fronts, border),
                single=bool(layout.single[first]),
                kept=layout.keeps and k == len(cuts) - 2,
                first_entry=int(entry_cuts[first]),
                entry=target[entry_cuts[first] : entry_cuts[last]],
                padding=diagonal[empty],
                links=links[k],
                uses=int(uses[k]),
            )
        )
    return tuple(made)


def _entries(
    layout: Layout, pattern: Pattern, base: Ints, width: Ints
) -> tuple[Ints, Ints]:
    """Return where in its stack each entry goes, and where each front's start."""
    low, high = pattern.nodes()
    front = layout.front[low]
    left = layout.column_start[low] - layout.own_start[front]
    start = base[front] + layout.row(front, high) * width[front] + left
    pair, row, column = pattern.entries()
    cuts = pattern.start[np.searchsorted(front, np.arange(len(base) + 1))]
    return start[pair] + row * width[front][pair] + column, cuts


def _expanded(layout: Layout) -> Ints:
    """Return the columns on the borders, border after border."""
    node = layout.border % max(len(layout.front), 1)
    size = np.diff(layout.border_column)
    shift = np.repeat(layout.column_start[node] - layout.border_column[:-1], size)
    return np.asarray(shift + np.arange(len(shift)))


def _rows(layout: Layout, columns: Ints) -> Ints:
    """Return the row of each column on a border in the front of the parent."""
    count = max(len(layout.front), 1)
    front, node = layout.border // count, layout.border % count
    row = layout.row(layout.parent[front], node)
    size = np.diff(layout.border_column)
    shift = np.repeat(row - layout.column_start[node], size)
    return np.asarray(columns + shift)


def _table(start: Ints, count: Ints, width: int) -> Ints:
    """Return rows of numbers from each start on, held at the last one."""
    return np.asarray(
        start[:, None] + np.minimum(np.arange(width), np.maximum(count - 1, 0)[:, None])
    )


def _gathered(values: Ints, layout: Layout, fronts: slice | Ints, width: int) -> Ints:
    """Return (k, width) values of the borders' columns; column u for the padding."""
    nothing = layout.own_start[-1]
    start = layout.border_column[layout.border_start[:-1]][fronts]
    count = layout.bordering()[fronts]
    if not width or not len(values):
        return np.full((len(count), width), nothing)
    at = np.minimum(_table(start, count, width), len(values) - 1)
    return np.where(np.arange(width) < count[:, None], values[at], nothing)


def _links(
    layout: Layout, stack: Ints, base: Ints, width: Ints, rows: Ints
) -> list[tuple[Link, ...]]:
    """Return the links of every stack to its children."""
    made: list[list[Link]] = [[] for _ in range(len(layout.stack_start) - 1)]
    child = np.flatnonzero((layout.parent >= 0) & (layout.bordering() > 0))
    above = stack[layout.parent[child]]
    order = np.lexsort((child, stack[child], above))
    child, above = child[order], above[order]
    new = np.ones(len(child), bool)
    new[1:] = np.diff(above) != 0
    new[1:] |= np.diff(stack[child]) != 0
    left = _CACHED
    for fronts in np.split(child, np.flatnonzero(new)[1:]) if len(child) else []:
        link = _link(layout, fronts, stack, base, width, rows)
        size = link.at.size * link.at.shape[1]
        if size <= left:
            left -= size
            link = Link(
                link.child, link.rows, link.base, link.at, link.width, _flat(link)
            )
        made[stack[layout.parent[fronts[0]]]].append(link)
    return [tuple(links) for links in made]


def _link(
    layout: Layout, fronts: Ints, stack: Ints, base: Ints, width: Ints, rows: Ints
) -> Link:
    child = int(stack[fronts[0]])
    first, last = layout.stack_start[child : child + 2]
    above = layout.parent[fronts]
    at = _gathered(rows, layout, fronts, layout.padded[fronts[0], 1])
    # Padding is zero there and adds nothing wherever it goes.
    outside = np.arange(at.shape[1]) >= layout.bordering()[fronts, None]
    return Link(
        child=child,
        rows=None if len(fronts) == last - first else fronts - first,
        base=base[above],
        at=np.where(outside, 0, at),
        width=int(width[above[0]]),
        flat=None,
    )
