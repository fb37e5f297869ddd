"""One step of the iteration of small networks side by side."""

from itertools import pairwise
from typing import NamedTuple

import numpy as np

from ..networks.covariances import Bools, Floats
from . import dense
from .abreast import Open, Rows
from .constraint import Constraint, azimuth_constraint
from .estimate import HALVINGS, SMALL
from .moves import bends
from .normal import right_side
from .parted import columns_of, nodes_of


class Stepped(NamedTuple):
    """What one step made of each network."""

    after: Open
    factors: list[dense.DenseFactor | None]
    first: Floats
    """(k,) m or rad; the largest move of the step."""
    left: Floats
    """(k,) m or rad; what the second solution still moved; inf where there is none."""

    def factors_of(self, some: Bools) -> list[dense.DenseFactor]:
        """Return the factors of networks that came to a solution."""
        chosen = zip(self.factors, some.tolist(), strict=True)
        return [factor for factor, which in chosen if which and factor is not None]


def step_of(here: Open) -> Stepped:
    """Solve once, move, and solve again with the same factors, as ``estimate`` does."""
    rows, bounds = here.rows(), _bounds(here)
    matrices = rows.matrices(here.first)
    factors = [_factor(m, b) for m, b in zip(matrices, bounds, strict=True)]
    sizes = []
    for last in (False, True):
        pull = right_side(rows.batches, int(here.first[-1]))
        shift = np.zeros(len(pull))
        lost = np.zeros(len(factors), dtype=bool)
        for k, (low, high) in enumerate(pairwise(here.first.tolist())):
            factor, bound, mine = factors[k], bounds[k], pull[low:high]
            if factor is None or not np.isfinite(mine).all():
                lost[k] = True
            elif bound is None:
                shift[low:high] = factor.solve(mine)
            else:
                start = bound.particular()
                shift[low:high] = start + factor.solve(mine - matrices[k] @ start)
        size = np.maximum.reduceat(np.abs(shift), here.first[:-1])
        sizes.append(np.where(lost, np.inf, size))
        here, rows = _down(here, rows, shift, last)
        if not last:
            bounds = _bounds(here)
    return Stepped(here, factors, *sizes)


def _bounds(here: Open) -> list[Constraint | None]:
    """Return the azimuth that each network holds, if it holds one."""
    if not any(hold.azimuth for hold in here.group.holds):
        return [None] * len(here.group.holds)
    each = zip(
        here.group.networks,
        here.group.holds,
        nodes_of(here.whole, here.nodes),
        columns_of(here.whole, here.columns, here.first),
        strict=True,
    )
    return [azimuth_constraint(*one) for one in each]


def _factor(matrix: Floats, bound: Constraint | None) -> dense.DenseFactor | None:
    """Return the factor of one network; None where something is left free."""
    if not np.isfinite(matrix).all():
        return None
    try:
        return dense.factor(matrix, bound.basis() if bound else None)
    except dense.Singular:
        return None


def _down(here: Open, rows: Rows, shift: Floats, last: bool) -> tuple[Open, Rows]:
    """Move, each network by as much of its shift as makes its misfit smaller."""
    before, counts = rows.square_sums(), np.diff(here.first)
    for _ in range(HALVINGS):
        there = here.moved(shift)
        size = np.maximum.reduceat(np.abs(shift), here.first[:-1])
        plain = size < SMALL
        if not bends(here.whole.network):
            plain[:] = True
        if last and plain.all():
            break
        rows = there.rows()
        worse = ~plain & ~(rows.square_sums() <= before)
        if not worse.any():
            break
        shift = np.where(np.repeat(worse, counts), shift / 2, shift)
    return there, rows
