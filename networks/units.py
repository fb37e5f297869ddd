"""Units: what a header may state, and the exact factor of each.

Inside the program a length is in metres, an angle in radians. Factors are exact
fractions, so a number is rounded once, when it becomes a float.
"""

import math
import re
from dataclasses import dataclass
from fractions import Fraction


@dataclass(frozen=True, slots=True)
class Unit:
    """A unit of the closed list."""

    name: str
    measure: str
    """What it measures: ``length``, ``angle``, ``variance`` …"""
    factor: Fraction
    """Canonical units in one of it; angles count degrees."""
    words: str
    """As it is called in messages."""


UNITS = {
    unit.name: unit
    for unit in (
        Unit("m", "length", Fraction(1), "metres"),
        Unit("mm", "length", Fraction(1, 1000), "millimetres"),
        Unit("km", "length", Fraction(1000), "kilometres"),
        # International yard and pound agreement, 1959: 0.3048 m exactly.
        Unit("ift", "length", Fraction(3048, 10000), "international feet"),
        # Mendenhall order, 1893; Federal Register 24 FR 5348, 1959.
        Unit("sft", "length", Fraction(1200, 3937), "US survey feet"),
        Unit("deg", "angle", Fraction(1), "decimal degrees"),
        Unit("dms", "angle", Fraction(1), "degrees, minutes and seconds"),
        Unit("gon", "angle", Fraction(9, 10), "gon"),
        Unit("arcsec", "angle", Fraction(1, 3600), "seconds of arc"),
        Unit("ppm", "ppm", Fraction(1), "parts per million"),
        Unit("s", "time", Fraction(1), "seconds"),
        Unit("min", "time", Fraction(60), "minutes"),
        Unit("h", "time", Fraction(3600), "hours"),
        Unit("mm2", "variance", Fraction(1, 10**6), "square millimetres"),
        Unit("m2", "variance", Fraction(1), "square metres"),
        Unit("hPa", "pressure", Fraction(1), "hectopascals"),
        Unit("degC", "temperature", Fraction(1), "degrees Celsius"),
        Unit("km_h", "speed", Fraction(1000, 3600), "kilometres an hour"),
        Unit("utc", "instant", Fraction(1), "UTC, as 2026-05-14T16:30:00Z"),
        Unit("year", "year", Fraction(1), "decimal years"),
        Unit("count", "count", Fraction(1), "a whole number"),
        Unit("ratio", "ratio", Fraction(1), "a ratio"),
    )
}
"""The closed list of units, by the name that ends a header."""

LARGEST = {
    "length": 1e9,
    "variance": 1e9,
    "angle": 1e4,
    "ppm": 1e6,
    "time": 1e9,
    "pressure": 2000.0,
    "temperature": 100.0,
    "speed": 1000.0,
    "year": 2200.0,
    "count": 1e9,
    "ratio": 1e9,
}
"""Beyond this (in canonical units, angles in degrees) a number is a slip of the pen."""

LONGEST_NUMBER = 100
"""Characters; a longer text is no number that was ever booked."""

# Degrees, minutes and seconds, kept apart by blanks, colons, hyphens or their signs.
_DMS = re.compile(
    r"([+-]?)(\d{1,3})(?:\s*[°:\-]\s*|\s+)(\d{1,2})(?:\s*['′:\-]\s*|\s+)"
    r"(\d{1,2}(?:\.\d*)?)\s*[\"″]?",
    re.ASCII,
)
_NUMBER = re.compile(r"[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d{1,3})?", re.ASCII)
_DECIMAL = re.compile(r"[+-]?(?:\d+\.?\d*|\.\d+)", re.ASCII)


def units_of(measure: str) -> tuple[str, ...]:
    """Return the names of the units of a measure.

    Examples
    --------
    >>> units_of("length")
    ('m', 'mm', 'km', 'ift', 'sft')
    """
    return tuple(unit.name for unit in UNITS.values() if unit.measure == measure)


def exact(text: str) -> Fraction:
    """Return a decimal number as booked, without rounding.

    Raises
    ------
    ValueError
        Not a plain decimal number, or one beyond the range of a float.

    Examples
    --------
    >>> exact("6.5617") * UNITS["ift"].factor
    Fraction(25000077, 12500000)
    """
    if len(text) > LONGEST_NUMBER or not _NUMBER.fullmatch(text):
        raise ValueError(f"{text!r} is not a decimal number")
    number = Fraction(text)
    if number and not 1e-300 < abs(number) < 1e300:
        raise ValueError(f"{text} is beyond the range of a number")
    return number


def convert(text: str, unit: str) -> float:
    """Return a booked number in canonical units, rounded once; angles in degrees.

    Parameters
    ----------
    text : str
        The number as booked; for ``dms`` three numbers kept apart.
    unit : str
        A name of ``UNITS``.

    Raises
    ------
    ValueError

    Examples
    --------
    >>> convert("6.5617", "ift"), convert("3937", "sft"), convert("-0 30 00", "dms")
    (2.00000616, 1200.0, -0.5)
    """
    if unit == "dms":
        return dms(text)
    factor = UNITS[unit].factor
    if len(text) <= LONGEST_NUMBER and _DECIMAL.fullmatch(text):
        whole, _, part = text.partition(".")
        scale = int(10 ** len(part))
        # The quotient of two integers is correctly rounded, as is that of a Fraction,
        # and five times as quick.
        return int(whole + part) * factor.numerator / (scale * factor.denominator)
    return float(exact(text) * factor)


def dms(text: str) -> float:
    """Return degrees from degrees, minutes and seconds kept apart.

    Raises
    ------
    ValueError
        Packed digits, a part missing, or minutes or seconds of 60 and more.

    Examples
    --------
    >>> dms("123 45 06.7"), dms("-105-18-21")
    (123.75186111111111, -105.30583333333334)
    """
    match = _DMS.fullmatch(text) if len(text) <= LONGEST_NUMBER else None
    if not match:
        raise ValueError(f"{text!r} is not degrees, minutes and seconds")
    sign, degrees, minutes, seconds = match.groups()
    whole, _, part = seconds.partition(".")
    if int(minutes) >= 60 or int(whole) >= 60:
        raise ValueError(f"{text!r} has 60 or more minutes or seconds")
    scale = int(10 ** len(part))
    total = (int(degrees) * 3600 + int(minutes) * 60) * scale + int(whole + part)
    return (-total if sign == "-" else total) / (3600 * scale)


def format_dms(angle: float, decimals: int = 1) -> str:
    """Return an angle in radians as ``123 45 06.7``, rounded before it is split.

    Examples
    --------
    >>> format_dms(math.radians(59.99999999)), format_dms(math.radians(-0.5))
    ('60 00 00.0', '-0 30 00.0')
    """
    scale = 10**decimals
    total = round(abs(math.degrees(angle)) * 3600 * scale)
    minutes, ticks = divmod(total, 60 * scale)
    degrees, minutes = divmod(minutes, 60)
    width = decimals + 3 if decimals else 2
    sign = "-" if angle < 0 and total else ""
    return f"{sign}{degrees} {minutes:02d} {ticks / scale:0{width}.{decimals}f}"
