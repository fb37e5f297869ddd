"""Which fronts are worked on together: few stacks against little padding."""

import numpy as np

from ...networks.covariances import Bools, Floats, Ints

_SINGLE = 160
"""Rows above which a front is worked on by itself, with LAPACK."""
_SIZES = np.array(
    [0, 1, 2, 3, 6, 9, 12, 15, 18, 24, 30, 36, 45, 54, 66, 81, 99, 120, 144, 168]
)
"""Steps of size within which fronts are always together."""
_A_STACK = 150e-6
_AN_ENTRY = 8e-9
_A_FLOP = 1.5e-9
"""Seconds, roughly: the calls for a stack, moving an entry of a front, a flop of its
factor with what solutions and the inverse add (measured on one machine; they only
say how much padding a saved stack is worth)."""


def singles(own: Ints, outer: Ints) -> Bools:
    """Return which fronts, by their rows, are better worked on alone."""
    return own + outer > _SINGLE


def padded(own: Ints, outer: Ints, height: Ints) -> Ints:
    """Return (t, 2) the sizes of the stack into which each front is put.

    Parameters
    ----------
    own, outer : ndarray of int, shape (t,)
        Columns of its own and on its border.
    height : ndarray of int, shape (t,)
        Only fronts of one height are put together.

    Examples
    --------
    Two small fronts are worth one stack, a large one is not padded.

    >>> padded(np.array([4, 5, 90]), np.array([7, 3, 90]), np.zeros(3, int)).tolist()
    [[5, 7], [5, 7], [90, 90]]
    """
    sizes = np.stack([own, outer], axis=1)
    made = sizes.copy()
    small = np.flatnonzero(~singles(own, outer))
    for level in np.unique(height[small]):
        here = small[height[small] == level]
        made[here] = _merged(sizes[here])
    return made


def _merged(sizes: Ints) -> Ints:
    """Return the sizes of stacks, merged two by two while that saves time."""
    steps = np.searchsorted(_SIZES, sizes)
    _, group = np.unique(steps @ [len(_SIZES), 1], return_inverse=True)
    count = np.bincount(group)
    largest = np.zeros((len(count), 2), np.int64)
    np.maximum.at(largest, group, sizes)
    apart = _time(largest, count)
    both = np.maximum(largest[:, None], largest)
    gain = apart[:, None] + apart - _time(both, count[:, None] + count)
    np.fill_diagonal(gain, -np.inf)
    while True:
        i, j = sorted(divmod(int(gain.argmax()), len(count)))
        if gain[i, j] <= 0:
            break
        largest[i], count[i] = np.maximum(largest[i], largest[j]), count[i] + count[j]
        group[group == j] = i
        apart[i], apart[j] = _time(largest[i], count[i]), -np.inf
        gain[j], gain[:, j] = -np.inf, -np.inf
        gain[i] = gain[:, i] = _gain(i, largest, count, apart)
    return np.maximum(largest[group], [1, 0])


def _gain(k: int, largest: Ints, count: Ints, apart: Floats) -> Floats:
    """Return seconds saved by putting one stack together with each of the others."""
    both = np.maximum(largest[k], largest)
    made = apart[k] + apart - _time(both, count[k] + count)
    made[k] = -np.inf
    return np.asarray(made)


def _time(sizes: Ints, count: Ints) -> Floats:
    """Return seconds for stacks of some size and number of fronts."""
    s, b = np.moveaxis(sizes.astype(np.float64), -1, 0)
    flops = s**3 / 3 + s**2 * b + s * b**2
    return np.asarray(_A_STACK + count * (_AN_ENTRY * (s + b) ** 2 + _A_FLOP * flops))
