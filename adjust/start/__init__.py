"""Where the iteration starts: found from everything that was observed."""

from .positions import starting_positions
from .values import starting_values

__all__ = ["starting_positions", "starting_values"]
