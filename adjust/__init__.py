"""The estimate and everything derived from it; knows no file and no page."""

from .adjustment import Adjustment
from .datum import Datum
from .dense import LinearSolution, least_squares
from .estimate import estimate
from .nodes import Nodes
from .together import estimates

__all__ = [
    "Adjustment",
    "Datum",
    "LinearSolution",
    "Nodes",
    "estimate",
    "estimates",
    "least_squares",
]
