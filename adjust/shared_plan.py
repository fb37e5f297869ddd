"""One plan for several estimates: of one network, or of networks alike in all but size.

A plan depends on who is joined to whom and on where the nodes are about, on no number
that was observed; any plan that knows all joined pairs gives the same result to
rounding.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ..networks.covariances import Ints
from .adjustment import Adjustment
from .constraint import Constraint
from .elimination import Elimination
from .normal import Whitened
from .sparse.factor import SparseFactor
from .sparse.plan import Plan


@dataclass(frozen=True, slots=True)
class Planned:
    """The plan of an earlier estimate, without its figures."""

    plan: Plan
    kinds: tuple[str, ...]
    """Of each batch of rows."""
    columns: tuple[Ints, ...]


def planned(like: Adjustment) -> Planned | None:
    """Return the plan of an estimate; None where it has none to share.

    A dense one has no plan; of one that holds an azimuth the plan joins what it is
    held between.

    Parameters
    ----------
    like : Adjustment
    """
    factor = like.factor
    if not isinstance(factor, SparseFactor) or factor.border.size:
        return None
    return Planned(
        factor.plan,
        tuple(batch.kind for batch in like.whitened),
        tuple(batch.columns for batch in like.whitened),
    )


def own_elimination(adjustment: Adjustment) -> Elimination | None:
    """Return how an estimate was eliminated; None where that is not to be shared.

    Parameters
    ----------
    adjustment : Adjustment
        For its own network alone, with the same datum.
    """
    factor = adjustment.factor
    if not isinstance(factor, SparseFactor) or factor.border.size:
        return None
    return Elimination(len(factor.plan.piece), factor.plan)


def shared_elimination(
    like: Planned | None, rows: Sequence[Whitened], bound: Constraint | None
) -> Elimination | None:
    """Return the elimination of an earlier estimate, if it serves for these rows.

    Parameters
    ----------
    like : Planned, optional
    rows : sequence of Whitened
        Of the estimate to be made; their columns say who is joined to whom.
    bound : Constraint, optional
        The azimuth that is held.

    Returns
    -------
    Elimination or None
        None where the rows touch other unknowns, or an azimuth is held.
    """
    if like is None or bound is not None:
        return None
    if like.kinds != tuple(batch.kind for batch in rows):
        return None
    same = map(np.array_equal, like.columns, (batch.columns for batch in rows))
    return Elimination(len(like.plan.piece), like.plan) if all(same) else None
