"""A mapping: which column of somebody else's file becomes which of ours, and how."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from fractions import Fraction

from ...networks.units import UNITS, exact
from ..tables.schema import Column, Schema, split_header

CONFIDENCES: Mapping[str, Fraction] = {
    "sd": Fraction(1),
    "2 sd": Fraction(2),
    "3 sd": Fraction(3),
    "95 %": Fraction("1.959964"),
    "99 %": Fraction("2.575829"),
}
"""What their standard deviations may be stated at, in standard deviations of one
component (NIST/SEMATECH e-Handbook, 1.3.6.7.1; a 95 % circle needs another figure)."""

SIGNS = ("+", "-")


@dataclass(frozen=True, slots=True)
class Taken:
    """One column of theirs that becomes one of ours."""

    theirs: str
    """Its header; its number from 1 where the file has no header."""
    column: Column
    """What it is with us."""
    unit: str = ""
    """What their numbers are in; the header of the import carries it on."""
    sign: str = "+"
    """``-`` where ours is theirs with the sign changed."""
    confidence: str = ""
    """What their standard deviation is stated at; empty for other columns."""

    @property
    def header(self) -> str:
        """Header of the import: our name in their unit.

        Examples
        --------
        >>> Taken("Northing", Column("north_m", ""), "sft").header
        'north_sft'
        """
        if not self.unit or self.unit == "ppm":
            return self.column.header
        return f"{self.column.name}_{self.unit}"

    @property
    def said(self) -> str:
        """What becomes of the column, in words.

        Examples
        --------
        >>> Taken("W", Column("longitude_deg", ""), "deg", "-").said
        'longitude_deg from "W", sign changed'
        """
        said = f'{self.header} from "{self.theirs}"'
        if self.sign == "-":
            said += ", sign changed"
        factor = CONFIDENCES.get(self.confidence, Fraction(1))
        if factor != 1:
            said += f", divided by {float(factor):.10g} (theirs is at {self.confidence}"
            said += " of one component)" if "%" in self.confidence else ")"
        return said

    def changed(self, texts: list[str], decimal: str = "point") -> list[str]:
        """Return what their cells are with us; what is no number stays as it is.

        A unit changes nothing: the header carries it, and the number stays as booked.
        With a decimal comma a point parts nothing, so that 1.234,5 is no number.

        Examples
        --------
        >>> sd = Column("sd_north_mm", "")
        >>> Taken("s", sd, "mm", confidence="2 sd").changed(["5", "", "n/a"])
        ['2.5', '', 'n/a']
        >>> Taken("W", Column("longitude_deg", ""), "deg", "-").changed(["105.25"])
        ['-105.25']
        """
        if decimal == "comma" and self.column.is_number:
            texts = [text.replace(",", ".") for text in texts]
        if self.sign == "-":
            texts = [_turned(text) for text in texts]
        factor = CONFIDENCES.get(self.confidence, Fraction(1))
        if factor != 1:
            # The same few standard deviations stand in most rows.
            divided = {text: _divided(text, factor) for text in set(texts)}
            texts = [divided[text] for text in texts]
        return texts


@dataclass(frozen=True, slots=True)
class ColumnMapping:
    """What a mapping file states."""

    file: str
    """Its name; the options, where it is made of these."""
    table: str
    """Table that it leads to."""
    columns: tuple[Taken, ...]
    leave_out: tuple[str, ...] = ()
    """Columns of theirs that are not wanted."""
    every_row: Mapping[str, str] = field(default_factory=dict)
    """Headers of ours, each with what stands in every row."""
    header: bool = True
    """Whether their file begins with a line of names."""
    digest: str = ""
    """SHA-256 of the mapping file."""
    separator: str = ""
    """``blank`` where blanks part the columns; else as the file shows."""
    decimal: str = "point"
    """``point`` or ``comma``."""

    @property
    def named(self) -> tuple[str, ...]:
        """Their columns that it says something of."""
        return (*(one.theirs for one in self.columns), *self.leave_out)


def column_of(header: str, schema: Schema) -> tuple[Column | None, str]:
    """Return the column and the unit that a header of ours names; None if it is none.

    Examples
    --------
    >>> from brasscap.io.tables.schema import schemas
    >>> column, unit = column_of("sd_north_ift", schemas()["control"])
    >>> column.name, unit
    ('sd_north', 'ift')
    """
    column = schema.by_name.get(header)
    if column and (column.kind or column.unit == "ppm"):
        return column, column.unit
    name, unit = split_header(header)
    column = schema.by_name.get(name) if unit else None
    fits = column is not None and UNITS[unit].measure == column.measure
    return (column if fits else None), unit


def _turned(text: str) -> str:
    if text[:1] == "-":
        return text[1:].lstrip()
    bare = text.removeprefix("+")
    # A zero has no sign, and what does not begin as a number is none.
    if not bare[:1].isdigit() and bare[:1] != ".":
        return text
    return f"-{bare}" if any(c in "123456789" for c in bare) else bare


def _divided(text: str, factor: Fraction) -> str:
    try:
        return repr(float(exact(text) / factor))
    except ValueError:
        return text
