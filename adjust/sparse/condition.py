"""The 1-norm of a symmetric matrix that can only be multiplied with."""

from collections.abc import Callable

import numpy as np

from ...networks.covariances import Floats

_STEPS = 5


def norm_of_inverse(multiply: Callable[[Floats], Floats], size: int) -> float:
    """Return an estimate, from below, of the 1-norm of a symmetric matrix.

    W. W. Hager, "Condition estimates", SIAM J. Sci. Stat. Comput. 5 (1984), with
    the alternating vector of N. J. Higham, ACM Trans. Math. Softw. 14 (1988).

    Parameters
    ----------
    multiply : callable
        Takes and gives (size,).
    size : int

    Examples
    --------
    >>> matrix = np.array([[2.0, -1.0], [-1.0, 3.0]])
    >>> norm_of_inverse(lambda x: matrix @ x, 2)
    4.0
    """
    if not size:
        return 0.0
    trial = np.full(size, 1.0 / size)
    best, seen = 0.0, -1
    for _ in range(_STEPS):
        image = multiply(trial)
        norm = float(np.abs(image).sum())
        if norm <= best:
            break
        best = norm
        slope = multiply(np.where(image < 0, -1.0, 1.0))
        steepest = int(np.abs(slope).argmax())
        if steepest == seen or abs(slope[steepest]) <= slope @ trial:
            break
        seen = steepest
        trial = np.zeros(size)
        trial[steepest] = 1.0
    turns = 1 + np.arange(size) / max(1, size - 1)
    turns[1::2] *= -1
    return max(best, float(2 * np.abs(multiply(turns)).sum() / (3 * size)))
