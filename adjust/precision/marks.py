"""How well each mark is placed."""

from dataclasses import dataclass

import numpy as np

from ...networks.covariances import Bools, Floats
from ..adjustment import Adjustment
from .ellipses import Multipliers, circle_exact, ellipse, multipliers


@dataclass(frozen=True, slots=True)
class MarkPrecision:
    """One row a mark, m and radians; NaN where a component is not estimated."""

    xyz: Floats
    """(m, 3) adjusted cartesian position."""
    covariance: Floats
    """(m, 3, 3) east, north, up, stated, m²; zero where held."""
    semi_major: Floats
    """(m,) of the ellipse at the stated confidence."""
    semi_minor: Floats
    azimuth: Floats
    """Of the major axis, clockwise from north."""
    height_limit: Floats
    """(m,) ± of the height at the stated confidence."""
    circle: Floats
    """(m,) radius of the circle at the stated confidence."""
    multipliers: Multipliers
    estimated: Bools
    """(m, 3)"""


def mark_precision(adjustment: Adjustment) -> MarkPrecision:
    """Return ellipses, heights and circles of all marks.

    Relative to the datum of the solution: to the held mark in a minimal one.

    Parameters
    ----------
    adjustment : Adjustment

    Returns
    -------
    MarkPrecision
        A row a mark; lengths in m.
    """
    network = adjustment.network
    marks = np.arange(len(network.marks))
    covariance = adjustment.covariance(marks, marks)
    estimated = adjustment.estimated
    known = estimated[:, :, None] & estimated[:, None, :]
    covariance = np.where(known, covariance, np.nan)
    scale = multipliers(
        network.options, adjustment.s0_sq, adjustment.degrees_of_freedom
    )
    major, minor, azimuth = ellipse(covariance[:, :2, :2])
    standard = np.sqrt(scale.ellipse**2 / -2 / np.log(1 - scale.confidence))
    circle = circle_exact(major * standard, minor * standard, scale.confidence)
    return MarkPrecision(
        np.where(
            estimated.any(axis=1, keepdims=True), adjustment.nodes.xyz[marks], np.nan
        ),
        covariance,
        scale.ellipse * major,
        scale.ellipse * minor,
        azimuth,
        scale.height * np.sqrt(covariance[:, 2, 2]),
        circle,
        scale,
        estimated,
    )
