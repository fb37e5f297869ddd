"""Where marks roughly are, for turning axes and looking up a geoid grid.

The estimate finds its own start. Here a few metres are enough, and a mark that
nothing places stays NaN.
"""

from dataclasses import dataclass

import numpy as np

from ....networks.covariances import Floats, Ints
from ....networks.frames import Frame
from ....networks.spanning import neighbours_of, rings


@dataclass(frozen=True, slots=True)
class Ties:
    """Vectors between marks, as they were booked."""

    start: Ints
    """(n,) mark; −1 where the row cannot be used."""
    end: Ints
    delta: Floats
    """(n, 3) m: cartesian, or east, north, up at the horizon of ``horizon``."""
    horizon: Ints
    """(n,) mark in whose horizon ``delta`` is; −1 = cartesian."""


def rough_positions(frame: Frame, seeds: list[Floats], ties: Ties) -> Floats:
    """Return (m, 3) rough cartesian positions, m; NaN where nothing leads.

    Parameters
    ----------
    frame : Frame
    seeds : list of ndarray, shape (m, 3)
        Positions by trust: known marks first, approximate ones last; each is carried
        on by the vectors before the next is looked at.
    ties : Ties
    """
    xyz = np.full_like(seeds[0], np.nan)
    for seed in seeds:
        fresh = np.isnan(xyz[:, 0]) & np.isfinite(seed).all(axis=1)
        xyz[fresh] = seed[fresh]
        carry(frame, xyz, ties)
    return xyz


def carry(frame: Frame, xyz: Floats, ties: Ties) -> None:
    """Carry positions along the vectors as far as they lead, in place."""
    while True:
        placed = np.flatnonzero(np.isfinite(xyz[:, 0]))
        rows, delta = _leading(frame, xyz, ties)
        neighbours = neighbours_of(len(xyz), ties.start[rows], ties.end[rows])
        reached = np.zeros(len(xyz), dtype=bool)
        for ring in rings(neighbours, placed, reached):
            step = delta[rows[ring.edge]]
            step = np.where(ring.forward[:, None], step, -step)
            xyz[ring.there] = xyz[ring.here] + step
        more = np.isfinite(xyz[:, 0]).sum() > len(placed)
        # A mark just placed may be the horizon of vectors that had to wait.
        if not (more and (ties.horizon >= 0).any()):
            return


def _leading(frame: Frame, xyz: Floats, ties: Ties) -> tuple[Ints, Floats]:
    """Return the vectors that can be followed, and all of them (n, 3), m."""
    delta = ties.delta.copy()
    level = np.flatnonzero(ties.horizon >= 0)
    delta[level] = np.nan
    ready = level[np.isfinite(xyz[ties.horizon[level], 0])]
    if len(ready):
        axes = frame.axes(xyz[ties.horizon[ready]])
        delta[ready] = np.einsum("nji,nj->ni", axes, ties.delta[ready])
    usable = (ties.start >= 0) & (ties.end >= 0) & np.isfinite(delta).all(axis=1)
    return np.flatnonzero(usable), delta
