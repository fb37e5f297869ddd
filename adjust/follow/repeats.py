"""Shots taken again: repeats from another initialisation, and opposite leans."""

from dataclasses import dataclass

import numpy as np

from ...networks.covariances import Bools, Floats, Ints
from .differences import Differences, differences
from .hung import Hung, relative
from .initialisations import independent

OPPOSITE = np.radians(120.0)
"""Leans at least so far apart in azimuth are opposite: an error of the heading or of
the lean then goes the other way (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class Repeats:
    """Pairs of shots of one point, the later row first."""

    differences: Differences
    independent: Bools
    """(k,) whether the pair is two observations: another initialisation, and at
    least 20 minutes apart."""
    minutes: Floats
    """(k,) between them; NaN where no times are booked."""
    opposite: Bools
    """(k,) whether both lean, in opposite directions."""


def repeats(hung: Hung) -> Repeats:
    """Return every shot that takes another one again, tested.

    A pair of one initialisation has nothing of the initialisation in its difference:
    it checks the pole and the lean, so its verdict on the shot is ``unchecked`` unless
    the two lean opposite ways.

    Parameters
    ----------
    hung : Hung

    Returns
    -------
    Repeats
    """
    shots = hung.shots
    first = np.flatnonzero(shots.repeats >= 0)
    second = shots.repeats[first]
    apart = independent(shots, shots.group, first, second)
    turn = np.abs(shots.azimuth[first] - shots.azimuth[second])
    turn = np.minimum(turn, 2 * np.pi - turn)
    both = (shots.tilt[first] > 0) & (shots.tilt[second] > 0)
    opposite = both & (turn >= OPPOSITE)
    gap = (shots.start[first] - shots.start[second]) / np.timedelta64(1, "s") / 60
    value = shots.coordinates[first] - shots.coordinates[second]
    covariance = relative(hung, first, second)
    # Of one initialisation and near in time: only pole and lean differ for sure.
    covariance[~apart & ~opposite] = np.nan
    made = differences(first, second, value, covariance, hung.options)
    return Repeats(made, apart, np.abs(gap), opposite)


def checked_groups(hung: Hung, found: Repeats, checks: Ints) -> Bools:
    """Return (g,) whether something outside an initialisation checks it.

    A repeat that is another observation checks both initialisations; so does a check
    shot on control.

    Parameters
    ----------
    hung : Hung
    found : Repeats
    checks : ndarray of int
        Check shots that could be compared with their mark.
    """
    group = hung.shots.group
    made = np.zeros(len(group.names) + 1, dtype=bool)
    rows = found.differences
    told = found.independent & np.isfinite(rows.test)
    for ends in (rows.first, rows.second):
        made[group.number[ends[told]]] = True
    made[group.number[checks]] = True
    # The last stands for shots without an initialisation.
    return np.asarray(made[:-1])
