"""How precise the result is: ellipses, circles, heights, pairs of marks."""

from .ellipses import circle_cubic, circle_exact, ellipse, multipliers
from .marks import MarkPrecision, mark_precision
from .pairs import Pair, pair

__all__ = [
    "MarkPrecision",
    "Pair",
    "circle_cubic",
    "circle_exact",
    "ellipse",
    "mark_precision",
    "multipliers",
    "pair",
]
