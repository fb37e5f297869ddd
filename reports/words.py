"""The sentences of a report: signs in words, assumptions, glossary, cautions."""

import re
from math import isfinite
from typing import TYPE_CHECKING

import numpy as np

from .rounding import Units, number, percent

if TYPE_CHECKING:
    from ..adjust.precision.ellipses import Multipliers
    from ..networks import Options
    from ..networks.covariances import Floats
    from .judged import Judged

_FAR = (("too far east", "too far west"), ("too far north", "too far south"))
_HIGH = ("too high", "too low")
_LARGE = ("too large", "too small")

MODES = {
    "minimal": "Minimally constrained",
    "constrained": "Constrained",
    "free": "Free, by inner constraints",
}


def set_up_words(judged: "Judged", units: Units) -> str:
    """Return how well each kind of support is taken to stand; empty without set-ups."""
    set_ups = judged.network.set_ups
    kinds: dict[str, list[int]] = {}
    for i, support in enumerate(set_ups.support):
        kinds.setdefault(support or "support not booked", []).append(i)
    said = [
        f"{kind} {_span(set_ups.sd_centring[rows], units)} centring, "
        f"{_span(set_ups.sd_height[rows], units)} height"
        for kind, rows in kinds.items()
    ]
    return f"set-ups, sd: {'; '.join(said)}" if said else ""


def _span(sizes: "Floats", units: Units) -> str:
    least, most = units.small(float(sizes.min())), units.small(float(sizes.max()))
    both = least if least == most else f"{least}–{most}"
    return f"{both} {units.small_unit}"


_PRINTED = {
    "m": "metres",
    "ift": "printed in international feet (0.3048 m exactly)",
    "sft": "printed in US survey feet (1200/3937 m exactly)",
}


def frame_words(judged: "Judged", unit: str) -> str:
    """Return the frame, its epoch, and the unit in which lengths are printed."""
    said = judged.network.frame.describe()
    return f"{said.removesuffix(', metres')}, {_PRINTED[unit]}"


def shift_words(
    kind: str, shift_enu: "Floats", units: Units, measure: str = "enu"
) -> str:
    """Return how a booking differs from what the rest says: size and sign in words.

    Parameters
    ----------
    kind : str
        Kind of the test.
    shift_enu : ndarray, shape (3,)
        Booked minus what the rest says, m; NaN where a direction is not tested.
        Of a reading its own value, in the first place.
    units : Units
    measure : str
        ``enu``, or for a reading ``m`` or ``rad``, for a parameter ``ratio`` or
        ``coefficient`` too.

    Examples
    --------
    >>> shift_words("set-up height", np.array([np.nan, np.nan, 0.026]), Units())
    'height booked 26 mm too large'
    >>> shift_words("baseline", np.array([0.003, -0.012, 0.002]), Units())
    'end booked 12 mm too far south'
    >>> shift_words("direction", np.radians([-0.01, np.nan, np.nan]), Units(), "rad")
    'booked 36.0″ too small'
    """
    if np.isnan(shift_enu).all():
        return ""
    if measure != "enu":
        return _reading_words(kind, float(shift_enu[0]), units, measure)
    axis = int(np.nanargmax(np.abs(shift_enu)))
    size = units.said(abs(float(shift_enu[axis])))
    minus = bool(shift_enu[axis] < 0)
    if kind in ("set-up", "set-up height") and axis == 2:
        return f"height booked {size} {'too small' if minus else 'too large'}"
    what = {"baseline": "end booked"}.get(kind, "booked")
    way = (*_FAR, _HIGH)[axis][minus]
    return f"{what} {size} {way}"


def _reading_words(kind: str, shift: float, units: Units, measure: str) -> str:
    size = size_words(abs(shift), units, measure)
    large, small = ("too long", "too short") if "distance" in kind else _LARGE
    what = {"level difference": "rise booked", "parameter": "prior stated"}
    return " ".join(
        part
        for part in (what.get(kind, "booked"), size, small if shift < 0 else large)
        if part
    )


def size_words(size: float, units: Units, measure: str) -> str:
    """Return a size in the unit of what was read or estimated.

    Examples
    --------
    >>> size_words(0.0342, Units(), "enu"), size_words(0.0001, Units(), "rad")
    ('34 mm', '20.6″')
    >>> size_words(2.1e-6, Units(), "ratio"), size_words(0.13, Units(), "coefficient")
    ('2.1 ppm', '0.130')
    """
    if measure == "ratio":
        said = number(1e6 * size, "ppm")
        return f"{said} ppm" if said else ""
    if measure == "coefficient":
        return number(size, "coefficient")
    if measure == "rad":
        return units.said_angle(size)
    return units.said(size)


def smallest_words(
    verdict: str, size: float, units: Units, measure: str = "enu"
) -> str:
    """Return the smallest blunder that would be seen; empty where none would.

    Examples
    --------
    >>> smallest_words("meets", 0.0342, Units())
    '34 mm'
    """
    return "" if verdict == "unchecked" else size_words(size, units, measure)


def test_basis(options: "Options", of_vector: float | None) -> str:
    """Return significance and power of the blunder tests, as a heading says them."""
    vector = f", {percent(of_vector)} for a vector" if of_vector else ""
    return (
        f"α {percent(options.outlier_alpha)} for one component{vector}, "
        f"power {percent(options.power)}"
    )


def unbroken(said: str) -> str:
    """Return words in which no line ends between a number and what belongs to it.

    Examples
    --------
    >>> unbroken("95 % in 20 mm") == "95\N{NO-BREAK SPACE}% in 20\N{NO-BREAK SPACE}mm"
    True
    """
    return _TOGETHER.sub("\N{NO-BREAK SPACE}", said)


_TOGETHER = re.compile(
    r"(?<=\d) (?=(?:%|mm|m|km|ift|sft|ppm|gon|mgon|×)(?:\W|$))"
    r"|(?<=[α×]) (?=\S)"
    r"|(?<=condition) (?=\d)"
    r"|(?<=[°′]) (?=[′″])"
)


def multiplier_words(multipliers: "Multipliers", dimension: str = "space") -> str:
    """Return which variance factor precision stands on, and the multipliers.

    Parameters
    ----------
    multipliers : Multipliers
    dimension : str
        ``space``, ``plan`` or ``height``: an ellipse, a height, or both.
    """
    ellipse = number(multipliers.ellipse, "multiplier")
    height = number(multipliers.height, "multiplier")
    said = {
        "plan": f"{ellipse} × the stated standard ellipse",
        "height": f"{height} × the stated sd of the height",
    }
    said["space"] = f"{said['plan']}, {said['height']}"
    return f"{multipliers.kind}: {said[dimension]}"


def range_words(smallest: "Floats", units: Units) -> str:
    """Return the smallest and largest of some lengths: "30–39 mm".

    Examples
    --------
    >>> range_words(np.array([0.0301, 0.0388]), Units())
    '30–39 mm'
    """
    least, most = (
        units.said(float(smallest.min())),
        units.said(float(smallest.max())),
    )
    if least == most:
        return least
    return f"{least.split()[0]}–{most}"


def judge_sentence(
    first: str, second: str, radius: float, confidence: float, units: Units
) -> str:
    """Return what the precision of a pair means, for a client or a court.

    Parameters
    ----------
    first, second : str
        The marks.
    radius : float
        Of the circle that holds the confidence, m; said rounded up.
    confidence : float
    units : Units

    Examples
    --------
    >>> print(judge_sentence("QUARRY 2", "T108", 0.0101, 0.95, Units())[:62])
    19 times in 20 the true spot of T108, as seen from QUARRY 2, l
    >>> judge_sentence("QUARRY 2", "T108", 0.0101, 0.95, Units())[62:]
    'ies within 11 mm of where we say; blunders not counted.'
    """
    odds = _odds(confidence)
    if radius == 0:
        return (
            f"{first} and {second} are both held: how well they lie to one another was "
            "taken as known, and this survey says nothing about it."
        )
    if not isfinite(radius):
        return (
            f"How far the true spot of {second} may lie from where we say, as seen "
            f"from {first}, cannot be judged."
        )
    return (
        f"{odds} the true spot of {second}, as seen from {first}, lies within "
        f"{units.at_most(radius)} of where we say; blunders not counted."
    )


def judge_height_sentence(
    first: str, second: str, limit: float, confidence: float, units: Units
) -> str:
    """Return the same of a pair that has heights alone.

    Examples
    --------
    >>> print(judge_height_sentence("B1", "B2", 0.0032, 0.95, Units())[:58])
    19 times in 20 the true height of B2, as seen from B1, lie
    """
    if not isfinite(limit):
        return (
            f"How far the true height of {second} may lie from what we say, as seen "
            f"from {first}, cannot be judged."
        )
    return (
        f"{_odds(confidence)} the true height of {second}, as seen from {first}, lies "
        f"within {units.at_most(limit)} of what we say; blunders not counted."
    )


def _odds(confidence: float) -> str:
    for times, of in ((19, 20), (99, 100), (9, 10), (2, 3)):
        if abs(confidence - times / of) < 1e-9:
            return f"{times} times in {of}"
    return f"In {percent(confidence)} of all cases"
