"""What the unknowns take of observations, cluster by cluster: A Q Aᵀ in parts.

Parts are small enough to stay in the cache of a processor, and bound the memory.
"""

from collections.abc import Iterator

import numpy as np

from ...networks.covariances import Bools, Floats
from ..adjustment import Adjustment
from ..normal import Whitened, chosen

_VALUES = 1 << 19
"""Covariances that are read together: 4 MB."""


def parts(batch: Whitened) -> Iterator[tuple[int, Whitened]]:
    """Yield a batch in parts whose covariances are read together, and their starts."""
    clusters, width = batch.columns.shape
    step = max(1, _VALUES // max(width, 1) ** 2)
    for start in range(0, clusters, step):
        some = slice(start, start + step)
        yield (
            start,
            Whitened(
                batch.kind,
                batch.members[some],
                batch.lower[some],
                batch.design[some],
                batch.misclosure[some],
                batch.columns[some],
            ),
        )


def hats(
    adjustment: Adjustment, batch: Whitened, present: Bools, place: tuple[int, int]
) -> Floats:
    """Return A Q Aᵀ of a part in whitened rows, (c, q, q).

    Parameters
    ----------
    adjustment : Adjustment
    batch : Whitened
        A part.
    present : ndarray of bool, shape (w,)
        Which local unknowns the whole batch has.
    place : tuple of int
        Number of the batch in the adjustment, and where in it the part starts.
    """
    columns = chosen(batch.columns, present)
    design = np.ascontiguousarray(chosen(batch.design, present))
    local = np.ascontiguousarray(adjustment.factor.cliques(columns, place))
    return np.asarray(design @ local @ np.swapaxes(design, 1, 2))
