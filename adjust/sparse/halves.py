"""Half a solution: L⁻¹g of columns that few unknowns have, and what these say.

A column goes up one path of the tree, from its unknowns to the root: only the fronts
there are worked on, and gᵀN⁻¹g' = (L⁻¹g)ᵀ(L⁻¹g') needs no way down. T. A. Davis,
"Direct Methods for Sparse Linear Systems" (2006), section 3.2, from memory.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy import sparse

from ...networks.covariances import Floats, Ints
from ...networks.distinct import distinct
from .fronts import Eliminated

if TYPE_CHECKING:
    from .plan import Plan


@dataclass(frozen=True, slots=True)
class _Left:
    """What a front leaves of right sides for its border."""

    rows: Ints
    """(b,) places in the order of elimination, sorted."""
    which: Ints
    """(k,) the right sides that have come so far, sorted."""
    values: Floats
    """(b, k)"""


def products(
    plan: Plan, eliminated: Sequence[Eliminated], columns: sparse.csc_array
) -> Floats:
    """Return GᵀN⁻¹G of sparse columns.

    Parameters
    ----------
    plan : Plan
    eliminated : sequence of Eliminated
        Of all stacks: nothing was kept.
    columns : csc_array, shape (u, k)
        G.

    Returns
    -------
    ndarray, shape (k, k)
    """
    layout = plan.layout
    entry = sparse.coo_array(sparse.csr_array(columns)[layout.column_order])
    place, which = (np.asarray(at, dtype=np.int64) for at in entry.coords)
    order = np.argsort(place, kind="stable")
    place, which, value = place[order], which[order], entry.data[order]
    fronts = _reached(plan, place)
    stack = layout.stacks()[fronts]
    within = fronts - layout.stack_start[stack]
    first, last = layout.own_start[fronts], layout.own_start[fronts + 1]
    cuts = np.searchsorted(place, np.stack([first, last], axis=1))
    above = layout.parent[fronts].tolist()
    made = np.zeros((columns.shape[1],) * 2)
    come: dict[int, list[_Left]] = {}
    each = zip(fronts.tolist(), stack.tolist(), within.tolist(), strict=True)
    for n, (front, k, i) in enumerate(each):
        here = slice(*cuts[n].tolist())
        own = _Left(place[here], which[here], value[here])
        inner, left = _up(
            plan, eliminated[k], (k, i), int(first[n]), own, come.pop(front, [])
        )
        made[np.ix_(left.which, left.which)] += inner.T @ inner
        if above[n] >= 0:
            come.setdefault(above[n], []).append(left)
    return made


def _reached(plan: Plan, place: Ints) -> Ints:
    """Return the fronts on the way from some places to the root, children first."""
    layout = plan.layout
    now = distinct(np.searchsorted(layout.own_start, place, side="right") - 1)
    seen = np.zeros(len(layout.parent), dtype=bool)
    while len(now):
        seen[now] = True
        now = distinct(layout.parent[now])
        now = now[now >= 0]
        now = now[~seen[now]]
    return np.flatnonzero(seen)


def _up(
    plan: Plan,
    part: Eliminated,
    at: tuple[int, int],
    first: int,
    own: _Left,
    come: list[_Left],
) -> tuple[Floats, _Left]:
    """Return y of the own columns of a front, (s, k), and what is left for its border.

    Parameters
    ----------
    plan : Plan
    part : Eliminated
        Of the stack.
    at : tuple of int
        The stack, and which of its fronts.
    first : int
        Place of the first of the own columns.
    own : _Left
        Entries of right sides, one by one.
    come : list of _Left
        From the children.
    """
    stack, i = plan.stacks[at[0]], at[1]
    size, border = stack.own.shape[1], stack.border[i]
    which = distinct(np.concatenate([own.which, *(one.which for one in come)]))
    right = np.zeros((size + len(border), len(which)))
    right[own.rows - first, np.searchsorted(which, own.which)] = own.values
    # The padding of borders stands at the end, and is the same place in all.
    outer = plan.layout.own_start[-1]
    for one in come:
        there = one.rows < outer
        rows = one.rows[there]
        inside = rows < border[0] if len(border) else np.ones(len(rows), dtype=bool)
        to = np.where(inside, rows - first, size + np.searchsorted(border, rows))
        right[to[:, None], np.searchsorted(which, one.which)] += one.values[there]
    if part.single:
        inner, taken = part.forward(right[None, :size])
        inner, taken = inner[0], taken[0]
    else:
        inner = part.own[i] @ right[:size]
        taken = part.border[i] @ inner
    return inner, _Left(border, which, right[size:] - taken)
