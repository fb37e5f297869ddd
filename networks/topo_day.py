"""A topographic day as booked: shots, their set-ups, what is made and checked."""

from dataclasses import dataclass

from .constructions import Constructions, ShapeChecks
from .field_tests import FieldSets
from .observations import Names
from .shots import Bases, PolarShots, Shots


@dataclass(frozen=True, slots=True)
class Day:
    """What was measured, and what is to be made from it."""

    shots: Shots
    bases: Bases
    polar: PolarShots | None
    """Shots of total stations; None where there is none."""
    constructions: Constructions
    checks: ShapeChecks
    field_sets: FieldSets | None = None
    """Field tests of rovers; None where there is none."""

    @property
    def names(self) -> Names:
        """Every point: shots, polar shots, constructions."""
        polar = () if self.polar is None else self.polar.name
        return (*self.shots.name, *polar, *self.constructions.name)

    @property
    def roots(self) -> int:
        """How many points were measured."""
        return len(self.shots) + (0 if self.polar is None else len(self.polar))
