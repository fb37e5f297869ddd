"""What to observe next: candidates, what each would buy, and in which order."""

from .choosing import Choice, Chosen, choose
from .observable import Observable, levelling, position, total_station_round, vector
from .state import State, observed, state_of
from .worth import ORDER, Scores, scores

__all__ = [
    "ORDER",
    "Choice",
    "Chosen",
    "Observable",
    "Scores",
    "State",
    "choose",
    "levelling",
    "observed",
    "position",
    "scores",
    "state_of",
    "total_station_round",
    "vector",
]
