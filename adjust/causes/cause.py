"""A cause as data: what it is called, and which base columns it shifts together."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy import sparse

from ...networks.covariances import Floats, Ints


@dataclass(frozen=True, slots=True)
class Cause:
    """One hypothesis: some rows were shifted together by p amounts."""

    kind: str
    """``observation``, ``set-up height``, ``session`` …"""
    about: tuple[str, ...]
    """The names concerned."""
    words: str
    """As it is said: "height of set-up O11 (T103, session S6)"."""
    measure: str
    """What the p amounts are: letters of ``enu`` (m); ``m``, ``rad``, ``ratio`` for
    one value; ``factor`` for a share of what is booked; ``own`` for a parameter's;
    empty where some observations as a whole are wrong, in no common way."""
    base: Ints
    """(k,) base columns that enter."""
    column: Ints
    """(k,) which of the p amounts each belongs to."""
    weight: Floats
    """(k,) how much of it."""
    nodes: tuple[int, ...] = ()
    """Marks or set-ups that it is about; two for an exchange."""
    marks: tuple[int, ...] = ()
    """Marks whose place it concerns, for what could part it from another."""
    known: tuple[int, ...] = ()
    """Marks whose known coordinates it shifts."""
    least: float = 0.0
    """Share of its own precision that must be checked, where rounding is not all that
    could feign a check."""

    @property
    def components(self) -> int:
        """How many amounts p there are."""
        return int(self.column.max(initial=-1)) + 1


def together(
    groups: Sequence[Ints], weights: Sequence[float] | Floats | None = None
) -> tuple[Ints, Ints, Floats]:
    """Return base, column and weight of several things shifted by the same amounts.

    Parameters
    ----------
    groups : sequence of ndarray of int, shape (p,)
        Base columns of each thing, in the same order of amounts.
    weights : sequence of float, optional
        Of each thing; 1 when not given.

    Examples
    --------
    >>> base, column, weight = together([np.array([4, 5]), np.array([8, 9])])
    >>> base.tolist(), column.tolist(), weight.tolist()
    ([4, 5, 8, 9], [0, 1, 0, 1], [1.0, 1.0, 1.0, 1.0])
    """
    width = len(groups[0])
    each = np.ones(len(groups)) if weights is None else np.asarray(weights, dtype=float)
    base = np.concatenate(groups).astype(np.int64)
    return base, np.tile(np.arange(width), len(groups)), np.repeat(each, width)


def apart(groups: Sequence[Ints]) -> tuple[Ints, Ints, Floats]:
    """Return base, column and weight of several things, each shifted by its own.

    Examples
    --------
    >>> base, column, weight = apart([np.array([4]), np.array([8, 9])])
    >>> base.tolist(), column.tolist()
    ([4, 8, 9], [0, 1, 2])
    """
    base = np.concatenate(groups).astype(np.int64)
    return base, np.arange(len(base)), np.ones(len(base))


def shift_matrix(
    causes: Sequence[Cause], base: "sparse.csc_array"
) -> tuple["sparse.csc_array", Ints]:
    """Return the whitened columns of all causes, and where each starts.

    Parameters
    ----------
    causes : sequence of Cause
    base : sparse array, shape (n, b)
        Whitened base columns.

    Returns
    -------
    matrix : sparse array, shape (n, Σp)
    first : ndarray of int, shape (causes + 1,)
    """
    first = np.cumsum([0, *(cause.components for cause in causes)]).astype(np.int64)
    none, nothing = np.zeros(0, np.int64), np.zeros(0)
    row = np.concatenate([none, *(cause.base for cause in causes)])
    column = np.concatenate(
        [none]
        + [cause.column + at for cause, at in zip(causes, first[:-1], strict=True)]
    )
    weight = np.concatenate([nothing, *(cause.weight for cause in causes)])
    shape = (base.shape[1], int(first[-1]))
    chosen = sparse.csc_array(sparse.coo_array((weight, (row, column)), shape=shape))
    return sparse.csc_array(base @ chosen), first
