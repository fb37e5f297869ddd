"""Set-ups: from what was read at the antenna to the height of its reference point.

The reduced height is the vertical distance from the mark up to the antenna reference
point. It is shown in words wherever it is printed, so that a reader can check it by
hand.
"""

from math import isfinite, sqrt


def slant_reduced(slant: float, radius: float, offset: float) -> float:
    """Return the vertical height of the reference point from a slant reading.

    h = √(s² − r²) − offset.

    Parameters
    ----------
    slant : float
        From the mark to the slant mark at the antenna's edge, m.
    radius : float
        From the antenna's axis to the slant mark, m.
    offset : float
        From the reference point up to the slant mark, m.

    Returns
    -------
    float
        m; NaN where the slant is not longer than the radius.

    Examples
    --------
    1.500 m on a radius of 0.170 m is √(2.25 − 0.0289) = 1.4903 m:

    >>> round(slant_reduced(1.5, 0.17, 0.0), 4)
    1.4903
    """
    if not slant > abs(radius):
        return float("nan")
    return sqrt(slant * slant - radius * radius) - offset


def reduced_height(
    height: float,
    reading: str,
    measured_to: str,
    radius: float = float("nan"),
    offset: float = float("nan"),
) -> tuple[float, str]:
    """Return the height of the reference point above the mark, and how it was found.

    Parameters
    ----------
    height : float
        As read, m.
    reading : str
        ``vertical``, ``slant`` or ``fixed pole``; empty is taken as vertical.
    measured_to : str
        ``reference point``, ``mount bottom`` or ``slant mark``. The bottom of the
        mount is the reference point of an antenna (common practice).
    radius, offset : float
        Of the antenna's slant mark, m; NaN where not known.

    Returns
    -------
    reduced : float
        m; NaN where it cannot be reduced.
    words : str
        The reduction in words, empty where nothing was reduced.

    Examples
    --------
    >>> height, words = reduced_height(1.5, "slant", "slant mark", 0.17, 0.04)
    >>> round(height, 4)
    1.4503
    >>> words
    '√(1.5000² − 0.1700²) − 0.0400 = 1.4503 m'
    >>> reduced_height(1.5, "vertical", "reference point")
    (1.5, '')
    """
    if reading == "slant":
        reduced = slant_reduced(height, radius, offset)
        formula = f"√({height:.4f}² − {radius:.4f}²) − {offset:.4f}"
    elif measured_to == "slant mark":
        reduced = height - offset
        formula = f"{height:.4f} − {offset:.4f}"
    elif measured_to == "mount bottom":
        return height, "read to the mount's bottom, taken as the reference point"
    else:
        return height, ""
    if not isfinite(reduced):
        return float("nan"), ""
    return reduced, f"{formula} = {reduced:.4f} m"
