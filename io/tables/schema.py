"""What a table may hold: its columns, what must be filled, what names a row."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cache, cached_property
from types import MappingProxyType

from ...networks.units import UNITS

IN_DEGREES = frozenset(("latitude", "longitude", "approx_latitude", "approx_longitude"))
"""Angles that stay in degrees; all others are read as radians."""

# Longest first: km_h before h.
_UNITS = sorted(UNITS, key=len, reverse=True)


@dataclass(frozen=True)
class Column:
    """A column by its header, with the unit that an empty table offers."""

    header: str
    says: str
    """One line for the person who fills the table."""
    kind: str = ""
    """``name``, ``word``, ``number`` (no unit) or ``code`` (a whole number without a
    unit); empty where the unit in the header tells."""
    choices: tuple[str, ...] = ()
    low: float = float("-inf")
    """Smallest value in canonical units (angles in degrees)."""
    high: float = float("inf")
    offered: bool = True
    """Whether an empty table of ``new`` has it."""

    @cached_property
    def unit(self) -> str:
        """The unit of the header, empty for words and bare numbers."""
        return "" if self.kind else split_header(self.header)[1]

    @cached_property
    def name(self) -> str:
        """The canonical name: the header without its unit; ppm stays."""
        if not self.unit or self.unit == "ppm":
            return self.header
        return split_header(self.header)[0]

    @property
    def measure(self) -> str:
        """What the column measures; empty for words and bare numbers."""
        return UNITS[self.unit].measure if self.unit else ""

    @property
    def is_number(self) -> bool:
        """Whether the column is read as float64."""
        return self.kind in ("number", "code") or self.measure not in ("", "instant")


def split_header(header: str) -> tuple[str, str]:
    """Return words and unit of a header; the unit is empty if there is none.

    Examples
    --------
    >>> split_header("height_second_reading_ift"), split_header("speed_km_h")
    (('height_second_reading', 'ift'), ('speed', 'km_h'))
    >>> split_header("horizon_at")
    ('horizon_at', '')
    """
    for unit in _UNITS:
        if header.endswith("_" + unit) and len(header) > len(unit) + 1:
            return header[: -len(unit) - 1], unit
    return header, ""


@dataclass(frozen=True)
class Schema:
    """A table of the job folder."""

    name: str
    subject: str
    """What a row is, as a person names it."""
    key: str
    """The column that names a row; empty where rows have no name."""
    says: str
    columns: tuple[Column, ...]
    need: tuple[str, ...] = ()
    """Filled in every row."""
    either: tuple[tuple[tuple[str, ...], ...], ...] = ()
    """Of each group, at least one set is filled in every row."""
    together: tuple[tuple[str, ...], ...] = ()
    """Sets filled as a whole or not at all."""
    unique: tuple[tuple[tuple[str, ...], str], ...] = ()
    """Columns whose values together occur once, among the rows where another column
    is filled (empty: among all rows); "has NAME" stands for whether one is filled."""
    by_name: Mapping[str, Column] = field(init=False)

    def __post_init__(self) -> None:
        table = MappingProxyType({column.name: column for column in self.columns})
        object.__setattr__(self, "by_name", table)


@cache
def schemas() -> Mapping[str, Schema]:
    """Return every table that a job folder may hold, by name."""
    from .schemas import ALL

    return MappingProxyType({schema.name: schema for schema in ALL})
