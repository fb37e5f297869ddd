"""Chances beyond chi-square and F of few components, by the million.

scipy's functions serve any number of degrees of freedom, at a fifth of a microsecond a
value; for one, two and three there are closed forms.
"""

import numpy as np
from scipy import special

from ...networks.covariances import Floats, Ints

_LONG = 1000.0
"""Degrees of freedom from which F is chi-square of a logarithm, and a correction."""
_FAR = 0.01
"""Share of these degrees of freedom up to which one correction is enough."""


def chi_square_tail(count: int, statistic: Floats) -> Floats:
    """Return the chance of a larger chi-square value.

    By the recurrence from p to p + 2 of any table of integrals: of one component
    erfc √(x/2), of two exp(−x/2), of three the first and √(2x/π) exp(−x/2).

    Parameters
    ----------
    count : int
        Components, p.
    statistic : ndarray, shape (n,)

    Examples
    --------
    NIST/SEMATECH e-Handbook 1.3.6.7.4: 7.815 for 3 degrees of freedom, 5 % above.

    >>> print(f"{chi_square_tail(3, np.array([7.815]))[0]:.4f}")
    0.0500
    """
    x = np.maximum(statistic, 0.0)
    if count == 1:
        return np.asarray(special.erfc(np.sqrt(x / 2)))
    if count == 2:
        return np.asarray(np.exp(-x / 2))
    if count == 3:
        more = np.sqrt(x * (2 / np.pi)) * np.exp(-x / 2)
        return np.asarray(special.erfc(np.sqrt(x / 2)) + more)
    return np.asarray(special.chdtrc(count, x))


def chi_square_tails(count: Ints, statistic: Floats) -> Floats:
    """Return the same of values with components of their own; none count as one.

    Parameters
    ----------
    count : ndarray of int, shape (n,)
    statistic : ndarray, shape (n,)
    """
    made = np.empty(len(count))
    for p in np.flatnonzero(np.bincount(np.maximum(count, 1))).tolist():
        some = np.maximum(count, 1) == p
        made[some] = chi_square_tail(p, statistic[some])
    return made


def fisher_tail(p: int, freedom: float, ratio: Floats) -> Floats:
    """Return the chance of a larger value of F(p, r).

    With κ = r − 1 + p/2 and w = κ log(1 + pF/r) the density of F is exactly
    w^(p/2−1) exp(−w/2) (sinh x / x)^(p/2−1) with x = w/2κ. To the second order of x
    that is chi-square of p, and of p + 4 times (p/2 − 1) p(p+2) / 24κ²; the next
    order, x⁴/160 at most, is below 1e-11 where w is below κ/100.

    Parameters
    ----------
    p : int
    freedom : float
        r.
    ratio : ndarray, shape (n,)
        F.

    Examples
    --------
    >>> exact = special.fdtrc(3, 5000, np.array([0.5, 4.0, 9.0]))
    >>> np.allclose(fisher_tail(3, 5000, np.array([0.5, 4.0, 9.0])), exact, rtol=1e-11)
    True
    """
    if p > 3 or freedom < _LONG:
        return np.asarray(special.fdtrc(p, freedom, ratio))
    large = freedom - 1 + p / 2
    x = large * np.log1p(p / freedom * np.maximum(ratio, 0.0))
    made = chi_square_tail(p, x)
    if p != 2:
        # Of p + 4 components: two steps of the recurrence from p.
        density = np.exp(-x / 2) * (x / 2) ** (p / 2) / special.gamma(p / 2 + 1)
        wider = made + density * (1 + x / (p + 2))
        weight = (p / 2 - 1) * p * (p + 2) / (24 * large**2)
        made = (made + weight * wider) / (1 + weight)
    far = x > _FAR * large
    if far.any():
        made[far] = special.fdtrc(p, freedom, ratio[far])
    return made
