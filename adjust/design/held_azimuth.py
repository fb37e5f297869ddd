"""The azimuth that a minimal solution holds, as a block of a folded network."""

import numpy as np

from ..adjustment import Adjustment
from ..constraint import azimuth_constraint
from .block import Block
from .loosely_held import HELD_SD


def held_azimuth(adjustment: Adjustment) -> list[Block]:
    """Return the azimuth held between two known marks, so firmly that it does not turn.

    It is no observation and cannot be switched: the block names none. As it is never
    let go its standard deviation is a tenth of that of a held mark, over the line.

    Parameters
    ----------
    adjustment : Adjustment

    Returns
    -------
    list of Block
        One; none where no azimuth is held.
    """
    network, datum = adjustment.network, adjustment.datum
    columns = adjustment.columns
    bound = azimuth_constraint(network, datum, adjustment.nodes, columns)
    if bound is None or datum.azimuth is None:
        return []
    start, end = network.known.mark[list(datum.azimuth)]
    length = float(np.linalg.norm(np.subtract(*adjustment.nodes.xyz[[start, end]])))
    at = np.flatnonzero(bound.coefficients)
    return [
        Block(
            (),
            at,
            bound.coefficients[None, at],
            np.array([[(HELD_SD / 10 / length) ** 2]]),
            (),
            np.array([bound.value]),
        )
    ]
