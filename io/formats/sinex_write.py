"""SINEX 2.02 written: adjusted marks with their full covariance.

Columns as in the description of the format (IERS, 1 December 2006). A held mark has no
variance, and a covariance with a zero in it cannot be inverted by whoever reads it; so
held marks stand in the comments. The format's codes have four characters: the names
stand beside them in SITE/ID and in the comments.
"""

from calendar import isleap
from collections.abc import Sequence
from dataclasses import dataclass
from math import floor, log10

import numpy as np

from ...networks import CommandError
from ...networks.covariances import Floats

_OPEN = "00:000:00000"
"""A time that is not said."""
_AXES = ("STAX", "STAY", "STAZ")


@dataclass(frozen=True, slots=True)
class SolutionPoints:
    """n marks of one solution, and what they have in common."""

    name: tuple[str, ...]
    xyz: Floats
    """(n, 3) geocentric, m."""
    covariance: Floats
    """(3n, 3n) m², stated, mark by mark, x y z."""
    geodetic: Floats
    """(n, 3) latitude and longitude in degrees, ellipsoidal height in m."""
    epoch: float
    """Decimal year."""
    comments: tuple[str, ...] = ()
    """Frame, source, held marks, in words."""
    observations_count: int = 0
    degrees_of_freedom: int = 0
    variance_factor: float = float("nan")


def write_sinex(points: SolutionPoints, created: float = float("nan")) -> str:
    """Return a solution as the text of a SINEX file.

    Parameters
    ----------
    points : SolutionPoints
    created : float, optional
        Decimal year of the file; left open if not given.

    Returns
    -------
    str

    Raises
    ------
    CommandError
        No mark is left to write.
    """
    if not len(points.name):
        raise CommandError("every mark is held or has no place: SINEX has no estimate")
    codes = site_codes(points.name)
    parts = [
        _heading(points, created),
        _block("FILE/REFERENCE", [" DESCRIPTION        survey control network"]),
        _block("FILE/COMMENT", _comments(points, codes)),
        _block("SOLUTION/STATISTICS", _statistics(points)),
        _block("SITE/ID", _sites(points, codes)),
        _block("SOLUTION/EPOCHS", _epochs(points, codes)),
        _block("SOLUTION/ESTIMATE", _estimates(points, codes)),
        _block("SOLUTION/MATRIX_ESTIMATE L COVA", _matrix(points.covariance)),
    ]
    text = "\n".join([*parts, "%ENDSNX"]) + "\n"
    # The format is ASCII; the columns stay where they are.
    return text.encode("ascii", "replace").decode("ascii")


def site_codes(names: Sequence[str]) -> tuple[str, ...]:
    """Return four characters for each name, no two alike.

    Examples
    --------
    >>> site_codes(["BREAKWATER 1", "BREAKWATER 2", "T9"])
    ('BREA', 'B002', 'T9')
    """
    made: list[str] = []
    for number, name in enumerate(names, 1):
        plain = "".join(c for c in name.upper() if c.isascii() and c.isalnum())
        code = plain[:4] or f"M{number:03d}"
        letter = (plain or "M")[0]
        while code in made:
            code = f"{letter}{number:03d}" if number < 1000 else f"{number:04d}"
            number += 1
        made.append(code)
    return tuple(made)


def sinex_time(year: float) -> str:
    """Return a decimal year as SINEX writes it, YY:DDD:SSSSS, to the second.

    Examples
    --------
    >>> sinex_time(2025.5), sinex_time(float("nan"))
    ('25:183:43200', '00:000:00000')
    """
    if np.isnan(year):
        return _OPEN
    whole = floor(year)
    days = 366 if isleap(whole) else 365
    seconds = min(round((year - whole) * days * 86400), days * 86400 - 1)
    return f"{whole % 100:02d}:{seconds // 86400 + 1:03d}:{seconds % 86400:05d}"


def _heading(points: SolutionPoints, created: float) -> str:
    count = 3 * len(points.name)
    at = sinex_time(points.epoch)
    return f"%=SNX 2.02 --- {sinex_time(created)} --- {at} {at} C {count:05d} 1 S"


def _block(title: str, lines: Sequence[str]) -> str:
    return "\n".join([f"+{title}", *lines, f"-{title}"])


def _comments(points: SolutionPoints, codes: Sequence[str]) -> list[str]:
    said = [f" {words}"[:80] for words in points.comments]
    pairs = zip(codes, points.name, strict=True)
    return said + [f" {code} is {name}"[:80] for code, name in pairs if code != name]


def _statistics(points: SolutionPoints) -> list[str]:
    rows = [
        ("NUMBER OF OBSERVATIONS", f"{points.observations_count:22d}"),
        ("NUMBER OF DEGREES OF FREEDOM", f"{points.degrees_of_freedom:22d}"),
    ]
    if np.isfinite(points.variance_factor):
        rows.append(("VARIANCE FACTOR", f"{points.variance_factor:22.15f}"))
    return [f" {word:<30s} {value}" for word, value in rows]


def _sites(points: SolutionPoints, codes: Sequence[str]) -> list[str]:
    lines = []
    for code, name, (latitude, longitude, height) in zip(
        codes, points.name, points.geodetic.tolist(), strict=True
    ):
        east = _sexagesimal(longitude % 360)
        north = _sexagesimal(latitude)
        lines.append(
            f" {code:<4s}  A {'':9s} C {name:<22.22s} {east} {north} {height:7.1f}"
        )
    return lines


def _sexagesimal(degrees: float) -> str:
    """Return degrees, minutes and seconds in eleven columns; the degrees signed."""
    tenths = round(abs(degrees) * 36000)
    whole, rest = divmod(tenths, 36000)
    minutes, tenths = divmod(rest, 600)
    sign = "-" if degrees < 0 else ""
    return f"{sign + str(whole):>3s} {minutes:2d} {tenths / 10:4.1f}"


def _epochs(points: SolutionPoints, codes: Sequence[str]) -> list[str]:
    at = sinex_time(points.epoch)
    return [f" {code:<4s}  A    1 C {_OPEN} {_OPEN} {at}" for code in codes]


def _estimates(points: SolutionPoints, codes: Sequence[str]) -> list[str]:
    at, sds = sinex_time(points.epoch), np.sqrt(points.covariance.diagonal())
    lines = []
    for k, (value, sd) in enumerate(
        zip(points.xyz.ravel().tolist(), sds.tolist(), strict=True)
    ):
        code = codes[k // 3]
        lines.append(
            f" {k + 1:5d} {_AXES[k % 3]:<6s} {code:<4s}  A    1 {at} m    1 "
            f"{_exponent(value, 15)} {_exponent(sd, 6).lstrip('0'):>11s}"
        )
    return lines


def _matrix(covariance: Floats) -> list[str]:
    """Return the lower triangle, three figures a line."""
    lines = []
    for i, row in enumerate(covariance.tolist()):
        for j in range(0, i + 1, 3):
            some = " ".join(_exponent(v, 14) for v in row[j : min(j + 3, i + 1)])
            lines.append(f" {i + 1:5d} {j + 1:5d} {some}")
    return lines


def _exponent(value: float, digits: int) -> str:
    """Return a number as Fortran writes it, its mantissa under one: 0.12E+01.

    Of 15 digits the zero before a negative one's point gives way to the sign.

    Examples
    --------
    >>> _exponent(1234.5, 15), _exponent(-1234.5, 15), _exponent(-0.5, 14)
    ('0.123450000000000E+04', '-.123450000000000E+04', '-0.50000000000000E+00')
    """
    power = floor(log10(abs(value))) + 1 if value else 0
    mantissa = abs(value) / 10.0**power
    if round(mantissa, digits) >= 1:
        mantissa, power = mantissa / 10, power + 1
    text = f"{mantissa:.{digits}f}"
    if value < 0:
        text = f"-{text[1:]}" if digits == 15 else f"-{text}"
    elif digits == 14:
        text = f" {text}"
    return f"{text}E{power:+03d}"
