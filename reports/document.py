"""What a page is made of: titled sections of tables, figures, words and findings.

A document is content without a look. Everything in it is already rounded and worded;
``text`` and ``html`` only set it. So the terminal and the page can never differ.
"""

from dataclasses import dataclass, replace

from ..networks import Finding


@dataclass(frozen=True, slots=True)
class Vial:
    """A level vial: the lines are the limits, the bubble is the value.

    Examples
    --------
    >>> Vial("meets", 0.91).place
    0.91
    """

    verdict: str
    """``meets``, ``query``, ``fails`` or ``unchecked``."""
    place: float = 0.5
    """Where the bubble floats if it meets: 0 at the left line, 1 at the right."""
    low: bool = False
    """Whether a query or failure is on the left, the low side."""


@dataclass(frozen=True, slots=True)
class Paragraph:
    """A sentence or more; ``soft`` is set back, ``next`` is the next step.

    ``step`` is a command line, which is never broken; ``why`` is its reason.

    Without words it keeps apart, as an empty line, what stands around it.
    """

    text: str
    tone: str = ""


@dataclass(frozen=True, slots=True)
class VerdictLine:
    """One verdict: what was judged, the vial, the value and what it rests on."""

    what: str
    vial: Vial
    value: str = ""
    evidence: str = ""
    """Limits and assumptions, beside the figure."""


@dataclass(frozen=True, slots=True)
class Column:
    """A column of a table; its head carries the unit."""

    head: str
    number: bool = True
    """Whether it is set to the right, digits under digits."""
    below: bool = False
    """Whether a narrow page sets it on a line of its own, below its row."""


@dataclass(frozen=True, slots=True)
class Row:
    """A row of a table."""

    cells: tuple[str | Vial, ...]
    anchor: str = ""
    """Name by which a page can jump here; empty for none."""
    link: str = ""
    """Anchor to which the row's first cell leads; empty for none."""


@dataclass(frozen=True, slots=True)
class Table:
    """A table with a caption that says what its figures rest on."""

    caption: str
    columns: tuple[Column, ...]
    rows: tuple[Row, ...]
    note: str = ""


@dataclass(frozen=True, slots=True)
class Facts:
    """Pairs of a term and what it is."""

    pairs: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class Found:
    """A finding, set in the one shape in which every command prints it."""

    finding: Finding


@dataclass(frozen=True, slots=True)
class Figure:
    """A drawing for the page, which the terminal leaves out."""

    svg: str
    caption: str


Part = Paragraph | VerdictLine | Table | Facts | Found | Figure


@dataclass(frozen=True, slots=True)
class Section:
    """A titled part of a document."""

    title: str
    parts: tuple[Part, ...]
    anchor: str = ""


@dataclass(frozen=True, slots=True)
class Document:
    """All that one command, or one report, has to say."""

    title: str
    sections: tuple[Section, ...]
    foot: str = ""
    """What stands at the foot of every printed page, beside the title."""


def filled_columns(table: Table) -> Table:
    """Return a table without the columns in which no row has anything.

    Examples
    --------
    >>> table = Table("", (Column("a"), Column("b")), (Row(("1", "")), Row(("2", ""))))
    >>> [column.head for column in filled_columns(table).columns]
    ['a']
    """
    cells = zip(*(row.cells for row in table.rows), strict=True)
    shown = [k for k, column in enumerate(cells) if any(cell != "" for cell in column)]
    rows = tuple(
        replace(row, cells=tuple(row.cells[k] for k in shown)) for row in table.rows
    )
    columns = tuple(table.columns[k] for k in shown) if rows else table.columns
    return replace(table, columns=columns, rows=rows)


def anchor(kind: str, name: str) -> str:
    """Return an anchor that no other name of the kind has.

    Examples
    --------
    >>> anchor("mark", "BRIDGE 1")
    'mark-BRIDGE_20_1'
    """
    plain = (c if c.isascii() and c.isalnum() else f"_{ord(c):x}_" for c in name)
    return f"{kind}-{''.join(plain)}"
