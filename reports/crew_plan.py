"""A crew's plan with what it rests on, and how the network stands along it."""

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from ..adjust.design.standing import unchecked, worst_hidden

if TYPE_CHECKING:
    from ..adjust import Adjustment
    from ..adjust.design import State
    from ..adjust.design.crew import Crew
    from ..adjust.design.plan import Plan


@dataclass(frozen=True, slots=True)
class Offered:
    """One candidate in words."""

    proposal: str
    """Name of the proposal; empty where nobody proposed it."""
    kind: str
    stations: tuple[str, ...]
    minutes: float
    note: str = ""
    blocked: str = ""

    @property
    def words(self) -> str:
        """Kind and marks, with the proposal's name."""
        name = f"{self.proposal}, " if self.proposal else ""
        return f"{name}{self.kind} {' – '.join(self.stations)}"


@dataclass(frozen=True, slots=True)
class Reobserve:
    """A crew's plan, and what it rests on."""

    adjustment: "Adjustment"
    specification: str
    """Name of the one that counts; empty where none is stated."""
    offers: tuple[Offered, ...]
    """All candidates."""
    refused: tuple[Offered, ...]
    """Proposals that are blocked, or cannot be judged: ``blocked`` says why."""
    state: "State"
    """Before."""
    plan: "Plan"
    crew: "Crew"
    order: tuple[str, ...]
    """What matters most first."""
    assumed: tuple[str, ...]
    """What was taken for granted of the crew."""
    lambda0: float
    purpose: str = "spec"
    thought_of: int = 0
    """Candidates that were thought of; more than offers in a large network."""


def last_state(made: Reobserve) -> "State":
    """Return how the network would stand after the whole plan."""
    return made.plan.steps[-1].state if made.plan.steps else made.state


def state_before(made: Reobserve, place: int) -> "State":
    """Return how the network stands before a job of the plan."""
    return made.plan.steps[place - 1].state if place else made.state


def checked_by(made: Reobserve, place: int) -> list[int]:
    """Return which possible blunders a job makes checked that were not."""
    before = state_before(made, place)
    after = made.plan.steps[place].state
    gone = unchecked(before.share) & ~unchecked(after.share)
    return [int(k) for k in np.flatnonzero(gone)]


def worst_seen(made: Reobserve, state: "State") -> float:
    """Return the largest blunder that could hide at a set-up, m.

    The largest of the smallest detectable height blunders; of observations where no
    set-up is booked; inf where nothing checks one of them.
    """
    return worst_hidden(state, made.lambda0)
