"""How every printed number is rounded and which unit its header names.

The one table of decimals. Numbers come in as metres and radians and leave as text;
nothing downstream rounds again.
"""

from dataclasses import dataclass
from math import ceil, degrees, isfinite

from ..networks.units import UNITS

DECIMALS: dict[str, int] = {
    "coordinate m": 4,
    "coordinate ift": 4,
    "coordinate sft": 4,
    "small mm": 1,
    "small ift": 3,
    "small sft": 3,
    "said mm": 0,
    "said ift": 3,
    "said sft": 3,
    "distance m": 4,
    "arcsec": 1,
    "whole degree": 0,
    "seconds of position": 5,
    "test": 2,
    "ppm": 1,
    "redundancy": 2,
    "variance factor": 4,
    "limit": 2,
    "multiplier": 3,
}
"""Digits behind the point, by kind of figure and unit."""


def number(value: float, kind: str) -> str:
    """Return a value rounded for its kind; empty where there is none.

    Examples
    --------
    >>> number(-0.0004, "test"), number(float("nan"), "test")
    ('0.00', '')
    """
    if not isfinite(value):
        return ""
    text = f"{value:.{DECIMALS[kind]}f}"
    return text.removeprefix("-") if not text.strip("-0.") else text.replace("-", "−")


@dataclass(frozen=True, slots=True)
class Lengths:
    """Lengths in the unit of the job: ``m`` (small ones in mm), ``ift`` or ``sft``.

    Examples
    --------
    >>> Lengths("m").small(0.0263), Lengths("ift").said(0.0263)
    ('26.3', '0.086 ift')
    """

    unit: str = "m"

    @property
    def small_unit(self) -> str:
        """Unit of ellipses, residuals and shifts."""
        return "mm" if self.unit == "m" else self.unit

    def coordinate(self, metres: float) -> str:
        """Return a coordinate, distance or height, in ``unit``."""
        return number(_in(self.unit, metres), f"coordinate {self.unit}")

    def small(self, metres: float, kind: str = "small") -> str:
        """Return an ellipse, residual or shift, in ``small_unit``."""
        return number(_in(self.small_unit, metres), f"{kind} {self.small_unit}")

    def said(self, metres: float) -> str:
        """Return a small length as said in a sentence, with its unit."""
        text = self.small(metres, "said")
        return f"{text} {self.small_unit}" if text else ""

    def at_most(self, metres: float) -> str:
        """Return a small length rounded up, with its unit: it is never understated.

        Examples
        --------
        >>> Lengths("m").at_most(0.0101), Lengths("m").at_most(0.011)
        ('11 mm', '11 mm')
        """
        step = 10.0 ** -DECIMALS[f"said {self.small_unit}"]
        value = _in(self.small_unit, metres)
        steps = ceil(round(value / step, 6))
        return f"{number(steps * step, f'said {self.small_unit}')} {self.small_unit}"


def _in(unit: str, metres: float) -> float:
    factor = UNITS[unit].factor
    return metres * factor.denominator / factor.numerator


def azimuth(radians: float) -> str:
    """Return a direction in whole degrees from north, as for an ellipse's axis."""
    return number(round(degrees(radians)) % 180, "whole degree")


def sexagesimal(deg: float, kind: str = "arcsec", letters: str = "") -> str:
    """Return an angle in degrees, minutes and seconds.

    Parameters
    ----------
    deg : float
        Degrees.
    kind : str
        Kind of figure of the seconds.
    letters : str
        Letters of the positive and negative side: "NS", "EW"; empty for a bare sign.

    Examples
    --------
    >>> sexagesimal(-7.99999999, "arcsec")
    '−8° 00′ 00.0″'
    >>> sexagesimal(43.5, "seconds of position", "NS")
    '43° 30′ 00.00000″ N'
    """
    if not isfinite(deg):
        return ""
    digits = DECIMALS[kind]
    units = round(abs(deg) * 3600 * 10**digits)
    minutes, rest = divmod(units, 60 * 10**digits)
    whole, minutes = divmod(minutes, 60)
    seconds = f"{rest / 10**digits:0{3 + digits}.{digits}f}"
    text = f"{whole}° {minutes:02d}′ {seconds}″"
    if letters:
        return f"{text} {letters[deg < 0]}"
    return f"−{text}" if deg < 0 else text


def percent(probability: float) -> str:
    """Return a probability as it is said: "95 %", "0.1 %".

    Examples
    --------
    >>> percent(0.95), percent(0.001), percent(0.0055)
    ('95 %', '0.1 %', '0.55 %')
    """
    return f"{100 * probability:.3g} %"
