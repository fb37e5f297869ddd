"""The orthometric correction of levelled runs, which adjusting neglects.

Level surfaces draw together towards the pole, so that a levelled difference depends on
the way. In normal gravity a run needs OC = −0.0053 · H · sin 2φ · Δφ added, H its mean
height and Δφ its way north in radians (Heiskanen and Moritz, Physical Geodesy, 1967,
chapter 4; from memory: 0.0053 is the gravity flattening 0.005302 of GRS 80).
"""

from dataclasses import dataclass

import numpy as np

from ...networks import GeodeticFrame
from ...networks.covariances import Floats, Ints
from ..adjustment import Adjustment

FLATTENING = 0.0053
"""Of gravity, between equator and pole."""


@dataclass(frozen=True, slots=True)
class Neglected:
    """What levelled runs in use would be corrected by."""

    run: Ints
    """(n,) rows of the levels."""
    correction: Floats
    """(n,) m, to be added to the booked rise."""
    sd: Floats
    """(n,) stated, of each run, m."""
    between: float
    """Largest sum between two marks that runs join, m."""


def orthometric_correction(height: Floats, latitude: Floats, north: Floats) -> Floats:
    """Return the orthometric correction of levelled runs, m.

    Parameters
    ----------
    height : ndarray
        Mean height of each run, m.
    latitude : ndarray
        Its middle latitude, rad.
    north : ndarray
        Latitude of its end minus that of its start, rad.

    Returns
    -------
    ndarray
        To be added to the booked rise.

    Examples
    --------
    1000 m high, one minute of arc northwards at 45°: −0.0053 · 1000 · 0.00029089.

    >>> value = orthometric_correction(
    ...     np.array([1000.0]), np.array([np.pi / 4]), np.radians([1 / 60]))
    >>> float(value[0].round(5))
    -0.00154
    """
    return np.asarray(-FLATTENING * height * np.sin(2 * latitude) * north)


def neglected_corrections(adjustment: Adjustment) -> Neglected | None:
    """Return what levelled runs would be corrected by, at the adjusted positions.

    Parameters
    ----------
    adjustment : Adjustment

    Returns
    -------
    Neglected or None
        None where no run is between marks whose place on the earth is known.
    """
    network = adjustment.network
    frame, levels = network.frame, network.levels
    if levels is None or not isinstance(frame, GeodeticFrame):
        return None
    ends = np.stack([network.mark_of(levels.start), network.mark_of(levels.end)])
    booked = np.isfinite(network.marks.approximate).all(axis=1)
    placed = np.asarray(adjustment.estimated[:, :2].all(axis=1) | booked)
    run = np.flatnonzero(levels.used & placed[ends].all(axis=0))
    if not len(run):
        return None
    xyz = adjustment.nodes.xyz[: len(network.marks)]
    latitude = np.radians(frame.geodetic(xyz)[:, 0])
    # An unknown undulation is some tens of metres, which do not show here.
    undulation = np.stack([levels.start_undulation, levels.end_undulation])
    height = frame.heights(xyz)[ends] - np.nan_to_num(undulation)
    start, end = latitude[ends[0]], latitude[ends[1]]
    correction = orthometric_correction(
        height.mean(axis=0), (start + end) / 2, end - start
    )
    spread = _largest_sum(ends[:, run], correction[run], len(network.marks))
    return Neglected(run, correction[run], levels.sd[run], spread)


def _largest_sum(ends: Ints, correction: Floats, marks: int) -> float:
    """Return the largest difference of the summed corrections between joined marks."""
    import networkx as nx

    graph = nx.Graph()
    for a, b, size in zip(*ends.tolist(), correction.tolist(), strict=True):
        graph.add_edge(a, b, start=a, by=size)
    most = 0.0
    for part in nx.connected_components(graph):
        root = min(part)
        sums = {root: 0.0}
        for a, b in nx.bfs_edges(graph, root):
            edge = graph.edges[a, b]
            sums[b] = sums[a] + (edge["by"] if edge["start"] == a else -edge["by"])
        most = max(most, max(sums.values()) - min(sums.values()))
    return most
