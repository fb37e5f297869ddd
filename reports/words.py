"""The sentences of a report: signs in words, assumptions, glossary, cautions."""

import re
from math import degrees, isfinite
from typing import TYPE_CHECKING

import numpy as np

from .rounding import Lengths, number, percent

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


def set_up_words(judged: "Judged", lengths: Lengths) -> str:
    """Return how well each kind of support is taken to stand; empty without set-ups."""
    set_ups = judged.network.set_ups
    kinds: dict[str, list[int]] = {}
    for i, support in enumerate(set_ups.support):
        kinds.setdefault(support or "support not booked", []).append(i)
    said = [
        f"{kind} {_span(set_ups.sd_centring[rows], lengths)} centring, "
        f"{_span(set_ups.sd_height[rows], lengths)} height"
        for kind, rows in kinds.items()
    ]
    return f"set-ups, sd: {'; '.join(said)}" if said else ""


def _span(sizes: "Floats", lengths: Lengths) -> str:
    least, most = lengths.small(float(sizes.min())), lengths.small(float(sizes.max()))
    both = least if least == most else f"{least}–{most}"
    return f"{both} {lengths.small_unit}"


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
    kind: str, shift_enu: "Floats", lengths: Lengths, measure: str = "enu"
) -> str:
    """Return how a booking differs from what the rest says: size and sign in words.

    Parameters
    ----------
    kind : str
        Kind of the test.
    shift_enu : ndarray, shape (3,)
        Booked minus what the rest says, m; NaN where a direction is not tested.
        Of a reading its own value, in the first place.
    lengths : Lengths
    measure : str
        ``enu``, or for a reading ``m`` or ``rad``, for a parameter ``own``.

    Examples
    --------
    >>> shift_words("set-up height", np.array([np.nan, np.nan, 0.026]), Lengths())
    'height booked 26 mm too large'
    >>> shift_words("baseline", np.array([0.003, -0.012, 0.002]), Lengths())
    'end booked 12 mm too far south'
    >>> shift_words("direction", np.radians([-0.01, np.nan, np.nan]), Lengths(), "rad")
    'booked 36.0″ too small'
    """
    if np.isnan(shift_enu).all():
        return ""
    if measure != "enu":
        return _reading_words(kind, float(shift_enu[0]), lengths, measure)
    axis = int(np.nanargmax(np.abs(shift_enu)))
    size = lengths.said(abs(float(shift_enu[axis])))
    minus = bool(shift_enu[axis] < 0)
    if kind in ("set-up", "set-up height") and axis == 2:
        return f"height booked {size} {'too small' if minus else 'too large'}"
    what = {"baseline": "end booked"}.get(kind, "booked")
    way = (*_FAR, _HIGH)[axis][minus]
    return f"{what} {size} {way}"


def _reading_words(kind: str, shift: float, lengths: Lengths, measure: str) -> str:
    size = size_words(abs(shift), lengths, measure)
    large, small = ("too long", "too short") if "distance" in kind else _LARGE
    what = {"level difference": "rise booked", "parameter": "prior stated"}
    return " ".join(
        part
        for part in (what.get(kind, "booked"), size, small if shift < 0 else large)
        if part
    )


def size_words(size: float, lengths: Lengths, measure: str) -> str:
    """Return a size in the unit of what was read; empty for a parameter's own.

    Examples
    --------
    >>> size_words(0.0342, Lengths(), "enu"), size_words(0.0001, Lengths(), "rad")
    ('34 mm', '20.6″')
    """
    if measure == "own":
        return ""
    if measure == "rad":
        said = number(degrees(size) * 3600, "arcsec") if isfinite(size) else ""
        return f"{said}″" if said else ""
    return lengths.said(size)


def smallest_words(
    verdict: str, size: float, lengths: Lengths, measure: str = "enu"
) -> str:
    """Return the smallest blunder that would be seen; empty where none would.

    Examples
    --------
    >>> smallest_words("meets", 0.0342, Lengths())
    '34 mm'
    """
    return "" if verdict == "unchecked" else size_words(size, lengths, measure)


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
    r"(?<=\d) (?=(?:%|mm|m|km|ift|sft|×)(?:\W|$))"
    r"|(?<=[α×]) (?=\S)"
    r"|(?<=condition) (?=\d)"
)


def multiplier_words(multipliers: "Multipliers") -> str:
    """Return which variance factor precision stands on, and the multipliers."""
    ellipse = number(multipliers.ellipse, "multiplier")
    height = number(multipliers.height, "multiplier")
    return (
        f"{multipliers.kind}: {ellipse} × the stated standard ellipse, "
        f"{height} × the stated sd of the height"
    )


def range_words(smallest: "Floats", lengths: Lengths) -> str:
    """Return the smallest and largest of some lengths: "30–39 mm".

    Examples
    --------
    >>> range_words(np.array([0.0301, 0.0388]), Lengths())
    '30–39 mm'
    """
    least, most = (
        lengths.said(float(smallest.min())),
        lengths.said(float(smallest.max())),
    )
    if least == most:
        return least
    return f"{least.split()[0]}–{most}"


def judge_sentence(
    first: str, second: str, radius: float, confidence: float, lengths: Lengths
) -> str:
    """Return what the precision of a pair means, for a client or a court.

    Parameters
    ----------
    first, second : str
        The marks.
    radius : float
        Of the circle that holds the confidence, m; said rounded up.
    confidence : float
    lengths : Lengths

    Examples
    --------
    >>> print(judge_sentence("QUARRY 2", "T108", 0.0101, 0.95, Lengths())[:62])
    19 times in 20 the true spot of T108, as seen from QUARRY 2, l
    >>> judge_sentence("QUARRY 2", "T108", 0.0101, 0.95, Lengths())[62:]
    'ies within 11 mm of where we say; blunders not counted.'
    """
    odds = _odds(confidence)
    if not isfinite(radius):
        return (
            f"How far the true spot of {second} may lie from where we say, as seen "
            f"from {first}, cannot be judged."
        )
    return (
        f"{odds} the true spot of {second}, as seen from {first}, lies within "
        f"{lengths.at_most(radius)} of where we say; blunders not counted."
    )


def _odds(confidence: float) -> str:
    for times, of in ((19, 20), (99, 100), (9, 10), (2, 3)):
        if abs(confidence - times / of) < 1e-9:
            return f"{times} times in {of}"
    return f"In {percent(confidence)} of all cases"


GLOSSARY: tuple[tuple[str, str], ...] = (
    (
        "blunder",
        "a mistake, not a chance error: a height read to the wrong point, a mark "
        "mistaken for another",
    ),
    (
        "set-up",
        "an antenna, instrument or target over a mark, with its own centring and its "
        "own height; it is tested like any observation",
    ),
    (
        "variance factor",
        "the ratio of the misfit found to the misfit that the stated covariances lead "
        "one to expect: a ratio of variances, not of sds; 1 is as stated",
    ),
    ("degrees of freedom", "observations beyond those needed to compute the unknowns"),
    (
        "test",
        "1 is the limit; the figure grows in proportion to the blunder. Over 1 is a "
        "query; over 1 and unlikely anywhere in the job fails",
    ),
    (
        "smallest seen",
        "the smallest blunder that the test would find with the stated power; a "
        "smaller one is mostly missed",
    ),
    (
        "unchecked",
        "nothing else depends on it, so no error in it could show; neither a pass nor "
        "a failure",
    ),
    (
        "95 % ellipse",
        "the true position lies inside it 19 times in 20 if the stated covariances "
        "hold and there is no blunder",
    ),
    (
        "stated, estimated",
        "precision from the covariances as booked, and the same multiplied by the "
        "variance factor that was found",
    ),
    (
        "residual",
        "adjusted minus observed; where a difference is called booked too large, it is "
        "booked minus what the rest says",
    ),
    (
        "held, weighted, check-only",
        "a known mark that is exact, that may move within "
        "its stated uncertainty, or that is only compared",
    ),
)
"""Terms and their meaning."""

CAUTIONS: tuple[str, ...] = (
    "This is a computation. It certifies nothing. Local rules, and the judgement of "
    "the licensed person in charge, come first.",
    "A survey that meets every test may still hold a blunder smaller than the "
    "smallest seen, and any blunder where it says unchecked.",
    "Before going back to the field: roads and traffic (be seen, have a look-out); "
    "overhead lines (keep poles and rods down and well clear, 3 m at the very least "
    "and more at high voltage); excavations (stay back from the edge); water; lone "
    "work (agree times to call in); lightning (stop, lower everything, take shelter).",
)
"""What must be read before the figures are used."""
