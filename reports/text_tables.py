"""A table as terminal text: columns aligned, folded and stacked where too wide."""

import re
from collections.abc import Callable, Iterator, Sequence
from textwrap import wrap

from .document import Column, Table, Vial
from .text_lines import WIDTH, filled, width
from .vial import vial_text

_NARROWEST = 10
_Grid = list[list[str]]
_TYPED = "mend: brasscap "
"""Start of a line below a row that somebody types."""


def table_lines(table: Table, indent: str = "    ") -> Iterator[str]:
    """Yield a table: caption, heads over the columns, rows; folded if too wide."""
    if not table.rows:
        yield from filled(table.note or f"{table.caption}: none", "  ", "  ")
        return
    yield from filled(table.caption, "  ", "  ")
    beside = [k for k, column in enumerate(table.columns) if not column.below]
    below = [k for k, column in enumerate(table.columns) if column.below]
    texts = [[_cell_text(cell) for cell in row.cells] for row in table.rows]
    columns = [table.columns[k] for k in beside]
    cells = [[row[k] for k in beside] for row in texts]
    under = [[row[k] for k in below if row[k]] for row in texts]
    heads = [_broken_head(column.head) for column in columns]
    widths = [
        max(width(line) for line in [*head, *(row[k] for row in cells)])
        for k, head in enumerate(heads)
    ]
    widths, gap, indent, above = _fitted(columns, cells, widths, indent)
    if above:
        heads[0] = [""]
        cells = [["", *row[1:]] for row in cells]
    for block in _folds(widths, WIDTH - len(indent), len(gap)):
        lines = _block_lines(columns, heads, cells, under, widths, block, gap, above)
        if above and columns[0].head:
            yield indent + columns[0].head
        for line in lines:
            yield (indent + line).rstrip()
        under = [[] for _ in under]
    if table.note:
        yield from filled(table.note, "  ", "  ")


def _fitted(
    columns: Sequence[Column], cells: _Grid, widths: list[int], indent: str
) -> tuple[list[int], str, str, list[str]]:
    """Return widths, gap and indent with which a table fits, and names to go above."""
    gap, before = _fitting(widths, indent)
    squeezed = _squeezed(columns, widths, WIDTH - len(before), len(gap))
    above = _names_above(cells, squeezed)
    if above:
        widths = [2, *widths[1:]]
        gap, before = _fitting(widths, indent)
        squeezed = _squeezed(columns, widths, WIDTH - len(before), len(gap))
    return squeezed, gap, before, above


def _names_above(cells: _Grid, widths: Sequence[int]) -> list[str]:
    """Return the names of the rows if they go on lines of their own, above the figures.

    They do where most of them would be broken to fit beside the figures.
    """
    names = [row[0] for row in cells]
    broken = sum(width(name) > widths[0] for name in names)
    return names if 2 * broken > len(names) and len(widths) > 1 else []


def _fitting(widths: Sequence[int], indent: str) -> tuple[str, str]:
    """Return the widest gap and indent with which a table fits, the least if none."""
    for gap, before in (("  ", indent), (" ", indent), (" ", "  ")):
        if _total(widths, len(gap)) + len(before) <= WIDTH:
            return gap, before
    return " ", ""


def _cell_text(cell: str | Vial) -> str:
    return cell if isinstance(cell, str) else f"{vial_text(cell):<7}"


def _broken_head(head: str) -> list[str]:
    return re.sub(r"(?<=[a-z])-(?=[a-z])", "- ", head).split(" ") if head else [""]


def _total(widths: Sequence[int], gap: int) -> int:
    return sum(widths) + gap * (len(widths) - 1)


def _squeezed(
    columns: Sequence[Column], widths: list[int], room: int, gap: int
) -> list[int]:
    """Narrow the widest column of words until the table fits, or none can give."""
    widths = list(widths)
    words = [k for k, column in enumerate(columns) if not column.number]
    while words and _total(widths, gap) > room:
        widest = max(words, key=lambda k: widths[k])
        if widths[widest] <= _NARROWEST:
            break
        widths[widest] -= 1
    return widths


def _folds(widths: Sequence[int], room: int, gap: int) -> Iterator[list[int]]:
    """Yield the columns of each block; every block starts with the first column."""
    block = [0]
    for k in range(1, len(widths)):
        if len(block) > 1 and _total([widths[i] for i in [*block, k]], gap) > room:
            yield block
            block = [0]
        block.append(k)
    yield block


def _block_lines(
    columns: Sequence[Column],
    heads: _Grid,
    cells: _Grid,
    under: _Grid,
    widths: Sequence[int],
    block: Sequence[int],
    gap: str,
    above: Sequence[str] = (),
) -> Iterator[str]:
    packed = [_packed(heads[k], widths[k]) for k in block]
    tall = max(len(head) for head in packed)
    grid = [[""] * (tall - len(head)) + head for head in packed]
    set_line = _setter([columns[k] for k in block], [widths[k] for k in block], gap)
    yield from (set_line(line) for line in zip(*grid, strict=True))
    for number, (row, below) in enumerate(zip(cells, under, strict=True)):
        if above:
            yield from wrap(above[number], WIDTH - 4, subsequent_indent="  ")
        parts = [
            [row[k]]
            if columns[k].number
            else wrap(row[k], widths[k]) or [""]
            if width(row[k]) > widths[k]
            else [row[k]]
            for k in block
        ]
        tall = max(len(part) for part in parts)
        grid = [part + [""] * (tall - len(part)) for part in parts]
        yield from (set_line(line) for line in zip(*grid, strict=True))
        for line in (line for words in below for line in words.splitlines()):
            if line.startswith(_TYPED):
                # Broken, it could not be typed.
                yield f"    {line}"
                continue
            yield from wrap(
                line, WIDTH - 4, initial_indent="  ", subsequent_indent=" " * 4
            )


def _packed(head: list[str], room: int) -> list[str]:
    """Join the pieces of a head again as far as they fit beside each other."""
    lines = [head[0]]
    for piece in head[1:]:
        glue = "" if lines[-1].endswith("-") else " "
        if width(lines[-1] + glue + piece) <= room:
            lines[-1] += glue + piece
        else:
            lines.append(piece)
    return lines


def _setter(
    columns: Sequence[Column], widths: Sequence[int], gap: str
) -> Callable[[Sequence[str]], str]:
    def set_line(cells: Sequence[str]) -> str:
        pads = [" " * (w - width(c)) for c, w in zip(cells, widths, strict=True)]
        return gap.join(
            pad + cell if column.number else cell + pad
            for column, cell, pad in zip(columns, cells, pads, strict=True)
        )

    return set_line
