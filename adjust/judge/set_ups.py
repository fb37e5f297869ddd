"""Hypotheses of a shift of each set-up, told by what ties it to its mark.

A set-up that is an unknown of its own has columns A in what was observed from it, and
±1 in the one observation that it stands over its mark. A shift of all that was observed
from it has the columns (−A, 0): (0, ±1) less those of the set-up itself, which the
unknowns take up whole. So what the residuals say of the shift they say of that one
observation (derived here), whose covariances are on hand; no others are needed.
"""

import numpy as np

from ...networks.covariances import Bools, Floats, Ints
from ..adjustment import Adjustment
from ..nodes import last_first
from ..normal import chosen, present_columns
from .fold import folded, noise_at
from .hats import parts
from .shifts import SEEN, Shifts, of_nodes
from .three import smallest_at_least
from .touching import seen_of_nodes

_ROUNDED = 1e-10
"""Share of what the rest says of a set-up that rounding may be. Where it is more, as
where nothing checks it, what was observed from it is summed up instead."""


def of_set_ups(adjustment: Adjustment, some: Ints) -> tuple[Shifts, Floats]:
    """Return the shift of each of some set-ups, and the redundancy of its observation.

    Parameters
    ----------
    adjustment : Adjustment
    some : ndarray of int, shape (k,)
        Numbers of set-ups, none twice.

    Returns
    -------
    shifts : Shifts
        As ``of_nodes`` has them.
    redundancy : ndarray, shape (k,)
        NaN where it is not in use or exact.
    """
    nodes = len(adjustment.network.marks) + some
    own, pull = seen_of_nodes(adjustment, nodes)
    diagonal = np.einsum("iin->in", own)
    exists = diagonal > SEEN * diagonal.max(axis=0)
    weight, matrix, most = _of_own(adjustment, some)
    with np.errstate(divide="ignore", invalid="ignore"):
        shares = np.where(weight > 0, np.einsum("iin->in", matrix) / weight, 0.0)
    redundancy = np.where(weight.any(axis=0), shares.sum(axis=0), np.nan)
    for values in (matrix, own):
        values *= exists[:, None] & exists
        np.einsum("iin->in", values)[~exists] = 1.0
    surest = np.where(exists, weight, 0.0).max(axis=0)
    rounded = np.finfo(float).eps * most * surest**2
    told = ((weight > 0) | ~exists).all(axis=0)
    told &= rounded < _ROUNDED * smallest_at_least(matrix)
    ways = np.broadcast_to(np.eye(3)[:, :, None], (3, 3, len(some)))
    variance = noise_at(adjustment, nodes)
    noise = [(ways[k], variance[k]) for k in range(3) if variance[k].any()]
    information = last_first(folded(own, noise))
    found = Shifts(
        last_first(matrix), last_first(pull), information, last_first(exists)
    )
    rest = np.flatnonzero(~told & exists.any(axis=0))
    if len(rest):
        summed = of_nodes(adjustment, nodes[rest], np.arange(len(rest)), len(rest))
        found.matrix[rest] = summed.matrix
    return found, redundancy


def _of_own(adjustment: Adjustment, some: Ints) -> tuple[Floats, Floats, Floats]:
    """Return what the one observation of each of some set-ups says.

    Returns
    -------
    weight : ndarray, shape (3, k)
        Of east, north, up, 1/m²; 0 where it is exact, or none.
    matrix : ndarray, shape (3, 3, k)
        M.
    most : ndarray, shape (k,)
        Largest variance, m², from which M is a difference.
    """
    place = np.full(len(adjustment.network.set_ups), -1)
    place[some] = np.arange(len(some))
    weight, most = np.zeros((3, len(some))), np.zeros(len(some))
    matrix = np.zeros((3, 3, len(some)))
    for number, batch in enumerate(adjustment.whitened):
        if batch.kind != "set-up":
            continue
        present = present_columns(batch)
        (kind,) = (e for e in adjustment.equations if e.kind == batch.kind)
        for start, part in parts(batch):
            at = place[part.members[:, 0]]
            here = at >= 0
            if not here.any():
                continue
            at, active = at[here], kind.active[part.members[here, 0]].T
            deviation = np.einsum("nii->in", part.lower[here])
            own = np.where(active, deviation**-2.0, 0.0)
            columns = chosen(part.columns, present)
            if here.all():
                local = adjustment.factor.cliques(columns, (number, start))
            else:
                local = adjustment.factor.blocks(columns[here], columns[here])
            most[at] = np.einsum("nii->in", local).max(axis=0)
            matrix[:, :, at] = _left(own, _apart(local, present))
            weight[:, at] = own
    return weight, matrix, most


def _left(weight: Floats, covariance: Floats) -> Floats:
    """Return P − P C P, (3, 3, n), of diagonal P, (3, n)."""
    made = -weight[:, None] * covariance * weight
    np.einsum("iin->in", made)[:] += weight
    return np.asarray(made)


def _apart(local: Floats, present: Bools) -> Floats:
    """Return the covariances of set-up minus mark, (3, 3, n).

    Parameters
    ----------
    local : ndarray, shape (n, w, w)
        Of the unknowns of the mark and of the set-up that are present.
    present : ndarray of bool, shape (6,)
    """
    columns = np.moveaxis(local, 0, -1)
    if not present.all():
        there = np.flatnonzero(present)
        whole = np.zeros((6, 6, len(local)))
        whole[np.ix_(there, there)] = columns
        columns = whole
    mark, stood = columns[:3], columns[3:]
    return np.asarray(stood[:, 3:] - stood[:, :3] - mark[:, 3:] + mark[:, :3])
