"""A factor of which the large tables are let go, and made again if they are asked for.

Covariances on the pattern and the condition are kept: all that most solutions are
asked for once they are judged.
"""

from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import TypeVar, overload

from .factor import SparseFactor, eliminated_fronts
from .layout import Layout
from .pattern import Pattern
from .stacks import Stack, stacks

T = TypeVar("T")


class Remade(Sequence[T]):
    """A sequence that is made when it is first looked at."""

    def __init__(self, make: Callable[[], Sequence[T]]) -> None:
        self._make = make
        self._made: Sequence[T] | None = None

    @property
    def whole(self) -> Sequence[T]:
        """The sequence, made."""
        if self._made is None:
            self._made = self._make()
        return self._made

    def __len__(self) -> int:
        return len(self.whole)

    @overload
    def __getitem__(self, at: int) -> T: ...
    @overload
    def __getitem__(self, at: slice) -> Sequence[T]: ...
    def __getitem__(self, at: int | slice) -> T | Sequence[T]:
        return self.whole[at]


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
    plan = replace(factor.plan, stacks=tables, known={})
    fronts = Remade(lambda: eliminated_fronts(plan, normal.values, False)[0])
    made = SparseFactor(plan, normal, fronts, factor.border, factor.scale)
    vars(made).update(inverse=inverse, reciprocal_condition=condition)
    return made


def _tables(layout: Layout, pattern: Pattern) -> tuple[Stack, ...]:
    return stacks(layout, pattern)
