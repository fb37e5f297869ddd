"""Where the iteration starts: found from everything that was observed."""

from .positions import guessed_marks, starting_positions
from .values import starting_values

__all__ = ["guessed_marks", "starting_positions", "starting_values"]
