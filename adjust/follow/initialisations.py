"""Shots by initialisation: what hangs on one fixing of the ambiguities fails as one."""

from dataclasses import dataclass

import numpy as np

from ...networks.covariances import Ints
from ...networks.shots import Labels, Shots

APART = np.timedelta64(20, "m")
"""A repeat sooner than this is the same observation: the errors of real-time work are
correlated over 17 min in plan and 37 min in height (Odolinski 2012, GPS Solutions)."""


@dataclass(frozen=True, slots=True)
class LineUse:
    """On how many initialisations each line of shots hangs."""

    name: tuple[str, ...]
    shots: Ints
    initialisations: Ints
    """0 where none is booked."""
    first_row: Ints
    """(l,) first shot of the line."""


def lines_use(shots: Shots, group: Labels) -> LineUse:
    """Return every line of two shots or more, and its initialisations.

    Parameters
    ----------
    shots : Shots
    group : Labels
        Initialisation of each shot.
    """
    line = shots.line.number
    rows = np.flatnonzero(line >= 0)
    count = np.bincount(line[rows], minlength=len(shots.line.names))
    pairs = np.unique(np.stack([line[rows], group.number[rows]], axis=1), axis=0)
    booked = pairs[pairs[:, 1] >= 0, 0]
    inits = np.bincount(booked, minlength=len(shots.line.names))
    first = np.full(len(shots.line.names), -1, dtype=np.int64)
    first[line[rows[::-1]]] = rows[::-1]
    more = np.flatnonzero(count >= 2)
    return LineUse(
        tuple(shots.line.names[k] for k in more),
        count[more],
        inits[more],
        first[more],
    )


def independent(shots: Shots, group: Labels, first: Ints, second: Ints) -> np.ndarray:
    """Return whether two shots are two observations, (k,) bool.

    They come from two initialisations, or from two sources, and at least 20 minutes
    apart where both times are booked. Where no initialisation is booked for one of
    them, an hour between them stands for it.
    """
    number = group.number
    known = (number[first] >= 0) & (number[second] >= 0)
    gap = np.abs(shots.start[first] - shots.start[second])
    # A comparison with a time that is not booked is false.
    soon, late = gap < APART, gap >= np.timedelta64(60, "m")
    other = (shots.base[first] != shots.base[second]) | (
        shots.service.number[first] != shots.service.number[second]
    )
    apart = np.where(known, number[first] != number[second], other | late)
    return np.asarray(apart & ~soon)
