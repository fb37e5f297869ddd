"""The columns of what is made from shots, and of what the detail must satisfy.

Parents and ends are numbers of *points*: the shots of the bases and real-time
networks first, then the polar shots, then the constructions, in the order of their
tables. Metres and radians.
"""

from dataclasses import dataclass

from .covariances import Floats, Ints
from .observations import Names
from .shots import Labels

KINDS = (
    "offset",
    "two ties",
    "wall line",
    "inside corner",
    "two leans",
    "dip",
    "slope",
)
"""How a point can be made from others."""

PARENTS = {
    "offset": 2,
    "two ties": 2,
    "wall line": 2,
    "inside corner": 4,
    "two leans": 2,
    "dip": 1,
    "slope": 2,
}
"""How many points each kind needs."""


@dataclass(frozen=True, slots=True)
class Constructions:
    """Points made from other points and taped distances, one row each."""

    name: Names
    kind: Names
    code: Labels
    line: Labels
    parents: Ints
    """(c, 4) numbers of points; −1 for none."""
    taped: Floats
    """(c, 4) distance, second distance, dip, size of the pipe, m; 0 where not
    booked."""
    sd_taped: Floats
    """(c, 4) NaN where something was booked without an sd; 0 where nothing was."""
    slope: Floats
    """(c,) level run for a fall of one; NaN for none."""
    sd_slope: Floats
    side: Ints
    """(c,) 1 left, −1 right, 0 not said."""
    file: Names
    row: Ints

    def __len__(self) -> int:
        return len(self.name)


@dataclass(frozen=True, slots=True)
class ShapeChecks:
    """What the detail must satisfy: taped distances, right angles, parallel lines."""

    name: Names
    kind: Names
    """``taped distance``, ``right angle`` or ``parallel``."""
    ends: Ints
    """(k, 4) numbers of points; −1 for none."""
    distance: Floats
    """(k,) taped, level, m; NaN for the other kinds."""
    sd: Floats
    """(k,) of the tape, or of how true it was built at the far end, m; NaN = not
    stated."""
    row: Ints

    def __len__(self) -> int:
        return len(self.name)
