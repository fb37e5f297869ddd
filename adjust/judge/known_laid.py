"""What known coordinates lend to the difference between themselves and a survey."""

import numpy as np

from ...networks.covariances import Covariances, Floats, blocks
from ..adjustment import Adjustment
from ..free import freedoms, known_components
from ..observed import observed_components


def known_share(adjustment: Adjustment) -> Floats:
    """Return the part of the covariance of known minus survey that is the control's.

    A survey that hangs on nothing has freedoms G (shift, turn, size): x and x + G t
    fit it equally well. Known coordinates k choose t. A free network is laid on
    those chosen by B with least squares, t = (GᵀBG)⁻¹GᵀB (k − x); a minimal one
    meets the held ones H exactly, t = (HG)⁻¹H (k − x). With t = A (k − x) and
    P = G A the difference is

        d = k − x − G t = (I − P) (k − x),

    and with K the covariance of k and Q that of any minimal x

        cov d = (I − P) K (I − P)ᵀ + (I − P) Q (I − P)ᵀ.

    The second term is the covariance of the survey laid there, which the adjustment
    gives. The first is returned here: a mark that helps to lay the network pulls it
    towards itself, so that less than its own K is left in d (with two equal
    benchmarks half of it); and one that does not help carries, beside its own K, that
    of the marks which do. Derived here; S-transformation after Baarda (1973, from
    memory).

    Parameters
    ----------
    adjustment : Adjustment
        Constrained: held marks are exact and weighted ones are in the adjustment's own
        covariance, so that K itself is returned.

    Returns
    -------
    ndarray, shape (n, 3, 3)
        Of each known row, east, north, up, stated, m²; a covariance that is not stated
        counts as 0.
    """
    known = adjustment.network.known
    own = np.nan_to_num(blocks(known.covariances, len(known), 3))
    if adjustment.datum.mode == "constrained" or not len(known):
        return own
    ways = freedoms(adjustment.network, adjustment.nodes)[known.mark]
    taken = _laying(adjustment, ways)
    shared = _times(known.covariances, np.swapaxes(taken, 1, 2))
    laid = np.einsum("ndi,nie->de", taken, shared)
    cross = shared @ np.swapaxes(ways, 1, 2)
    return np.asarray(
        own - cross - np.swapaxes(cross, 1, 2) + ways @ laid @ np.swapaxes(ways, 1, 2)
    )


def _laying(adjustment: Adjustment, ways: Floats) -> Floats:
    """Return A, (n, d, 3): how each known row moves the freedoms t."""
    if adjustment.inner is None:
        return _meeting(adjustment, ways)
    network = adjustment.network
    here = known_components(network)
    here &= observed_components(network)[network.known.mark]
    names = set(adjustment.inner.over)
    here &= np.array([[network.marks.name[m] in names] for m in network.known.mark])
    # Of several rows of one mark the last one lays it.
    last = np.full((len(network.marks), 3), -1)
    for row in range(len(here)):
        last[network.known.mark[row], here[row]] = row
    here &= last[network.known.mark] == np.arange(len(here))[:, None]
    chosen = ways * here[:, :, None]
    normal = np.einsum("nid,nie->de", chosen, chosen)
    return np.asarray(np.linalg.pinv(normal) @ np.swapaxes(chosen, 1, 2))


def _meeting(adjustment: Adjustment, ways: Floats) -> Floats:
    """Return A of a minimal solution: the held coordinates, and an azimuth, are met."""
    datum, known = adjustment.datum, adjustment.network.known
    row, axis = np.nonzero(datum.held_rows)
    count = len(row) + (datum.azimuth is not None)
    met = np.zeros((count, len(known), 3))
    met[np.arange(len(row)), row, axis] = 1.0
    if datum.azimuth is not None:
        start, end = datum.azimuth
        across = _across(adjustment, start, end)
        met[-1, start], met[-1, end] = -across, across
    solved = np.linalg.pinv(np.einsum("cni,nid->cd", met, ways))
    return np.asarray(np.einsum("dc,cni->ndi", solved, met))


def _across(adjustment: Adjustment, start: int, end: int) -> Floats:
    """Return the unit vector east, north, up across the line between two rows."""
    marks = adjustment.network.known.mark[[start, end]]
    xyz = adjustment.nodes.xyz[marks]
    east, north, _ = adjustment.nodes.axes[marks[0]] @ (xyz[1] - xyz[0])
    return np.asarray(np.array([north, -east, 0.0]) / np.hypot(east, north))


def _times(covariances: Covariances, right: Floats) -> Floats:
    """Return K R, (n, 3, d), of a covariance in clusters and R (n, 3, d)."""
    made = np.zeros_like(right)
    for batch in covariances:
        clusters, size = batch.members.shape
        inside = right[batch.members].reshape(clusters, size * 3, -1)
        product = np.nan_to_num(batch.matrix) @ inside
        made[batch.members] = product.reshape(clusters, size, 3, -1)
    return made
