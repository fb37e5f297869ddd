"""The noise of set-ups folded into what is known of a shift."""

from collections.abc import Iterable

import numpy as np

from ...networks.covariances import Floats, Ints
from ..adjustment import Adjustment


def folded(own: Floats, noise: Iterable[tuple[Floats, Floats]]) -> Floats:
    """Return (own⁻¹ + Σ d u uᵀ)⁻¹ of n matrices, also where ``own`` is singular.

    One direction after another, by the rule of Sherman and Morrison.

    Parameters
    ----------
    own : ndarray, shape (p, p, n)
        Symmetric, in columns.
    noise : iterable of (ndarray of shape (p, n), ndarray of shape (n,))
        Directions u and variances d.

    Returns
    -------
    ndarray, shape (p, p, n)

    Examples
    --------
    1 / (1/4 + 0.25 · 1²), by hand 2.

    >>> folded(np.full((1, 1, 1), 4.0), [(np.ones((1, 1)), np.array([0.25]))]).item()
    2.0
    """
    made = own
    for way, variance in noise:
        along = np.einsum("ijn,jn->in", made, way)
        share = variance / (1 + variance * np.einsum("in,in->n", along, way))
        made = made - along[:, None] * (share * along)[None]
    return made


def noise_at(adjustment: Adjustment, nodes: Ints) -> Floats:
    """Return (3, k) the variances with which nodes stand for their marks.

    Parameters
    ----------
    adjustment : Adjustment
    nodes : ndarray of int, shape (k,)
        −1 for none; of it, of marks and of parameters zero.
    """
    set_ups, marks = adjustment.network.set_ups, len(adjustment.network.marks)
    stood = (nodes >= marks) & (nodes < marks + len(set_ups))
    made = np.zeros((3, len(nodes)))
    if stood.any():
        of = np.where(stood, nodes - marks, 0)
        made[:2] = np.where(stood, set_ups.sd_centring[of] ** 2, 0.0)
        made[2] = np.where(stood, set_ups.sd_height[of] ** 2, 0.0)
    return made
