"""Which marks nothing checks: those that an unchecked cause can move unseen."""

from collections.abc import Iterator

import numpy as np

from ...networks.covariances import Bools, Floats, Ints
from ..adjustment import Adjustment
from .blunder_table import BlunderTests
from .blunders import over_known
from .shifts import edge_couplings
from .touching import couplings, touched

_MOVES = 1e-6
"""A mark moves if it follows an unseen shift by more than this share of it."""
_SOLVED = 384
"""Unseen shifts that are each followed by themselves; more are followed in sums."""
_VALUES = 1 << 25
"""Numbers that solving may fill at once."""


def checked_marks(adjustment: Adjustment, tests: BlunderTests) -> Bools:
    """Return (m, 2): whether plan and height of each mark are checked.

    A mark is checked if no unchecked set-up, observation or known mark can move it.
    The mark that a minimal solution holds is no more than its origin, and is left
    out of the question there.

    Parameters
    ----------
    adjustment : Adjustment
    tests : BlunderTests
        Of the same adjustment.

    Returns
    -------
    ndarray of bool, shape (m, 2)
    """
    checked = np.stack(
        [adjustment.estimated[:, :2].all(axis=1), adjustment.estimated[:, 2]], axis=1
    )
    reached = _carried_along(adjustment, tests)
    reached |= _reached(adjustment, list(_pulls(adjustment, tests)))
    checked[:, 0] &= ~reached[:, :2].any(axis=1)
    checked[:, 1] &= ~reached[:, 2]
    return checked


_Pull = tuple[Ints, Ints, Floats]
"""Place of an unseen shift, column and value of what it adds to the right side."""


def _reached(adjustment: Adjustment, pulls: list[_Pull]) -> Bools:
    """Return (m, 3) which components of marks follow any of the unseen shifts.

    Very many are taken together in sums with random weights, in which nothing cancels.
    """
    unknowns = int(adjustment.columns.max(initial=-1)) + 1
    marks = adjustment.columns[: len(adjustment.network.marks)]
    reached = np.zeros(marks.shape, dtype=bool)
    most = int(np.clip(_VALUES // max(unknowns, 1), 16, _SOLVED))
    count = sum(int(number.max(initial=-1)) + 1 for number, _, _ in pulls)
    if not count:
        return reached
    right = np.zeros((unknowns, min(count, most)))
    random = np.random.default_rng(0)
    first = 0
    for number, column, value in pulls:
        size = int(number.max(initial=-1)) + 1
        weight = np.ones(size)
        if count > most:
            weight = random.uniform(1, 2, size) * random.choice([-1, 1], size)
        np.add.at(right, (column, (first + number) % most), weight[number] * value)
        first += size
    moved = np.concatenate(
        [np.abs(adjustment.factor.solve(right)).max(axis=1), np.zeros(1)]
    )
    return np.asarray(moved[marks] > _MOVES)


def _pulls(adjustment: Adjustment, tests: BlunderTests) -> Iterator[_Pull]:
    """Yield the unseen shifts of each kind, of unit size."""
    marks = len(adjustment.network.marks)
    kinds = {some.kind: some for some in adjustment.equations}
    of_kind: dict[str, list[int]] = {}
    for i in np.flatnonzero(tests.tests.unchecked).tolist():
        of_kind.setdefault(tests.kind[i], []).append(i)
    for kind, unseen in of_kind.items():
        edges, group = tests.edge[unseen], np.full(len(adjustment.columns) + 1, -1)
        ways = np.stack([_three(tests.tests.null[i]) for i in unseen])
        if kind in ("set-up", "set-up height"):
            group[marks + edges] = np.arange(len(edges))
        elif kind.startswith("known mark "):
            held = np.flatnonzero(adjustment.datum.held_rows[edges].any(axis=1))
            marks_held = adjustment.network.known.mark[edges[held]]
            marks_held, first = np.unique(marks_held, return_index=True)
            ways = ways[held[first]]
            nodes, of = over_known(adjustment, marks_held)
            group[nodes] = of
        else:
            yield _along(*edge_couplings(adjustment, kinds[kind], edges), ways)
            continue
        found = list(touched(adjustment, group))
        yield _along(*couplings(found, len(ways)), ways)


def _three(null: Floats) -> Floats:
    """Return (3, 3) the directions scaled to unit size, zero where there are fewer."""
    made = np.zeros((3, 3))
    made[:, : null.shape[1]] = null / np.abs(null).max(axis=0)
    return made


def _along(number: Ints, column: Ints, value: Floats, ways: Floats) -> _Pull:
    """Return the values along each direction, a place for each that is not zero."""
    there = np.abs(ways).max(axis=1, initial=0.0) > 0
    place = np.cumsum(there.ravel()).reshape(there.shape) - 1
    along = np.einsum("er,erd->ed", value, ways[number][:, : value.shape[1]])
    entry, way = np.nonzero(there[number])
    return place[number[entry], way], column[entry], along[entry, way]


def _carried_along(adjustment: Adjustment, tests: BlunderTests) -> Bools:
    """Return (m, 3) held marks that are themselves where nothing checks them."""
    network, datum = adjustment.network, adjustment.datum
    moved = np.zeros((len(network.marks), 3), dtype=bool)
    for i in np.flatnonzero(tests.tests.unchecked).tolist():
        row = int(tests.edge[i])
        if tests.kind[i].startswith("known mark ") and datum.held_rows[row].any():
            ways = np.abs(_three(tests.tests.null[i])).max(axis=1)
            moved[network.known.mark[row]] |= ways > _MOVES
    return moved
