"""The test of the variance factor, two-sided."""

from dataclasses import dataclass

from ..adjustment import Adjustment
from .limits import chi_square_limits


@dataclass(frozen=True, slots=True)
class VarianceFactor:
    """s0² = vᵀPv / r against the limits of chi-square / r."""

    value: float
    """A ratio of variances; NaN without degrees of freedom."""
    vtpv: float
    degrees_of_freedom: int
    lower: float
    upper: float
    confidence: float
    verdict: str
    """meets; fails above; query below; unchecked without degrees of freedom."""


def variance_factor_test(adjustment: Adjustment) -> VarianceFactor:
    """Return the test of the variance factor (any adjustment text; two-sided).

    Above the limits something is wrong or was stated too good: fails. Below, the
    stated standard deviations are too large or observations are counted twice: a
    query.

    Parameters
    ----------
    adjustment : Adjustment

    Returns
    -------
    VarianceFactor
    """
    return variance_factor_of(
        adjustment.vtpv,
        adjustment.degrees_of_freedom,
        adjustment.network.options.confidence,
    )


def variance_factor_of(vtpv: float, freedom: int, confidence: float) -> VarianceFactor:
    """Return the test of a weighted square sum on its degrees of freedom.

    Parameters
    ----------
    vtpv : float
        vᵀPv.
    freedom : int
        Degrees of freedom, which may be fewer than the rows suggest.
    confidence : float

    Returns
    -------
    VarianceFactor

    Examples
    --------
    >>> variance_factor_of(60.0, 27, 0.95).verdict
    'fails'
    """
    if freedom < 1:
        nothing = float("nan")
        return VarianceFactor(
            nothing, vtpv, freedom, nothing, nothing, confidence, "unchecked"
        )
    lower, upper = (limit / freedom for limit in chi_square_limits(freedom, confidence))
    value = vtpv / freedom
    verdict = "fails" if value > upper else "query" if value < lower else "meets"
    return VarianceFactor(value, vtpv, freedom, lower, upper, confidence, verdict)
