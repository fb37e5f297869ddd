"""Covariances that domains left, looked up where they are: few are held at once."""

from dataclasses import dataclass, field

import numpy as np

from ...networks.covariances import Bools, Floats, Ints
from ..sparse.narrow import narrow
from .store import Store

PAIRS = ("row", "column", "covariance")
"""Columns of a domain's result: pairs of unknowns, sorted, and their covariances."""
_HELD = 1 << 28
"""Bytes of what was looked up last that are held."""
_AT_ONCE = 1 << 22
"""Pairs that are looked up together."""


@dataclass(frozen=True)
class Covariances:
    """The inverse on pairs of unknowns that some domain has."""

    store: Store
    numbers: tuple[int, ...]
    """Of the domains."""
    home: Ints
    """(u,) place in ``numbers`` of the one domain that has an unknown; −1: several."""
    _last: dict[int, tuple[Ints, Floats]] = field(default_factory=dict)

    def find(self, first: Ints, second: Ints) -> tuple[Floats, Bools]:
        """Return covariances of pairs of unknowns, and which are known.

        Parameters
        ----------
        first, second : ndarray of int, shape (k,)

        Returns
        -------
        values : ndarray, shape (k,)
            0 where it is not known.
        known : ndarray of bool, shape (k,)
        """
        values, known = np.zeros(len(first)), np.zeros(len(first), dtype=bool)
        for low in range(0, len(first), _AT_ONCE):
            some = slice(low, low + _AT_ONCE)
            self._fill(first[some], second[some], values[some], known[some])
        return values, known

    def _fill(self, first: Ints, second: Ints, values: Floats, known: Bools) -> None:
        # What only one domain has is joined by nothing elsewhere.
        home = np.maximum(self.home[first], self.home[second])
        sought = np.minimum(first, second) * len(self.home) + np.maximum(first, second)
        for place in range(len(self.numbers)):
            some = np.flatnonzero((home == place) | ((home < 0) & ~known))
            if not len(some):
                continue
            keys, found = self._of(place)
            if not len(keys):
                continue
            at = np.minimum(np.searchsorted(keys, sought[some]), len(keys) - 1)
            hit = keys[at] == sought[some]
            known[some[hit]] = True
            values[some[hit]] = found[at[hit]]

    def _of(self, place: int) -> tuple[Ints, Floats]:
        """Return sorted keys and values of a domain; those asked for last are held."""
        made = self._last.pop(place, None)
        if made is None:
            part = self.store.kept(self.numbers[place], PAIRS)
            keys = part["row"].astype(np.int64) * len(self.home) + part["column"]
            made = keys, part["covariance"]
        self._last[place] = made
        while sum(k.nbytes + v.nbytes for k, v in self._last.values()) > _HELD:
            if len(self._last) == 1:
                break
            # The one that was asked for longest ago.
            del self._last[next(iter(self._last))]
        return made


def sorted_pairs(row: Ints, column: Ints, values: Floats) -> dict[str, Floats | Ints]:
    """Return covariances on pairs of unknowns as columns of a result.

    Parameters
    ----------
    row, column : ndarray of int, shape (k,)
        In any order; none twice.
    values : ndarray, shape (k,)

    Examples
    --------
    >>> made = sorted_pairs(np.array([4, 2]), np.array([3, 5]), np.array([7.0, 8]))
    >>> {name: made[name].tolist() for name in PAIRS}
    {'row': [2, 3], 'column': [5, 4], 'covariance': [8.0, 7.0]}
    """
    low, high = np.minimum(row, column), np.maximum(row, column)
    order = np.argsort(low * (int(high.max(initial=0)) + 1) + high)
    return {
        "row": narrow(low[order]),
        "column": narrow(high[order]),
        "covariance": values[order],
    }
