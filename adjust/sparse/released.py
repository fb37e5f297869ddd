"""A factor of which the large tables are let go, and made again if they are asked for.

Covariances on the pattern and the condition are kept: all that most solutions are
asked for once they are judged.
"""

from ..remade import Remade
from .elimination import eliminated_fronts
from .factor import SparseFactor


def released(factor: SparseFactor) -> SparseFactor:
    """Return the same factor without its large tables.

    Parameters
    ----------
    factor : SparseFactor
        Of a whole network: nothing was kept.

    Returns
    -------
    SparseFactor
        What it is asked to solve it first factors again, to the same bytes.
    """
    # In this order: a large factor is let go as the inverse is formed.
    condition, inverse = factor.reciprocal_condition, factor.inverse
    plan, normal = factor.plan, factor.normal
    plan.forget_tables()
    fronts = Remade(lambda: eliminated_fronts(plan, normal.values, False)[0])
    made = SparseFactor(plan, normal, fronts, factor.border, factor.scale)
    vars(made).update(inverse=inverse, reciprocal_condition=condition)
    return made
