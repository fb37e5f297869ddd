"""Residuals by their own standard deviations, row by row as observed: v / σ_v.

With σ_v² from the diagonal of Qv = Q − A Q_x Aᵀ (Baarda 1968). If covariances and
model are right each of them is normal with mean 0 and standard deviation 1; together
they are not independent.
"""

from dataclasses import dataclass

import numpy as np

from ...networks.covariances import Bools, Floats, Ints
from ..adjustment import Adjustment
from ..normal import Whitened, present_columns
from .hats import hats, parts

_LEAST = 1e-6
"""Share of a row's variance that its residual must have to be divided by it."""


@dataclass(frozen=True, slots=True)
class Standardized:
    """The rows of one kind of observation that the others check."""

    kind: str
    edge: Ints
    """(k,) number of the observation, sorted."""
    component: Ints
    """(k,) which of its rows: 0 of a reading; X, Y, Z or east, north, up."""
    value: Floats
    """(k,) residual over its stated standard deviation."""
    unchecked: int
    """How many rows of the kind have no residual to speak of: nothing checks them."""


def standardized_residuals(adjustment: Adjustment) -> list[Standardized]:
    """Return the standardized residuals of each kind of observation in use.

    Parameters
    ----------
    adjustment : Adjustment

    Returns
    -------
    list of Standardized
        Set-ups and weighted known marks are kinds of their own.
    """
    made = []
    for some in adjustment.equations:
        found = [
            _of_part(adjustment, part, some.active[part.members], number, start)
            for number, batch in enumerate(adjustment.whitened)
            if batch.kind == some.kind
            for start, part in parts(batch)
        ]
        if found:
            made.append(_together(some.kind, found))
    return made


_Rows = tuple[Ints, Ints, Floats]
"""Edge, component and value of rows; NaN for what nothing checks."""


def _of_part(
    adjustment: Adjustment, part: Whitened, active: Bools, number: int, start: int
) -> _Rows:
    hat = hats(
        adjustment, part, present_columns(adjustment.whitened[number]), (number, start)
    )
    free = np.eye(hat.shape[1]) - hat
    lower = part.lower
    variance = np.einsum("cij,cjk,cik->ci", lower, free, lower)
    whole = (lower**2).sum(axis=2)
    residual = -np.einsum("cij,cj->ci", lower, part.misclosure)
    checked = variance > _LEAST * whole
    value = np.where(checked, residual, np.nan) / np.sqrt(
        np.where(checked, variance, 1)
    )
    rows = active.shape[2]
    edge = np.repeat(part.members, rows, axis=1)
    component = np.broadcast_to(np.tile(np.arange(rows), active.shape[1]), edge.shape)
    there = active.reshape(edge.shape).astype(bool)
    return edge[there], component[there], value[there]


def _together(kind: str, found: list[_Rows]) -> Standardized:
    edge, component, value = (
        np.concatenate(column) for column in zip(*found, strict=True)
    )
    seen = np.isfinite(value)
    order = np.flatnonzero(seen)[np.lexsort((component[seen], edge[seen]))]
    return Standardized(
        kind, edge[order], component[order], value[order], int((~seen).sum())
    )
