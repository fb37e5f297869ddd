"""Hypotheses of a shift of one observation by itself, a part of a batch at a time."""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from ...networks.covariances import Bools, Floats, Ints
from ..adjustment import Adjustment
from ..equations import Equations
from ..nodes import last_first
from ..normal import Whitened, chosen, present_columns, solved
from .fold import folded, noise_at
from .hats import hats, parts
from .shifts import Shifts
from .turned import turn_of

_NARROW = 12
"""Local unknowns up to which columns are quicker than a loop over small matrices."""


@dataclass(frozen=True, slots=True)
class Part:
    """The shifts of some edges of one kind, each by itself."""

    edges: Ints
    """(k,)"""
    shifts: Shifts
    """Of k causes."""
    redundancy: Floats
    """(k,) trace of the edge's block of QvP; NaN where it is exact."""


def edges_in_parts(adjustment: Adjustment, some: Equations) -> Iterator[Part]:
    """Yield the shifts of the edges of one kind in use, part by part.

    Parameters
    ----------
    adjustment : Adjustment
    some : Equations

    Yields
    ------
    Part
        In no order of the edges.
    """
    for number, batch in enumerate(adjustment.whitened):
        if batch.kind != some.kind:
            continue
        present = present_columns(batch)
        alone = batch.members.shape[1] == 1 and present.sum() <= _NARROW
        for start, part in parts(batch):
            at = (number, start)
            made = _alone if alone else _of_clusters
            yield made(adjustment, some, part, present, at)


def of_edges(adjustment: Adjustment, some: Equations) -> tuple[Shifts, Floats]:
    """Return the shift of each edge of one kind by itself, and its redundancy.

    Returns
    -------
    shifts : Shifts
        One for each edge of the kind; NaN where it is not in use.
    redundancy : ndarray, shape (m,)
        Trace of the edge's block of QvP; NaN where it is not in use or exact.
    """
    count = len(some.node)
    matrix, own = np.full((2, count, 3, 3), np.nan)
    pull, redundancy = np.full((count, 3), np.nan), np.full(count, np.nan)
    components = np.zeros((count, 3), dtype=bool)
    for part in edges_in_parts(adjustment, some):
        at = part.edges
        matrix[at], own[at] = part.shifts.matrix, part.shifts.information
        pull[at], redundancy[at] = part.shifts.pull, part.redundancy
    components[:, : some.active.shape[1]] = some.active
    return Shifts(matrix, pull, own, components), redundancy


def _alone(
    adjustment: Adjustment,
    some: Equations,
    batch: Whitened,
    present: Bools,
    place: tuple[int, int],
) -> Part:
    """Return the shifts of observations that stand alone, in arithmetic of columns."""
    edges = batch.members[:, 0]
    local = adjustment.factor.cliques(chosen(batch.columns, present), place)
    design = np.moveaxis(chosen(batch.design, present), 0, -1)
    along = np.einsum("iwn,wvn->ivn", design, np.moveaxis(local, 0, -1))
    free = -np.einsum("iwn,jwn->ijn", along, design)
    np.einsum("iin->in", free)[:] += 1.0
    active = some.active[edges]
    redundancy = np.einsum("iin,ni->n", free, active)
    # Rows of shifts: columns of L⁻¹T.
    turn = turn_of(adjustment, some, edges)
    column = np.moveaxis(solved(batch.lower, turn), 0, -1)
    across = np.einsum("ijn,jkn->ikn", free, column)
    matrix = np.einsum("ikn,iln->kln", column, across)
    own = np.einsum("ikn,iln->kln", column, column)
    pull = np.einsum("ikn,ni->nk", column, batch.misclosure)
    noise = _noise(adjustment, some, edges, turn)
    made = Shifts(last_first(matrix), pull, last_first(folded(own, noise)), active)
    return Part(edges, _three(made), _exact(redundancy, active))


def _of_clusters(
    adjustment: Adjustment,
    some: Equations,
    batch: Whitened,
    present: Bools,
    place: tuple[int, int],
) -> Part:
    """Return the shifts of each observation of clusters, one place after another."""
    size = batch.members.shape[1]
    hat = hats(adjustment, batch, present, place)
    free = np.eye(hat.shape[1]) - hat
    rows = some.active.shape[1]
    inverse = np.linalg.inv(batch.lower)
    # The diagonal of L (QvP of whitened rows) L⁻¹, row by row.
    back = np.einsum("cij,cji->ci", batch.lower, free @ inverse)
    made, redundancy = [], []
    for k in range(size):
        edges, here = batch.members[:, k], slice(k * rows, (k + 1) * rows)
        turn = turn_of(adjustment, some, edges)
        column = inverse[:, :, here] @ turn
        across = np.ascontiguousarray(np.swapaxes(column, 1, 2))
        matrix, own = across @ (free @ column), across @ column
        pull = np.einsum("crq,cq->cr", across, batch.misclosure)
        active = some.active[edges]
        noise = _noise(adjustment, some, edges, turn)
        info = last_first(folded(np.moveaxis(own, 0, -1), noise))
        made.append(_three(Shifts(matrix, pull, info, active)))
        redundancy.append(_exact((back[:, here] * active).sum(axis=1), active))
    return Part(
        batch.members.T.ravel(),
        Shifts(
            np.concatenate([one.matrix for one in made]),
            np.concatenate([one.pull for one in made]),
            np.concatenate([one.information for one in made]),
            np.concatenate([one.components for one in made]),
        ),
        np.concatenate(redundancy),
    )


def _exact(redundancy: Floats, active: Bools) -> Floats:
    """Return the redundancy, NaN where no row is active."""
    return np.where(active.any(axis=1), redundancy, np.nan)


def _three(found: Shifts) -> Shifts:
    """Return the same causes with three components; a reading has only the first."""
    count, rows = found.pull.shape
    if rows == 3:
        return found
    unit = np.zeros((3, 3, count))
    unit[range(3), range(3)] = 1.0
    matrix, information = last_first(unit), last_first(unit.copy())
    matrix[:, :rows, :rows] = found.matrix
    information[:, :rows, :rows] = found.information
    pull, components = np.zeros((count, 3)), np.zeros((count, 3), dtype=bool)
    pull[:, :rows], components[:, :rows] = found.pull, found.components
    return Shifts(matrix, pull, information, components)


def _noise(
    adjustment: Adjustment, some: Equations, edges: Ints, turn: Floats
) -> list[tuple[Floats, Floats]]:
    """Return what set-ups at the ends of edges bring in: directions and variances."""
    if some.kind == "set-up" or not len(adjustment.network.set_ups):
        return []
    made = []
    across = np.moveaxis(turn, 0, -1)
    for k in range(some.node.shape[1]):
        variance = noise_at(adjustment, some.node[edges, k])
        design = np.moveaxis(some.design[edges, :, k], 0, -1)
        for j in np.flatnonzero(variance.any(axis=1)).tolist():
            way = np.einsum("ikn,in->kn", across, design[:, j])
            made.append((way, variance[j]))
    return made
