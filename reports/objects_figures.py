"""How figures are rounded for JSON, so that the same input gives the same bytes."""

from math import isfinite
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from ..networks.covariances import Floats

Object = dict[str, Any]
"""What becomes a JSON object."""

POSITION, SMALL, ANGLE, RATIO, SIGNIFICANT = 6, 7, 11, 6, 9
"""Decimals of coordinates and residuals (m), angles (°) and ratios; digits at all."""


def rounded(value: float, digits: int) -> float | None:
    """Return a value of a fixed number of decimals; None for what cannot be judged.

    Examples
    --------
    >>> rounded(-1e-9, 6), rounded(float("nan"), 6)
    (0.0, None)
    """
    return round(float(value), digits) + 0.0 if isfinite(value) else None


def significant(value: float) -> float | None:
    """Return a value of nine significant digits, for variances and probabilities."""
    return float(f"{value:.{SIGNIFICANT}g}") + 0.0 if isfinite(value) else None


def vector(values: "Floats", digits: int) -> list[float | None]:
    """Return the values rounded, None for what cannot be judged."""
    return [rounded(float(value), digits) for value in values]
