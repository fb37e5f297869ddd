"""One plan for several estimates: of one network, or of networks alike in all but size.

A plan depends on who is joined to whom and on where the nodes are about, on no number
that was observed; any plan that knows all joined pairs gives the same result to
rounding.
"""

from collections.abc import Sequence

import numpy as np

from .adjustment import Adjustment
from .constraint import Constraint
from .elimination import Elimination
from .normal import Whitened
from .on_condition import BoundFactor
from .sparse.factor import SparseFactor


def shared_elimination(
    like: Adjustment | None, rows: Sequence[Whitened], bound: Constraint | None
) -> Elimination | None:
    """Return the elimination of an earlier estimate, if it serves for these rows.

    Parameters
    ----------
    like : Adjustment, optional
        The earlier estimate.
    rows : sequence of Whitened
        Of the estimate to be made; their columns say who is joined to whom.
    bound : Constraint, optional
        The azimuth that is held: it joins what it is held between, so that nothing
        is shared then.

    Returns
    -------
    Elimination or None
        None where the rows touch other unknowns, and where the earlier estimate was
        a dense one, which has no plan.
    """
    if like is None or bound is not None or isinstance(like.factor, BoundFactor):
        return None
    if not isinstance(like.factor, SparseFactor) or like.factor.border.size:
        return None
    alike = len(like.whitened) == len(rows) and all(
        one.kind == other.kind and np.array_equal(one.columns, other.columns)
        for one, other in zip(like.whitened, rows, strict=True)
    )
    if not alike:
        return None
    return Elimination(len(like.factor.scale), like.factor.plan)
