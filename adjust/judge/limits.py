"""Critical values: every limit that a verdict is measured against.

Quantiles come from scipy.special; scipy.stats would double the time of a command,
and scipy.optimize add a quarter.
"""

from functools import cache

import numpy as np
from scipy import special


def chi_square_quantile(probability: float, dof: float) -> float:
    """Return the chi-square value below which ``probability`` lies.

    Examples
    --------
    NIST/SEMATECH e-Handbook 1.3.6.7.4: 7.815 for 3 degrees of freedom, 5 % above.

    >>> round(chi_square_quantile(0.95, 3), 3)
    7.815
    """
    return float(special.chdtri(dof, 1 - probability))


def chi_square_limits(dof: int, confidence: float = 0.95) -> tuple[float, float]:
    """Return the two-sided limits of chi-square.

    Examples
    --------
    >>> [round(limit, 3) for limit in chi_square_limits(27)]
    [14.573, 43.195]
    """
    tail = (1 - confidence) / 2
    return chi_square_quantile(tail, dof), chi_square_quantile(1 - tail, dof)


def normal_limit(alpha: float) -> float:
    """Return the two-sided limit of a normal variable.

    Examples
    --------
    >>> round(normal_limit(0.001), 4)
    3.2905
    """
    return float(-special.ndtri(alpha / 2))


def student_limit(confidence: float, dof: float) -> float:
    """Return the two-sided limit of Student's t.

    Examples
    --------
    >>> round(student_limit(0.95, 10), 3)
    2.228
    """
    return float(special.stdtrit(dof, 0.5 + confidence / 2))


def fisher_quantile(probability: float, p: float, dof: float) -> float:
    """Return the quantile of F(p, dof).

    Examples
    --------
    ISO 17123-8:2015 (from memory): 1.6976 bounds the ratio of two variances of 56.

    >>> round(fisher_quantile(0.975, 56, 56), 4)
    1.6976
    """
    return float(special.fdtri(p, dof, probability))


@cache
def noncentrality(alpha: float, power: float, p: int = 1) -> float:
    """Return λ0: how far a blunder must shift a p-dimensional test to be found.

    Examples
    --------
    Baarda 1968, α 0.1 %, power 80 %:

    >>> round(noncentrality(0.001, 0.80), 3)
    17.075
    """
    limit = chi_square_quantile(1 - alpha, p)
    return float(special.chndtrinc(limit, p, 1 - power))


@cache
def b_method(alpha: float, power: float, p: int) -> tuple[float, float]:
    """Return significance and limit of a p-dimensional test by the B-method.

    All tests share the non-centrality of the one-dimensional one, so the same
    blunder is found with the same power by every one of them (Baarda 1968).

    Examples
    --------
    >>> [round(value, 4) for value in b_method(0.001, 0.80, 3)]
    [0.0055, 12.6335]
    """
    shift = noncentrality(alpha, power)
    limit = float(special.chndtrix(1 - power, p, shift))
    return float(special.chdtrc(p, limit)), limit


def tau_limit(alpha: float, dof: int) -> float:
    """Return the two-sided limit of Pope's tau (1976).

    Examples
    --------
    >>> round(tau_limit(0.05, 10), 4)
    1.9039
    """
    t = student_limit(1 - alpha, dof - 1)
    return float(np.sqrt(dof) * t / np.sqrt(dof - 1 + t * t))


def sidak(alpha: float, tests: int) -> float:
    """Return the two-sided normal limit of each of n tests, α over all (Šidák).

    Examples
    --------
    >>> round(sidak(0.05, 100), 3)
    3.474
    """
    return normal_limit(-float(np.expm1(np.log1p(-alpha) / tests)))
