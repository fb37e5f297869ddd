"""Many pairs of marks at once: relative covariances, distances, heights."""

from dataclasses import dataclass

import numpy as np

from ...networks.covariances import Floats, Ints
from ..adjustment import Adjustment


@dataclass(frozen=True, slots=True)
class Relative:
    """P pairs of marks, metres; NaN where a component is not estimated."""

    pairs: Ints
    """(P, 2) marks."""
    covariance: Floats
    """(P, 3, 3) of second minus first, east, north, up at the first, stated, m²."""
    distance: Floats
    """(P,) horizontal, at the mean height of the two."""
    azimuth: Floats
    """(P,) at the first, clockwise from north, rad."""


def relative(adjustment: Adjustment, pairs: Ints) -> Relative:
    """Return how well marks are placed against one another.

    Σ_ij = Σ_ii + Σ_jj − Σ_ij − Σ_ijᵀ, turned to the horizon of the first mark.

    Parameters
    ----------
    adjustment : Adjustment
    pairs : ndarray of int, shape (P, 2)
        Marks.
    """
    first, second = pairs[:, 0], pairs[:, 1]
    axes, xyz = adjustment.nodes.axes, adjustment.nodes.xyz
    estimated = adjustment.estimated
    turn = axes[first] @ np.swapaxes(axes[second], 1, 2)
    turned = np.swapaxes(turn, 1, 2)
    own = adjustment.covariance(first, first)
    cross = adjustment.covariance(first, second) @ turned
    other = turn @ adjustment.covariance(second, second) @ turned
    covariance = own + other - cross - np.swapaxes(cross, 1, 2)
    both = estimated[first] & estimated[second]
    covariance = np.where(both[:, :, None] & both[:, None, :], covariance, np.nan)
    line = np.einsum("pij,pj->pi", axes[first], xyz[second] - xyz[first])
    heights = adjustment.network.frame.heights(xyz[: len(estimated)])
    rise = heights[second] - heights[first]
    slope = np.linalg.norm(line, axis=1)
    distance = np.sqrt(np.maximum(slope**2 - rise**2, 0.0))
    azimuth = np.mod(np.arctan2(line[:, 0], line[:, 1]), 2 * np.pi)
    return Relative(pairs, covariance, distance, azimuth)


def variance_along(covariance: Floats, azimuth: Floats) -> Floats:
    """Return the variance of distances, (P,), m², from that of the plan.

    Parameters
    ----------
    covariance : ndarray, shape (P, 3, 3)
    azimuth : ndarray, shape (P,)
        Of the lines, rad.
    """
    along = np.stack([np.sin(azimuth), np.cos(azimuth)], axis=1)
    made: Floats = np.einsum("pi,pij,pj->p", along, covariance[:, :2, :2], along)
    return made
