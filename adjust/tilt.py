"""How much of the geoid's tilt levels alone can say, where no benchmark is used."""

import numpy as np

from ..networks import Network
from ..networks.covariances import Bools, Floats, Ints

_FLAT = 1e-3
"""Share of the extent along, below which the extent across says nothing."""
_POINT = 1.0
"""m; marks nearer than this are at one place."""


def tilts_from_levels(network: Network, otherwise: Bools) -> Ints:
    """Return the numbers of the tilt parameters that levels in use can tell apart.

    Levels between marks whose ellipsoidal heights come from elsewhere see the tilt
    along their lines: none, one way, or both. Of marks in one line the tilt is along
    that parameter to which the line is nearer; what is across is taken as it starts,
    and no height depends on it.

    Parameters
    ----------
    network : Network
    otherwise : ndarray of bool, shape (m,)
        Marks whose height something else than levels observes.
    """
    undulations, levels = network.undulations, network.levels
    none = np.zeros(0, dtype=np.int64)
    if undulations is None or levels is None or undulations.common[1] < 0:
        return none
    tilts = np.array(undulations.common[1:], dtype=np.int64)
    if undulations.place is None:
        return tilts if levels.used.any() else none
    seen = _seen(network, undulations.place, otherwise)
    size = np.linalg.norm(seen, axis=0)
    if not size.max(initial=0.0) > _POINT:
        return none
    values = np.linalg.svd(seen, compute_uv=False)
    if len(seen) > 1 and values[1] > _FLAT * values[0]:
        return tilts
    return tilts[[int(size.argmax())]]


def _seen(network: Network, place: Floats, otherwise: Bools) -> Floats:
    """Return (k, 2) how far east and north of each other levelled marks are, m."""
    assert network.levels is not None
    levels = network.levels
    start, end = network.mark_of(levels.start), network.mark_of(levels.end)
    piece = np.arange(len(network.marks))
    for a, b in zip(
        start[levels.used].tolist(), end[levels.used].tolist(), strict=True
    ):
        piece[piece == piece[a]] = piece[b]
    known = otherwise & np.isfinite(place).all(axis=1)
    apart = [
        place[marks] - place[marks[0]]
        for number in np.unique(piece)
        if len(marks := np.flatnonzero((piece == number) & known)) > 1
    ]
    return np.concatenate(apart) if apart else np.zeros((0, 2))
