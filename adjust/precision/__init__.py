"""How precise the result is: ellipses, circles, heights, pairs of marks."""

from .ellipses import circle_cubic, circle_exact, ellipse, multipliers
from .heights import OrthometricHeights, orthometric_heights
from .marks import MarkPrecision, mark_precision
from .pairs import Pair, pair

__all__ = [
    "MarkPrecision",
    "OrthometricHeights",
    "Pair",
    "circle_cubic",
    "circle_exact",
    "ellipse",
    "mark_precision",
    "multipliers",
    "orthometric_heights",
    "pair",
]
