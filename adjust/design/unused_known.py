"""Known coordinates that a solution does not use, as blocks to be switched on."""

from dataclasses import replace

import numpy as np

from ...networks.covariances import single
from ..adjustment import Adjustment
from ..equations import known_marks
from ..observed import dimension_mask, observed_components
from .block import Block
from .folded import block_of_rows
from .loosely_held import HELD_SD


def unused_known(adjustment: Adjustment) -> list[Block]:
    """Return known coordinates that are neither held nor weighted, a block each.

    Their covariance is that of a held mark; whether a better one is stated is for the
    network to say.

    Parameters
    ----------
    adjustment : Adjustment

    Returns
    -------
    list of Block
        Misclosures are known minus adjusted.
    """
    network, datum = adjustment.network, adjustment.datum
    known = network.known
    if not len(known):
        return []
    seen = dimension_mask(network) & observed_components(network)[known.mark]
    free = known.components & known.used[:, None] & seen
    free &= ~datum.held_rows & ~datum.weighted
    # What a solution hangs on is its origin, and no observation.
    free &= adjustment.columns[known.mark] >= 0
    firm = np.broadcast_to(HELD_SD**2 * np.eye(3), (len(known), 3, 3))
    loose = replace(known, covariances=single(firm.copy()))
    some = known_marks.equations(
        replace(network, known=loose),
        replace(datum, weighted=free, held_rows=np.zeros_like(free)),
        adjustment.nodes,
    )
    return [
        block_of_rows(adjustment, [some], [(0, edge)])
        for edge in np.flatnonzero(free.any(axis=1)).tolist()
    ]
