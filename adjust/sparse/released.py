"""A factor of which the large tables are let go, and made again if they are asked for.

Covariances on the pattern and the condition are kept: all that most solutions are
asked for once they are judged.
"""

from dataclasses import replace

from ..remade import Remade
from .factor import SparseFactor, eliminated_fronts
from .layout import Layout
from .pattern import Pattern
from .stacks import Stack, stacks


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
    normal, inverse = factor.normal, factor.inverse
    condition = factor.reciprocal_condition
    layout, pattern = factor.plan.layout, factor.plan.pattern
    tables = Remade(lambda: _tables(layout, pattern))
    plan = replace(factor.plan, stacks=tables)
    fronts = Remade(lambda: eliminated_fronts(plan, normal.values, False)[0])
    made = SparseFactor(plan, normal, fronts, factor.border, factor.scale)
    vars(made).update(inverse=inverse, reciprocal_condition=condition)
    return made


def _tables(layout: Layout, pattern: Pattern) -> tuple[Stack, ...]:
    return stacks(layout, pattern)
