"""What to observe next: candidates, what each would buy, and in which order."""

from .choosing import Choice, Chosen, choose
from .observable import (
    Observable,
    levelling,
    position,
    session,
    total_station_round,
    vector,
)
from .present import state_of
from .scored import NAMES, ORDER, Scores
from .state import State, observed
from .worth import gained, scores

__all__ = [
    "NAMES",
    "ORDER",
    "Choice",
    "Chosen",
    "Observable",
    "Scores",
    "State",
    "choose",
    "gained",
    "levelling",
    "observed",
    "position",
    "scores",
    "session",
    "state_of",
    "total_station_round",
    "vector",
]
