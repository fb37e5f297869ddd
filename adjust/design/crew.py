"""Who goes out, what is to be done, and a day as it would go.

Minutes since midnight, local clock. A team is a vehicle with who rides in it. A task is
a set of marks that are occupied at the same time.
"""

from dataclasses import dataclass
from math import inf

RECEIVED = ("baseline", "second set-up", "control tie")
"""Kinds of work that are vectors: a receiver at each of their marks at once."""


@dataclass(frozen=True, slots=True)
class Crew:
    """Who goes out, with what, and how long."""

    receivers: int
    teams: int
    start: float
    end: float
    """When everybody must be back, or finished where no home is stated."""
    sunset: float = inf
    """No set-up stands after it."""
    gate: float = inf
    """Everybody must be back before it closes."""
    set_up: float = 15.0
    """Minutes to set up."""
    home: int = -1
    """Mark where the day starts and ends; −1: at the first mark, at no cost."""
    people: int = 0
    """Of all teams together; 0 where nobody said."""

    @property
    def take_down(self) -> float:
        """Minutes to take down: half of setting up (common practice, no source)."""
        return self.set_up / 2

    @property
    def last(self) -> float:
        """When the last work is over: by the end, before the gate closes, by sunset."""
        return min(self.end, self.gate, self.sunset)


@dataclass(frozen=True, slots=True)
class Task:
    """One thing to do: marks occupied together, or a run from one to the other."""

    marks: tuple[int, ...]
    minutes: float
    """Of logging together, or of the run."""
    earliest: float = -inf
    """Logging does not start before it."""
    latest: float = inf
    """Logging ends before it."""
    run: bool = False
    """Whether everybody walks it together: levelling."""
    sighted: bool = False
    """Whether instrument and targets stand on the marks, not receivers."""


@dataclass(frozen=True, slots=True)
class Visit:
    """One team at one mark."""

    task: int
    """Place in the order."""
    team: int
    mark: int
    leave: float
    """When the team sets off to it."""
    arrive: float
    ready: float
    """When it stands; of a run, when the run starts."""
    begin: float
    """When all that stand together begin to log."""
    end: float
    down: float
    """When it is taken down."""


@dataclass(frozen=True, slots=True)
class Day:
    """A day as it would go."""

    visits: tuple[Visit, ...]
    finished: tuple[float, ...]
    """When each task's logging ends."""
    back: float
    """When everybody is back."""
