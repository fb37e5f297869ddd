"""How every printed number is rounded and which unit its header names.

The one table of decimals. Numbers come in as metres and radians and leave as text;
nothing downstream rounds again.
"""

from dataclasses import dataclass
from math import ceil, degrees, isfinite, pi, radians

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
    "angle deg": 5,
    "angle gon": 5,
    "arcsec": 1,
    "mgon": 2,
    "whole angle": 0,
    "lean deg": 1,
    "seconds of position": 5,
    "place deg": 9,
    "place gon": 9,
    "ppm": 1,
    "combined factor": 7,
    "coefficient": 3,
    "test": 2,
    "redundancy": 2,
    "variance factor": 4,
    "limit": 2,
    "multiplier": 3,
}
"""Digits behind the point, by kind of figure and unit."""

SIGNIFICANT = 5
"""Digits of a ratio of 1000 and more: decimals then say nothing."""
_RATIOS = ("test", "variance factor", "limit")
_HUGE = 1e8
"""A ratio from here on is its size alone."""
_NARROW = 0.1
"""Limits of a variance factor that are nearer to each other have two digits more."""


def number(value: float, kind: str) -> str:
    """Return a value rounded for its kind; empty where there is none.

    Examples
    --------
    >>> number(-0.0004, "test"), number(float("nan"), "test")
    ('0.00', '')
    >>> [number(value, "variance factor") for value in (1.98341, 1234.56789, 2.5e6)]
    ['1.9834', '1234.6', '2500000']
    >>> number(4.6204e17, "variance factor")
    '4.62e17'
    """
    if not isfinite(value):
        return ""
    decimals = DECIMALS[kind]
    if kind in _RATIOS and abs(value) >= _HUGE:
        return f"{value:.2e}".replace("e+", "e")
    if kind in _RATIOS and abs(value) >= 1000:
        decimals = max(SIGNIFICANT - len(f"{abs(value):.0f}"), 0)
    text = f"{value:.{decimals}f}"
    return text.removeprefix("-") if not text.strip("-0.") else text.replace("-", "−")


def limits_text(lower: float, upper: float) -> str:
    """Return the limits of a variance factor, with digits that tell them apart.

    Examples
    --------
    >>> limits_text(0.76, 1.28), limits_text(0.99879, 1.00121)
    ('0.76 … 1.28', '0.9988 … 1.0012')
    """
    kind = "limit" if upper - lower >= _NARROW else "variance factor"
    return f"{number(lower, kind)} … {number(upper, kind)}"


@dataclass(frozen=True, slots=True)
class Units:
    """The units in which a job's figures are printed, and its figures in them.

    Examples
    --------
    >>> Units("m").small(0.0263), Units("ift").said(0.0263)
    ('26.3', '0.086 ift')
    >>> [Units("m", angle).reading(1.5) for angle in ("dms", "deg", "gon")]
    ['85° 56′ 37.2″', '85.94367', '95.49297']
    """

    unit: str = "m"
    """Of lengths: ``m`` (small ones in mm), ``ift`` or ``sft``."""
    angle: str = "dms"
    """Of angles: ``dms`` or ``deg`` (small ones in ″), or ``gon`` (in mgon)."""

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

    def in_small(self, metres: float) -> float:
        """Return a length in ``small_unit``, for an axis: not rounded."""
        return _in(self.small_unit, metres)

    def in_small_angle(self, radians: float) -> float:
        """Return an angle in ``small_angle_unit``, for an axis: not rounded."""
        if self.angle == "gon":
            return 1000 * _turned("gon", radians)
        return 3600 * degrees(radians)

    def said(self, metres: float) -> str:
        """Return a small length as said in a sentence, with its unit.

        Examples
        --------
        >>> Units().said(0.0263), Units().said(0.0004)
        ('26 mm', '0.4 mm')
        """
        text = self.small(metres, "said")
        if not text.strip("0."):
            text = self.small(metres)
        return f"{text} {self.small_unit}" if text else ""

    def at_most(self, metres: float) -> str:
        """Return a small length rounded up, with its unit: it is never understated.

        Examples
        --------
        >>> Units("m").at_most(0.0101), Units("m").at_most(0.011)
        ('11 mm', '11 mm')
        """
        step = 10.0 ** -DECIMALS[f"said {self.small_unit}"]
        value = _in(self.small_unit, metres)
        steps = ceil(round(value / step, 6))
        return f"{number(steps * step, f'said {self.small_unit}')} {self.small_unit}"

    @property
    def angle_unit(self) -> str:
        """Unit of angles as a header says it."""
        return {"dms": "° ′ ″", "deg": "°", "gon": "gon"}[self.angle]

    @property
    def whole_angle_unit(self) -> str:
        """Unit of an azimuth in whole units."""
        return "gon" if self.angle == "gon" else "°"

    @property
    def small_angle_unit(self) -> str:
        """Unit of residuals and shifts of angles."""
        return "mgon" if self.angle == "gon" else "″"

    def reading(self, radians: float) -> str:
        """Return a circle reading, an angle or an azimuth, in ``angle_unit``."""
        if self.angle == "dms":
            return sexagesimal(degrees(radians))
        return number(_turned(self.angle, radians), f"angle {self.angle}")

    def place(self, deg: float, letters: str) -> str:
        """Return a latitude or longitude, in ``angle_unit``, with its letter."""
        if self.angle == "dms":
            return sexagesimal(deg, "seconds of position", letters)
        if not isfinite(deg):
            return ""
        value = abs(_turned(self.angle, radians(deg)))
        return f"{number(value, f'place {self.angle}')} {letters[deg < 0]}"

    def small_angle(self, radians: float) -> str:
        """Return a residual or shift of an angle, in ``small_angle_unit``."""
        kind = "mgon" if self.angle == "gon" else "arcsec"
        return number(self.in_small_angle(radians), kind)

    def said_angle(self, radians: float) -> str:
        """Return a small angle as said in a sentence, with its unit.

        Examples
        --------
        >>> Units().said_angle(0.0001), Units("m", "gon").said_angle(0.0001)
        ('20.6″', '6.37 mgon')
        """
        text = self.small_angle(radians)
        if not text:
            return ""
        return f"{text} mgon" if self.angle == "gon" else f"{text}″"

    def azimuth(self, radians: float) -> str:
        """Return the azimuth of an ellipse's axis, in ``whole_angle_unit``."""
        half = 200 if self.angle == "gon" else 180
        return number(round(_turned(self.angle, radians)) % half, "whole angle")

    def said_azimuth(self, radians: float) -> str:
        """Return the azimuth of an ellipse's axis as said in a sentence.

        Examples
        --------
        >>> Units().said_azimuth(0.7854), Units("m", "gon").said_azimuth(0.7854)
        ('45°', '50 gon')
        """
        gap = " " if self.angle == "gon" else ""
        return f"{self.azimuth(radians)}{gap}{self.whole_angle_unit}"


def _turned(unit: str, radians: float) -> float:
    return radians * 200 / pi if unit == "gon" else degrees(radians)


def _in(unit: str, metres: float) -> float:
    factor = UNITS[unit].factor
    return metres * factor.denominator / factor.numerator


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
