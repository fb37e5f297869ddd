"""What is known of a network before anything more is observed.

Solutions are made for the marks that are kept alone, a few columns at a time: neither
the covariance of all marks nor what each blunder does to all of them is ever formed.
"""

from collections.abc import Iterator, Sequence

import numpy as np
from scipy.sparse import csr_array

from ...networks.covariances import Bools, Floats, Ints
from ...networks.distinct import distinct
from ..adjustment import Adjustment
from ..judge.effects import PLACE
from ..judge.hypotheses import Hypothesis
from ..judge.shifts import SEEN
from ..judge.unseen import information_of, lost_of_each
from .state import State

_COLUMNS = 192
"""Equations that are solved together."""


def state_of(
    adjustment: Adjustment,
    ends: Ints,
    limit: Floats,
    multipliers: Floats,
    hypotheses: Sequence[Hypothesis],
    marks: Ints | None = None,
) -> State:
    """Return what is known of a network before anything more is observed.

    Parameters
    ----------
    adjustment : Adjustment
        Minimal or constrained.
    ends : ndarray of int, shape (P, 2)
        Marks whose relative position matters; −1 first: the second to the datum.
    limit : ndarray, shape (P, 2)
        m, in plan and height; NaN for none.
    multipliers : ndarray, shape (P, 2)
        Of a semi-major axis and of a height's sd, for the limits' confidence.
    hypotheses : sequence of Hypothesis
        Those of more than three components are left out.
    marks : ndarray of int, optional
        Those that are kept, all that candidates touch; every mark if not given.

    Returns
    -------
    State
    """
    every = len(adjustment.network.marks)
    keep = np.arange(every) if marks is None else distinct(marks)
    place = np.full(every, -1)
    place[keep] = np.arange(len(keep))
    kept = [one for one in hypotheses if len(one.axes) <= 3]
    share, root, coupling = _measured(adjustment, kept)
    difference, columns = differences(adjustment, ends)
    turned = np.swapaxes(difference, 1, 2)
    covariance, across, moves = _rows_of(
        adjustment, keep, _by_component(adjustment, columns, turned), coupling
    )
    for h, one in enumerate(kept):
        if one.carried >= 0 and place[one.carried] >= 0:
            for p, axis in enumerate(one.axes):
                moves[3 * place[one.carried] + PLACE[axis], :, h] += root[h, p]
    return State(
        covariance,
        ends,
        difference @ adjustment.factor.blocks(columns, columns) @ turned,
        across,
        limit,
        multipliers,
        share,
        root,
        moves,
        tuple(kept),
        np.array([one.measure == "m" for one in kept], dtype=bool),
        place,
    )


def moved_by(
    adjustment: Adjustment, hypotheses: Sequence[Hypothesis]
) -> Iterator[Floats]:
    """Yield how all marks follow a unit of share of some blunders, (M, 3, c), m.

    Parameters
    ----------
    adjustment : Adjustment
    hypotheses : sequence of Hypothesis
        Of at most three components each.

    Yields
    ------
    ndarray, shape (M, 3, c)
        Of the next few of their components.
    """
    _, root, coupling = _measured(adjustment, hypotheses)
    count, marks = len(hypotheses), adjustment.columns[: len(adjustment.network.marks)]
    for start in range(0, 3 * count, _COLUMNS):
        some = np.arange(start, min(start + _COLUMNS, 3 * count))
        right = coupling[some].T.toarray()
        moved = np.zeros((len(right) + 1, len(some)))
        moved[:-1] = adjustment.factor.solve(right)
        made = moved[marks]
        for c, k in enumerate(some.tolist()):
            one = hypotheses[k % count]
            for p, axis in enumerate(one.axes if one.carried >= 0 else ()):
                made[one.carried, PLACE[axis], c] += root[k % count, p, k // count]
        yield made


def differences(adjustment: Adjustment, ends: Ints) -> tuple[Floats, Ints]:
    """Return (P, 3, 6) what makes each pair of both marks, and their (P, 6) columns.

    Parameters
    ----------
    adjustment : Adjustment
    ends : ndarray of int, shape (P, 2)
        A first of −1: the second alone.
    """
    axes = adjustment.nodes.axes
    turn = axes[ends[:, 0]] @ np.swapaxes(axes[ends[:, 1]], 1, 2)
    first = np.broadcast_to(-np.eye(3), turn.shape).copy()
    columns = adjustment.columns[ends].reshape(-1, 6)
    alone = ends[:, 0] < 0
    first[alone], turn[alone], columns[alone, :3] = 0.0, np.eye(3), -1
    return np.concatenate([first, turn], axis=2), columns


def _measured(
    adjustment: Adjustment, hypotheses: Sequence[Hypothesis]
) -> tuple[Floats, Floats, csr_array]:
    """Return share and root of each blunder, and what it couples to, a unit of share.

    Filled up to three components; the coupling is (3 H, u), by component.
    """
    count = len(hypotheses)
    share, root = np.tile(np.eye(3), (count, 1, 1)), np.zeros((count, 3, 3))
    rows, columns, values = [], [], []
    sizes = np.array([len(one.axes) for one in hypotheses], dtype=np.int64)
    for size in np.unique(sizes).tolist():
        some = np.flatnonzero(sizes == size)
        informed = [information_of(hypotheses[k]) for k in some.tolist()]
        own = np.stack([one[0] for one in informed])
        noise = np.stack([hypotheses[k].noise for k in some.tolist()])
        lost = lost_of_each(adjustment, [one[1:] for one in informed], size)
        here = _roots(own, noise)
        missing: Bools = ~np.asarray(here.any(axis=1))
        root[some, :size, :size] = here
        seen = np.swapaxes(here, 1, 2) @ (own - lost) @ here
        share[some, :size, :size] = seen + missing[:, :, None] * np.eye(size)
        number = np.repeat(np.arange(len(some)), [len(one[1]) for one in informed])
        wide = np.concatenate([one[2] for one in informed])
        each = np.einsum("ep,epc->ec", wide, here[number])
        rows.append(some[number][:, None] + count * np.arange(size))
        columns.append(np.repeat(np.concatenate([x[1] for x in informed]), size))
        values.append(each.ravel())
    return share, root, _sparse(rows, columns, values, 3 * count, adjustment)


def _roots(own: Floats, noise: Floats) -> Floats:
    """Return (n, p, p) shifts of a unit of share; zeros for what no row sees."""
    folded = np.linalg.solve(np.eye(own.shape[1]) + own @ noise, own)
    values, ways = np.linalg.eigh((folded + np.swapaxes(folded, 1, 2)) / 2)
    most = np.maximum(values.max(axis=1, keepdims=True, initial=0.0), 1e-300)
    real: Bools = values > SEEN * most
    size = np.where(real, 1 / np.sqrt(np.where(real, values, 1.0)), 0.0)
    return np.asarray(ways * size[:, None])


def _by_component(adjustment: Adjustment, columns: Ints, turned: Floats) -> csr_array:
    """Return (3 P, u) what makes each component of each pair, by component."""
    count = len(columns)
    rows = np.arange(count)[:, None, None] + count * np.arange(3)
    at = np.broadcast_to(columns[:, :, None], turned.shape)
    rows = np.broadcast_to(rows, turned.shape)
    return _sparse([rows], [at.ravel()], [turned.ravel()], 3 * count, adjustment)


def _sparse(
    rows: Sequence[Ints],
    columns: Sequence[Ints],
    values: Sequence[Floats],
    count: int,
    adjustment: Adjustment,
) -> csr_array:
    """Return (count, u) of entries, of which those of column −1 are left out."""
    none = np.zeros(0, dtype=np.int64)
    i = np.concatenate([none, *(one.ravel() for one in rows)])
    j = np.concatenate([none, *columns])
    v = np.concatenate([np.zeros(0), *values])
    here = j >= 0
    shape = (count, int(adjustment.columns.max(initial=-1)) + 1)
    return csr_array((v[here], (i[here], j[here])), shape=shape)


def _rows_of(
    adjustment: Adjustment, keep: Ints, pairs: csr_array, coupling: csr_array
) -> tuple[Floats, Floats, Floats]:
    """Return the kept marks' covariance with each other and pairs, and their moves."""
    columns = adjustment.columns[keep].ravel()
    count, unknowns = len(columns), coupling.shape[1]
    own = np.zeros((count, count))
    across, moves = (np.zeros((count, one.shape[0])) for one in (pairs, coupling))
    known = np.flatnonzero(columns >= 0)
    for start in range(0, len(known), _COLUMNS):
        rows = known[start : start + _COLUMNS]
        unit = np.zeros((unknowns, len(rows)))
        unit[columns[rows], np.arange(len(rows))] = 1.0
        solved = adjustment.factor.solve(unit)
        own[np.ix_(rows, known)] = solved[columns[known]].T
        across[rows], moves[rows] = (pairs @ solved).T, (coupling @ solved).T
    return (
        (own + own.T) / 2,
        across.reshape(count, 3, pairs.shape[0] // 3),
        moves.reshape(count, 3, coupling.shape[0] // 3),
    )
