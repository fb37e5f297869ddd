"""Of very many marks those that a map draws: one of each square."""

from typing import NamedTuple

import numpy as np

from ..networks.covariances import Floats, Ints

SQUARES = 20
"""Along the longer side of a map, which is some 660 pixels long."""


class Thinned(NamedTuple):
    """The marks that are drawn, and which of them stands for each."""

    drawn: Ints
    """(k,) marks, in their order."""
    place: Ints
    """(m,) place in ``drawn`` of the mark that stands for each; −1 for none."""
    side: float
    """Of a square, m."""


def thinned(places: Floats, weight: Floats) -> Thinned:
    """Return the mark of the largest weight of every square.

    Parameters
    ----------
    places : ndarray, shape (m, 2)
        East and north, m; NaN where a mark has no place.
    weight : ndarray, shape (m,)

    Examples
    --------
    >>> places = np.array([[0.0, 0], [1, 1], [200, 0], [np.nan, 0]])
    >>> thin = thinned(places, np.array([1.0, 2, 1, 9]))
    >>> thin.drawn.tolist(), thin.place.tolist(), thin.side
    ([1, 2], [0, 0, 1, -1], 10.0)
    """
    place = np.full(len(places), -1)
    rows = np.flatnonzero(np.isfinite(places).all(axis=1))
    if not len(rows):
        return Thinned(rows, place, 0.0)
    corner = places[rows].min(axis=0)
    side = float(max(np.ptp(places[rows], axis=0).max(), 1e-3)) / SQUARES
    square = np.floor((places[rows] - corner) / side).astype(np.int64)
    number = square[:, 0] * (SQUARES + 1) + square[:, 1]
    order = np.lexsort((-weight[rows], number))
    first = np.ones(len(order), dtype=bool)
    first[1:] = number[order][1:] != number[order][:-1]
    stands = rows[order[first]][np.cumsum(first) - 1]
    drawn, of_each = np.unique(stands, return_inverse=True)
    place[rows[order]] = of_each
    return Thinned(drawn, place, side)
