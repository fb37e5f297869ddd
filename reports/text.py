"""A document as terminal text: columns aligned, 80 wide where the figures allow.

The same text goes to a pipe. Colour is added only where it is asked for, to words that
already say the same without it.
"""

import re
import unicodedata
from collections.abc import Callable, Iterator, Sequence
from textwrap import wrap

from .document import (
    Column,
    Document,
    Facts,
    Found,
    Paragraph,
    Part,
    Section,
    Table,
    VerdictLine,
    Vial,
)
from .vial import vial_text
from .words import unbroken

WIDTH = 80
_TONES = {"meets": "34", "query": "33", "fails": "31", "fault": "31", "unchecked": "1"}
_NARROWEST = 10
_Grid = list[list[str]]


def text(document: Document, *, colour: bool = False) -> str:
    """Return a document as text.

    Parameters
    ----------
    document : Document
    colour : bool
        Whether to add terminal colours to the verdict words.

    Returns
    -------
    str
        Lines, the last one ended too.

    Examples
    --------
    >>> print(text(Document("Sound", (Section("", (Paragraph("no faults"),)),))))
    Sound
      no faults
    <BLANKLINE>
    """
    lines = _filled(document.title, "  ", "")
    for number, section in enumerate(document.sections):
        made = section_lines(section)
        apart = number and made and not section.title
        lines += ["", *made] if apart else made
    plain = [clean(line).rstrip() for line in lines]
    return "\n".join(_coloured(plain) if colour else plain) + "\n"


def clean(line: str) -> str:
    r"""Return a line without characters that would steer a terminal.

    Examples
    --------
    >>> clean("T1\x1b[2J")
    'T1?[2J'
    """
    return "".join("?" if unicodedata.category(c) in ("Cc", "Cf") else c for c in line)


def width(line: str) -> int:
    """Return how many columns of a terminal a line takes."""
    wide = sum(unicodedata.east_asian_width(c) in "WF" for c in line)
    return len(line) + wide - sum(bool(unicodedata.combining(c)) for c in line)


def section_lines(section: Section) -> list[str]:
    """Return the lines of a section, its title first; none where all is drawings."""
    lines: list[str] = []
    before: Part | None = None
    for part in section.parts:
        set_part = list(_lines(part))
        apart = isinstance(part, Table | Found) or isinstance(before, Table | Found)
        if set_part and before is not None and apart:
            lines.append("")
        lines += set_part
        before = part if set_part else before
    return ["", section.title, *lines] if section.title and lines else lines


def _lines(part: Part) -> Iterator[str]:
    if isinstance(part, Paragraph) and not part.text:
        yield ""
    elif isinstance(part, Paragraph):
        indent = "" if part.tone == "next" else "  "
        yield from _filled(part.text, indent, indent)
    elif isinstance(part, VerdictLine):
        yield from _verdict_lines(part)
    elif isinstance(part, Table):
        yield from table_lines(part)
    elif isinstance(part, Facts):
        yield from _fact_lines(part)
    elif isinstance(part, Found):
        yield from finding_lines(part)


def _filled(words: str, indent: str, first: str) -> list[str]:
    lines = wrap(
        unbroken(words),
        WIDTH,
        initial_indent=first,
        subsequent_indent=indent,
        break_long_words=False,
        break_on_hyphens=False,
    )
    return [line.replace("\N{NO-BREAK SPACE}", " ") for line in lines]


def _verdict_lines(part: VerdictLine) -> Iterator[str]:
    tube = f"{vial_text(part.vial, 7):<11}"
    head = f"  {part.what:<17} {tube} {part.value:<7} {part.vial.verdict:<9}"
    if width(head) + 2 + width(part.evidence) <= WIDTH:
        yield f"{head}  {part.evidence}"
    else:
        yield head
        yield from _filled(part.evidence, " " * 20, " " * 20)


def _fact_lines(part: Facts) -> Iterator[str]:
    wide = max((width(term) for term, _ in part.pairs), default=0)
    for term, said in part.pairs:
        first = f"  {term}{' ' * (wide - width(term) + 2)}"
        yield from _filled(said or "–", " " * (wide + 4), first)


def finding_lines(part: Found) -> Iterator[str]:
    """Yield a fault, query or note: where, what, booked, against, likely, mend."""
    finding = part.finding
    name = f"{finding.verdict} {finding.query}".strip()
    head = f"{name:<11}{finding.where}  {finding.about}"
    room = WIDTH - width(head) - 2
    if len(finding.slug) <= room:
        yield head + finding.slug.rjust(room + 2)
    else:
        yield from _filled(head, " " * 11, "")
        yield " " * 11 + finding.slug
    for term in ("booked", "against", "likely", "mend"):
        said = getattr(finding, term)
        if said:
            yield from _filled(said, " " * 12, f"  {term:<10}")
    if finding.answered_by:
        yield f"  answered  by decision {finding.answered_by}"


def table_lines(table: Table, indent: str = "    ") -> Iterator[str]:
    """Yield a table: caption, heads over the columns, rows; folded if too wide."""
    if not table.rows:
        yield from _filled(table.note or f"{table.caption}: none", "  ", "  ")
        return
    yield from _filled(table.caption, "  ", "  ")
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
    gap, indent = _fitting(widths, indent)
    widths = _squeezed(columns, widths, WIDTH - len(indent), len(gap))
    for block in _folds(widths, WIDTH - len(indent), len(gap)):
        for line in _block_lines(columns, heads, cells, under, widths, block, gap):
            yield (indent + line).rstrip()
        under = [[] for _ in under]
    if table.note:
        yield from _filled(table.note, "  ", "  ")


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
) -> Iterator[str]:
    packed = [_packed(heads[k], widths[k]) for k in block]
    tall = max(len(head) for head in packed)
    grid = [[""] * (tall - len(head)) + head for head in packed]
    set_line = _setter([columns[k] for k in block], [widths[k] for k in block], gap)
    yield from (set_line(line) for line in zip(*grid, strict=True))
    for row, below in zip(cells, under, strict=True):
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
        for words in below:
            yield from wrap(
                words, WIDTH - 4, initial_indent="  ", subsequent_indent=" " * 4
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


def _coloured(lines: Sequence[str]) -> list[str]:
    verdicts = "|".join(_TONES)
    word = re.compile(rf"(?:(?<=\s)|^)({verdicts})(?=\s|$)")
    return [
        word.sub(lambda m: f"\x1b[{_TONES[m[1]]}m{m[1]}\x1b[0m", line) for line in lines
    ]
