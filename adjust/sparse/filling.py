"""Entries of the inverse that are not on the pattern of the matrix."""

from collections.abc import Callable

import numpy as np
from scipy import sparse

from ...networks.covariances import Bools, Floats, Ints
from ...networks.distinct import distinct

_COLUMNS = 64
"""Solved for at once …"""
_NUMBERS = 1 << 27
"""… with no more numbers than these: 1 GB."""
_PICKED = 1024
"""Columns whose entries with each other half solutions give."""


def fill_by_halves(
    products: Callable[[sparse.csc_array], Floats],
    count: int,
    made: Floats,
    missing: Bools,
    rows: Ints,
    columns: Ints,
) -> None:
    """Fill in entries between few columns; these are then missing no longer.

    Parameters
    ----------
    products : callable
        Takes sparse columns (count, k), gives (k, k).
    count : int
        Unknowns.
    made : ndarray, shape (p, q, c)
    missing : ndarray of bool, shape (p, q, c)
    rows, columns : ndarray of int, shapes (p, c) and (q, c)
    """
    i, j, k = np.nonzero(missing)
    ends = np.stack([rows[i, k], columns[j, k]])
    wanted, at = np.unique(ends, return_inverse=True)
    if len(wanted) > _PICKED:
        return
    a, b = at.reshape(2, -1)
    unit = (np.ones(len(wanted)), (wanted, np.arange(len(wanted))))
    shape = (count, len(wanted))
    made[i, j, k] = products(sparse.csc_array(unit, shape=shape))[a, b]
    missing[i, j, k] = False


def fill_by_solving(
    solve: Callable[[Floats], Floats],
    count: int,
    made: Floats,
    missing: Bools,
    rows: Ints,
    columns: Ints,
) -> None:
    """Fill in entries of the inverse by solutions, as few as serve.

    Parameters
    ----------
    solve : callable
        Takes and gives (count, k).
    count : int
        Unknowns.
    made : ndarray, shape (p, q, c)
        Written where it is missing.
    missing : ndarray of bool, shape (p, q, c)
    rows, columns : ndarray of int, shapes (p, c) and (q, c)
    """
    i, j, k = np.nonzero(missing)
    if not len(i):
        return
    a, b = rows[i, k], columns[j, k]
    if len(distinct(a)) < len(distinct(b)):
        a, b = b, a
    wanted, which = np.unique(b, return_inverse=True)
    order = np.argsort(which, kind="stable")
    values = np.empty(len(which))
    step = max(1, min(_COLUMNS, _NUMBERS // max(count, 1)))
    for start in range(0, len(wanted), step):
        some = wanted[start : start + step]
        unit = np.zeros((count, len(some)))
        unit[some, np.arange(len(some))] = 1.0
        solved = solve(unit)
        cuts = np.searchsorted(which[order], [start, start + len(some)])
        here = order[slice(*cuts)]
        values[here] = solved[a[here], which[here] - start]
    made[i, j, k] = values
