"""The sizes that have a name: wrong readings, feet, antennas, prisms, other marks."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import isfinite, sqrt

import numpy as np

from .covariances import Floats
from .likeness import Named, either_sign, one_value, that_exist
from .setups import slant_reduced

FOOT = 0.3048
"""m, exactly: international yard and pound agreement, 1959."""
SURVEY_FOOT = 1200 / 3937
"""m: Mendenhall order, 1893."""
POLE_SECTIONS = (0.200, 0.250, 0.500)
"""m; lengths in which poles are stacked or set (common practice, no source)."""
PRISM_CONSTANTS = (0.0300, 0.0344, 0.0175, 0.0044)
"""m; by which common prisms differ (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class HeightBooked:
    """What is known of the height of an antenna, instrument or target, m."""

    read: float
    """As booked."""
    reduced: float
    """Of the reference point, as used."""
    text: str = ""
    """The number as it stands in the table."""
    unit: float = 1.0
    """Metres in one of it."""
    second: float = float("nan")
    """A second reading at the beginning, reduced in the same way."""
    after: float = float("nan")
    """A reading at the end, reduced in the same way."""
    rounding: float = 0.0
    """Half a unit of the last digit of the second reading."""
    slant: bool = False
    """Whether it is booked as read along the slant."""
    slant_radius: float = float("nan")
    """Of the antenna, from the axis to the slant mark."""
    offset: float = float("nan")
    """From the reference point up to the slant mark."""


def height_names(booked: HeightBooked) -> list[Named]:
    """Return the sizes that a wrong height of a set-up has a name for.

    Parameters
    ----------
    booked : HeightBooked

    Returns
    -------
    list of Named
        One value each: booked minus true, m.
    """
    height = booked.reduced
    made = [
        *_readings(booked),
        one_value("a number in feet booked as metres", booked.read * (1 - FOOT)),
        one_value("a number in metres booked as feet", booked.read * (1 - 1 / FOOT)),
        one_value("the height applied twice", height),
        one_value("the height left out", -height),
        *_reference_point(booked),
    ]
    for section in POLE_SECTIONS:
        made += either_sign(f"a pole section of {section:.3f} m", section)
    made += exchanged_digits(booked.text, booked.unit)
    return that_exist(made)


def _readings(booked: HeightBooked) -> list[Named]:
    """Return the gaps to the other readings of the same height."""
    gaps = (
        ("the second reading of the height", booked.second),
        ("the reading at the end", booked.after),
    )
    # A reading rounded to ± r has an sd of r/√3.
    sd = booked.rounding / sqrt(3)
    return [
        Named(f"the gap to {words}", np.array([booked.reduced - other]), sd)
        for words, other in gaps
    ]


def _reference_point(booked: HeightBooked) -> list[Named]:
    """Return slant for vertical, and the wrong point of this antenna."""
    radius, offset = booked.slant_radius, booked.offset
    made = []
    if not isfinite(radius):
        pass
    elif booked.slant:
        made.append(
            one_value(
                "a vertical height reduced as slant", booked.reduced - booked.read
            )
        )
    else:
        shift = offset if isfinite(offset) else 0.0
        true = slant_reduced(booked.read, radius, shift)
        made.append(one_value("a slant height taken as vertical", booked.read - true))
    if isfinite(offset) and offset:
        made += either_sign("the slant mark for the reference point", offset)
    return made


def exchanged_digits(text: str, unit: float = 1.0) -> list[Named]:
    """Return what two neighbouring digits exchanged in a number would make.

    Parameters
    ----------
    text : str
        The number as booked.
    unit : float
        Metres in one of it.

    Examples
    --------
    1.673 for 1.637 is 36 mm too large:

    >>> for one in exchanged_digits("1.673"):
    ...     print(one.words, one.size.round(3))
    digits exchanged, 1.673 for 6.173 [-4.5]
    digits exchanged, 1.673 for 1.763 [-0.09]
    digits exchanged, 1.673 for 1.637 [0.036]
    """
    places = [i for i, letter in enumerate(text) if letter.isdigit()]
    made = []
    for first, second in pairwise(places):
        if text[first] == text[second]:
            continue
        letters = list(text)
        letters[first], letters[second] = text[second], text[first]
        other = "".join(letters)
        try:
            size = (float(text) - float(other)) * unit
        except ValueError:
            return []
        made.append(one_value(f"digits exchanged, {text} for {other}", size))
    return made


def distance_names(distance: float) -> list[Named]:
    """Return the sizes that a wrong distance, or its constant, has a name for.

    Parameters
    ----------
    distance : float
        As booked, m; NaN for a constant common to many.
    """
    made = []
    for constant in PRISM_CONSTANTS:
        made += either_sign(f"a prism constant of {1000 * constant:.1f} mm", constant)
    made.append(one_value("a number in feet booked as metres", distance * (1 - FOOT)))
    made.append(
        one_value("a number in metres booked as feet", distance * (1 - 1 / FOOT))
    )
    return that_exist(made)


def known_height_names(height: float, undulation: float) -> list[Named]:
    """Return the sizes that a wrong known height has a name for.

    Parameters
    ----------
    height : float
        As booked, m.
    undulation : float
        Of the geoid above the ellipsoid there, m; NaN where not known.
    """
    made = [
        one_value("a height above the geoid booked as ellipsoidal", -undulation),
        one_value("an ellipsoidal height booked as above the geoid", undulation),
        one_value("a number in feet booked as metres", height * (1 - FOOT)),
        one_value("a number in metres booked as feet", height * (1 - 1 / FOOT)),
    ]
    return that_exist(made)


def survey_foot_names(east: float, north: float) -> list[Named]:
    """Return what one foot taken for the other does to grid coordinates: 2 ppm.

    Parameters
    ----------
    east, north : float
        Grid coordinates as booked, m, false origins included.

    Examples
    --------
    Two million feet are out by 4 ft of 2 ppm each: 1.219 m.

    >>> one, other = survey_foot_names(2e6 * FOOT, 0.0)
    >>> one.words, one.size.round(3).tolist()
    ('international feet converted as US survey feet', [1.219, 0.0])
    """
    ratio = SURVEY_FOOT / FOOT
    place = np.array([east, north])
    return [
        Named(
            "international feet converted as US survey feet", place * (1 - 1 / ratio)
        ),
        Named("US survey feet converted as international feet", place * (1 - ratio)),
    ]


def other_mark_names(
    here: Floats, others: Floats, names: Sequence[str], most: int = 5
) -> list[Named]:
    """Return what standing on another mark would make, the nearest marks first.

    Parameters
    ----------
    here : ndarray, shape (k,)
        East, north (and up) of the mark that is booked, m.
    others : ndarray, shape (n, k)
        Of the other marks, in the same axes.
    names : sequence of str
    most : int
        How many to try.

    Examples
    --------
    >>> here, others = np.zeros(2), np.array([[0.0, 12.0], [3.0, 4.0]])
    >>> [(one.words, one.size.tolist()) for one in
    ...  other_mark_names(here, others, ["T2", "T3"])]
    [('it stood on T3', [-3.0, -4.0]), ('it stood on T2', [0.0, -12.0])]
    """
    away = np.linalg.norm(others - here, axis=1)
    order = [int(i) for i in np.argsort(away, kind="stable") if away[int(i)] > 0]
    return [
        Named(f"it stood on {names[i]}", here - others[i] + 0.0) for i in order[:most]
    ]
