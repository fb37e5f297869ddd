"""The factor of a network whose parts are held by workers: what is asked of it."""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np

from ...networks.covariances import Floats, Ints
from ..sparse.condition import norm_of_inverse
from ..sparse.filling import fill_by_solving
from . import tasks
from .covariances import Covariances
from .passes import Passes, Tickets

_COLUMNS = 64
"""Right sides solved at once."""


@dataclass(frozen=True)
class PartedFactor:
    """Covariances that the domains left, and solutions by those who hold them."""

    passes: Passes
    stages: Tickets
    separators: Tickets
    unknowns: Mapping[int, Ints]
    """Of each domain, by its place."""
    count: int
    covariances: Covariances
    """On pairs of unknowns that some domain has."""

    @cached_property
    def reciprocal_condition(self) -> float:
        """Of the matrix scaled to unit diagonal, in the 1-norm; an estimate.

        Where two domains observe the same pair of marks the norm is that of their
        absolute values, so that the condition may be taken for slightly worse.
        """
        diagonal = self._added(self.passes.each(tasks.diagonal, self.stages))
        scale = 1 / np.sqrt(np.where(diagonal > 0, diagonal, 1.0))
        sums = {
            leaf: self.passes.submit(
                leaf, tasks.sums, stage, scale[self.unknowns[leaf]]
            )
            for leaf, stage in self.stages.items()
        }
        norm = float(self._added(sums).max(initial=0.0))
        inverse = norm_of_inverse(lambda b: self.solve(b / scale) / scale, self.count)
        return 1 / (norm * inverse) if norm * inverse else 1.0

    def _added(self, tickets: Mapping[int, Any]) -> Floats:
        total = np.zeros(self.count)
        for sides in self.passes.gather(tickets).values():
            total[sides.columns] += sides.values[:, 0]
        return total

    def solve(self, right_side: Floats) -> Floats:
        """Return N⁻¹b, (u,) or (u, k)."""
        wide = right_side if right_side.ndim == 2 else right_side[:, None]
        made = np.empty(wide.shape)
        for first in range(0, wide.shape[1], _COLUMNS):
            some = slice(first, first + _COLUMNS)
            made[:, some] = self._solved(wide[:, some])
        return made.reshape(right_side.shape)

    def _solved(self, right: Floats) -> Floats:
        passes, tree = self.passes, self.passes.tree
        inside = np.where((tree.owner < 0)[:, None], right, 0.0)
        given = {leaf: inside[some] for leaf, some in self.unknowns.items()}
        sides = {
            leaf: passes.submit(leaf, tasks.reduced, stage, given[leaf])
            for leaf, stage in self.stages.items()
        }
        own = {place: right[tree.own(place)] for place in tree.separators()}
        down = passes.solved(self.separators, sides, own)
        found = passes.gather(
            {
                leaf: passes.submit(
                    leaf, tasks.completed, stage, given[leaf], down[leaf // 2]
                )
                for leaf, stage in self.stages.items()
            }
        )
        made = np.zeros(right.shape)
        for leaf, values in found.items():
            made[self.unknowns[leaf]] = values
        return made

    def cliques(self, columns: Ints, place: tuple[int, int]) -> Floats:
        """Return covariances, (c, w, w), of what each cluster of a batch has."""
        return self.blocks(columns, columns)

    def blocks(self, first: Ints, second: Ints) -> Floats:
        """Return covariance blocks between columns, (…, p, q); −1 gives 0.

        Pairs that some domain has are looked up; others are solved for.
        """
        shape = np.broadcast_shapes(first.shape[:-1], second.shape[:-1])
        rows = np.broadcast_to(first, (*shape, first.shape[-1]))
        columns = np.broadcast_to(second, (*shape, second.shape[-1]))
        rows = rows.reshape(-1, rows.shape[-1]).T
        columns = columns.reshape(-1, columns.shape[-1]).T
        a, b = np.broadcast_arrays(rows[:, None], columns[None, :])
        there = (a >= 0) & (b >= 0)
        made, missing = np.zeros(a.shape), np.zeros(a.shape, dtype=bool)
        made[there], known = self.covariances.find(a[there], b[there])
        missing[there] = ~known
        fill_by_solving(self.solve, self.count, made, missing, rows, columns)
        return np.moveaxis(made, -1, 0).reshape((*shape, len(rows), len(columns)))
