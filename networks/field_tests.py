"""The columns of field tests of rovers: the same two points, fixed again and again."""

from dataclasses import dataclass

from .covariances import Bools, Floats
from .observations import Names
from .shots import Labels, Times


@dataclass(frozen=True, slots=True)
class FieldSets:
    """Sets of field tests, a row each: one fix on each of two points."""

    name: Names
    """Of the set in its series."""
    test: Labels
    """Which test: a rover on a day."""
    series: Labels
    start: Times
    first: Floats
    """(n, 3) grid east, grid north, height of the first point, m."""
    second: Floats
    replaced: Bools
    """(n,) whether another set was taken in its place."""
    distance: Floats
    """(t,) of each test, known by other means, on the ground, m; NaN = not booked."""
    rise: Floats
    """(t,) second less first, known by other means, m; NaN = not booked."""
    sd_plan: Floats
    """(t,) stated for the rover, per axis, m; NaN = not stated."""
    sd_height: Floats
    """(t,)"""

    def __len__(self) -> int:
        return len(self.name)
