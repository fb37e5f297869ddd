"""Heights above the geoid: ellipsoidal ones less the undulation, H = h − N."""

from dataclasses import dataclass

import numpy as np

from ...networks import Network
from ...networks.covariances import Floats, Ints, blocks
from ..above_geoid import (
    above_geoid_covariance,
    above_geoid_jointly,
    comparable_above_geoid,
)
from ..adjustment import Adjustment
from ..equations.undulations import common_part


@dataclass(frozen=True, slots=True)
class OrthometricHeights:
    """One row a mark, m; NaN where a height or an undulation is not known."""

    height: Floats
    """(m,) above the geoid."""
    undulation: Floats
    """(m,) geoid above the ellipsoid, as it came out."""
    sd: Floats
    """(m,) of the height, stated, with that of the undulation."""
    sd_undulation: Floats
    """(m,) that was stated for it; 0 where none was."""


def orthometric_heights(adjustment: Adjustment) -> OrthometricHeights | None:
    """Return the heights of all marks above the geoid; None where it is not known.

    Where a shift of the undulations was to be found and no weighted height above the
    geoid says what it is, all are NaN.

    Parameters
    ----------
    adjustment : Adjustment

    Returns
    -------
    OrthometricHeights or None
    """
    network, nodes = adjustment.network, adjustment.nodes
    undulations = network.undulations
    if undulations is None:
        return None
    marks = np.arange(len(network.marks))
    own = _own_parameter(network)
    value = np.where(own >= 0, np.append(nodes.values, 0.0)[own], undulations.value)
    value = value + common_part(network, nodes, marks)
    if not comparable_above_geoid(adjustment):
        value = np.full_like(value, np.nan)
    height = network.frame.heights(nodes.xyz[: len(marks)])
    height = np.where(adjustment.estimated[:, 2], height, np.nan)
    above = height - value
    variance = above_geoid_covariance(adjustment, marks, own)[:, 2, 2]
    fixed = np.where(own >= 0, 0.0, undulations.sd)
    variance = variance + _of_fixed(adjustment, fixed, variance)
    return OrthometricHeights(
        above,
        value,
        np.where(np.isfinite(above), np.sqrt(np.maximum(variance, 0.0)), np.nan),
        undulations.sd,
    )


def orthometric_covariance(adjustment: Adjustment, marks: Ints) -> Floats:
    """Return (3k, 3k) covariance of marks with each other, with heights H = h − N.

    Mark by mark east, north, height, m², stated. What an undulation that is no unknown
    adds is the mark's own; where it takes away, the mark's correlations stay.

    Parameters
    ----------
    adjustment : Adjustment
    marks : ndarray of int, shape (k,)
    """
    made = above_geoid_jointly(
        adjustment, marks, _own_parameter(adjustment.network)[marks]
    )
    heights = orthometric_heights(adjustment)
    if heights is None:
        return made
    up = 3 * np.arange(len(marks)) + 2
    wanted, has = heights.sd[marks] ** 2, made[up, up]
    with np.errstate(divide="ignore", invalid="ignore"):
        less = np.where((wanted < has) & (has > 0), np.sqrt(wanted / has), 1.0)
    made[up] *= less[:, None]
    made[:, up] *= less
    made[up, up] = wanted
    return made


def _own_parameter(network: Network) -> Ints:
    """Return (m,) the parameter of each mark's own undulation; −1 for none."""
    own = np.full(len(network.marks), -1)
    levels = network.levels
    if levels is not None:
        for ends, number in zip(
            (levels.start, levels.end), levels.parameter.T, strict=True
        ):
            there = levels.used & (number >= 0)
            own[network.mark_of(ends[there])] = number[there]
    return own


def _of_fixed(adjustment: Adjustment, sd: Floats, variance: Floats) -> Floats:
    """Return (m,) what an undulation that is no unknown adds to the variance, m².

    s² − 2 cov(h, N). A known height above the geoid came to the ellipsoid by the same
    undulation, whose variance s² is in its own, so that the mark's height varies with
    it: cov = variance·s² / (variance of the known height).
    """
    known = adjustment.network.known
    added: Floats = sd**2
    if known.orthometric is None:
        return added
    weighted = adjustment.datum.weighted[:, 2] & known.orthometric
    own = blocks(known.covariances, len(known), 3)[:, 2, 2]
    for row in np.flatnonzero(weighted & (own > 0)).tolist():
        mark = int(known.mark[row])
        added[mark] -= 2 * variance[mark] * sd[mark] ** 2 / own[row]
    return added
