"""The two faces of a pointing: reduced to the first, and meaned.

Face 2 reads 180° more on the horizontal circle and 360° less the zenith angle on the
vertical one. The mean of both faces is free of collimation and index error and is
one observation, worth what is stated for the mean of two faces; a pointing in one
face is taken as stated. Rounds stay apart, each with its own orientation.
A re-reading of the reference direction is a check of the round and no observation:
it is compared with the pointing that it repeats, and adds no degree of freedom.
"""

from collections import defaultdict
from dataclasses import dataclass

import numpy as np

from ....networks.covariances import Bools, Floats, Ints
from ..table import Table

_FACE = {"1": 1, "left": 1, "2": 2, "right": 2}
QUANTITIES = ("direction", "zenith", "slope_distance", "horizontal_distance")


@dataclass(frozen=True, slots=True)
class Faces:
    """The circle readings of total_station.csv, reduced to face 1."""

    booked: Ints
    """(n,) 1, 2, or 0 where the face is not booked."""
    read: Ints
    """(n,) the face that the vertical circle shows, else the one booked."""
    direction: Floats
    """(n,) rad, in [0, 2π)."""
    zenith: Floats
    """(n,) rad, in [0, π]."""
    partner: Ints
    """(n,) for a row in face 1 its row in face 2; −1 for none."""


def reduced_faces(table: Table, set_up_row: Ints, to: Ints, usable: Bools) -> Faces:
    """Return the circle readings in face 1, and which rows are the two faces of one.

    Parameters
    ----------
    table : Table
        total_station.
    set_up_row : ndarray of int, shape (n,)
        The instrument's row of set_ups.csv.
    to : ndarray of int, shape (n,)
        Node of the target.
    usable : ndarray of bool, shape (n,)
        Rows that may be meaned: in use, with both ends known.
    """
    words = table.word("face")
    booked = np.array([_FACE.get(str(face), 0) for face in words], dtype=np.int64)
    booked = booked.reshape(len(table))
    zenith = table.number("zenith")
    # Past the nadir the vertical circle can only be in face 2.
    shown = np.where(zenith > np.pi, 2, np.where(np.isnan(zenith), 0, 1))
    read = np.where(shown > 0, shown, booked)
    # A face 2 booked without its zenith angle past the nadir stays as it is booked.
    second = read == 2
    direction = table.number("direction") - np.where(second, np.pi, 0.0)
    reduced = np.where(zenith > np.pi, 2 * np.pi - zenith, zenith)
    return Faces(
        booked,
        read,
        np.mod(direction, 2 * np.pi),
        reduced,
        _partners(table, set_up_row, to, read, booked, usable),
    )


def _partners(
    table: Table, set_up: Ints, to: Ints, read: Ints, booked: Ints, usable: Bools
) -> Ints:
    """Return for each row in face 1 the row in face 2 of the same round and target."""
    waiting: dict[tuple[object, ...], list[int]] = defaultdict(list)
    partner = np.full(len(table), -1, dtype=np.int64)
    rounds, again = table.word("round"), table.has("re_reading")
    pairable = usable & ((booked > 0) | (read == 2)) & ~again
    for i in np.flatnonzero(pairable & (read == 2)).tolist():
        waiting[int(set_up[i]), rounds[i], int(to[i])].append(i)
    if not waiting:
        return partner
    for i in np.flatnonzero(usable & (read != 2) & ~again).tolist():
        others = waiting.get((int(set_up[i]), rounds[i], int(to[i])))
        if others:
            partner[i] = others.pop(0)
    return partner


def meaned(
    faces: Faces, values: Floats, out: Bools | None = None, *, circle: bool = False
) -> tuple[Floats, Ints]:
    """Return the mean of the two faces, and the row of face 2 that went into it.

    Parameters
    ----------
    faces : Faces
    values : ndarray, shape (n,)
        Reduced to face 1; NaN where nothing was read.
    out : ndarray of bool, shape (n,), optional
        Readings that a decision leaves out; one of two is not meaned.
    circle : bool, optional
        Whether values start again after 2π.

    Returns
    -------
    values : ndarray, shape (n,)
        NaN in rows of face 2 that went into the mean of their partners.
    second : ndarray of int, shape (n,)
        Row of face 2; −1 for a value of one row.
    """
    result = values.copy()
    second = np.full(len(values), -1, dtype=np.int64)
    first = np.flatnonzero(faces.partner >= 0)
    other = faces.partner[first]
    both = np.isfinite(values[first]) & np.isfinite(values[other])
    if out is not None:
        both &= out[first] == out[other]
    first, other = first[both], other[both]
    gap = values[other] - values[first]
    if circle:
        gap = wrapped(gap)
    result[first] = values[first] + gap / 2
    if circle:
        result[first] = np.mod(result[first], 2 * np.pi)
    result[other] = np.nan
    second[first] = other
    return result, second


def wrapped(angle: Floats) -> Floats:
    """Return angles between −π and π.

    Examples
    --------
    >>> round(float(wrapped(np.array([6.28]))[0]), 4)
    -0.0032
    """
    return np.asarray(np.mod(angle + np.pi, 2 * np.pi) - np.pi)
