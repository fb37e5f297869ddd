"""By how much something is booked wrongly, in words."""

from math import isfinite
from typing import TYPE_CHECKING

import numpy as np

from .rounding import Units

if TYPE_CHECKING:
    from ..networks.covariances import Floats

_WAYS = {"e": "east", "n": "north", "u": "up"}


_ARCSEC = 3600 * 180 / np.pi


_FINE = 0.002
"""m; an sd under which a size is said with a decimal."""


def size_text(measure: str, size: "Floats", sd: "Floats", units: Units) -> str:
    """Return the amounts of a cause with their sd and unit; a dash for none.

    Examples
    --------
    >>> size_text("u", np.array([0.026]), np.array([0.008]), Units())
    '+26 ± 8 mm'
    >>> size_text("ratio", np.array([-2e-6]), np.array([5e-7]), Units())
    '−2.0 ± 0.5 ppm'
    """
    if not measure or measure == "own" or not np.isfinite(size).any():
        return "–"
    if measure == "factor":
        return _factor(float(size[0]), float(sd[0]))
    if measure == "ratio":
        return f"{_signed(size[0] * 1e6, 1)} ± {sd[0] * 1e6:.1f} ppm"
    if measure == "rad":
        return f"{_signed(size[0] * _ARCSEC, 1)} ± {sd[0] * _ARCSEC:.1f}″"
    if measure in ("m", "u"):
        return _length(float(size[0]), float(sd[0]), units)
    said = [
        f"{_WAYS[way]} {_length(float(one), float(its), units)}"
        for way, one, its in zip(measure, size, sd, strict=True)
        if isfinite(one)
    ]
    return ", ".join(said)


def booked_words(measure: str, size: "Floats", sd: "Floats", units: Units) -> str:
    """Return how wrong something is booked, in words; empty where no size is known.

    Examples
    --------
    >>> booked_words("u", np.array([-0.065]), np.array([0.008]), Units())
    'booked too small by 65 ± 8 mm'
    >>> booked_words("en", np.array([0.026, -0.040]), np.array([8e-3, 8e-3]), Units())
    'booked minus the rest: east +26 ± 8 mm, north −40 ± 8 mm'
    """
    said = size_text(measure, size, sd, units)
    if said == "–":
        return ""
    if measure == "factor":
        return said
    if len(said.split(", ")) > 1 or measure not in ("m", "u", "rad", "ratio"):
        return f"booked minus the rest: {said}"
    way = "small" if size[0] < 0 else "large"
    return f"booked too {way} by {said.lstrip('+−')}"


def _factor(size: float, sd: float) -> str:
    """Return by what the booked value is to be multiplied.

    Examples
    --------
    >>> _factor(0.6951, 0.0012), _factor(2.01e-6, 4e-8)
    ('to be × 0.3049 ± 0.0012', 'to be × (1 − 2.01 ± 0.04 ppm)')
    """
    if abs(size) > 1e-3:
        return f"to be × {1 - size:.4f} ± {max(sd, 1e-4):.4f}"
    sign = "−" if size > 0 else "+"
    return f"to be × (1 {sign} {abs(size) * 1e6:.2f} ± {sd * 1e6:.2f} ppm)"


def _length(size: float, sd: float, units: Units) -> str:
    """Return a length in the small unit; one over a metre in the large."""
    if abs(size) >= 1.0:
        sign = "+" if size > 0 else ""
        return f"{sign}{units.coordinate(size)} ± {units.said(sd)}".replace(
            " ±", f" {units.unit} ±"
        )
    sign = "+" if size > 0 else ""
    if sd < _FINE and units.unit == "m":
        return f"{sign}{units.small(size)} ± {units.small(sd)} mm"
    return f"{sign}{units.small(size, 'said')} ± {units.said(sd)}"


def _signed(value: float, decimals: int) -> str:
    return f"{value:+.{decimals}f}".replace("-", "−")
