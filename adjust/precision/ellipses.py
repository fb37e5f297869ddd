"""Ellipses, circles, and the multipliers that give them their probability."""

from dataclasses import dataclass, replace
from functools import cache

import numpy as np
from numpy.polynomial import chebyshev
from numpy.typing import ArrayLike

from ...networks import Options
from ...networks.covariances import Floats
from ..judge.limits import (
    chi_square_limits,
    chi_square_quantile,
    fisher_quantile,
    normal_limit,
    student_limit,
)

# Below this the estimated variance factor is itself too uncertain to scale by
# (common practice, no source).
_ENOUGH = 10
_NODES = 97
_ANGLES = 256
"""In a quarter; with half of them the radii are the same to rounding."""
_STEPS = 20


def ellipse(covariance: ArrayLike) -> tuple[Floats, Floats, Floats]:
    """Return semi-axes and azimuth of standard ellipses.

    Parameters
    ----------
    covariance : array_like, shape (..., 2, 2)
        East, north.

    Returns
    -------
    semi_major, semi_minor : ndarray, shape (...)
        In the unit whose square the covariance has.
    azimuth : ndarray, shape (...)
        Of the major axis, clockwise from north, radians in [0, π); 0 for a circle.

    Examples
    --------
    >>> major, minor, azimuth = ellipse([[2, 0.5], [0.5, 2]])
    >>> print(f"{major**2:.3f} {minor**2:.3f} {np.degrees(azimuth):.3f}")
    2.500 1.500 45.000
    """
    given = np.asarray(covariance, dtype=float)
    ee, nn, en = given[..., 0, 0], given[..., 1, 1], given[..., 0, 1]
    middle, half = (ee + nn) / 2, np.hypot((nn - ee) / 2, en)
    azimuth = np.mod(0.5 * np.arctan2(2 * en, nn - ee), np.pi)
    # Rounding turns a circle anywhere, and north into 180°.
    nothing = (half <= 1e-9 * middle) | (azimuth > np.pi - 1e-9)
    minor = np.sqrt(np.maximum(middle - half, 0.0))
    return np.sqrt(middle + half), minor, np.where(nothing, 0.0, azimuth)


def circle_exact(
    semi_major: ArrayLike, semi_minor: ArrayLike, probability: float = 0.95
) -> Floats:
    """Return the radius of the circle that holds a probability, exactly.

    P(R) = 1 − (1/2π) ∫ exp(−R² / 2(a² cos²φ + b² sin²φ)) dφ, by the trapezoidal
    rule (spectrally accurate for a periodic integrand) and Newton's method.

    Parameters
    ----------
    semi_major, semi_minor : array_like
        Standard axes, one unit.
    probability : float

    Returns
    -------
    ndarray
        In that unit.

    Examples
    --------
    >>> print(f"{circle_exact(1.0, 1.0):.5f} {circle_exact(1.0, 0.5):.5f}")
    2.44775 2.03586
    """
    a, b = np.broadcast_arrays(
        np.asarray(semi_major, dtype=float), np.asarray(semi_minor, dtype=float)
    )
    # But for its size the radius depends on the shape alone, and smoothly.
    share = np.divide(b, a, out=np.zeros(a.shape), where=a > 0)
    if a.size <= _NODES:
        return np.asarray(a * _radius(share, probability))
    return np.asarray(a * chebyshev.chebval(2 * share - 1, _by_shape(probability)))


@cache
def _by_shape(probability: float) -> Floats:
    """Return the polynomial of the circle of an ellipse with axes 1 and (1 + x) / 2.

    To 1e-12: the nodes are dense enough that more change nothing.
    """
    x = chebyshev.chebpts1(_NODES)
    radius = _radius((x + 1) / 2, probability)
    return np.asarray(chebyshev.chebfit(x, radius, _NODES - 1))


def _radius(share: Floats, probability: float) -> Floats:
    """Return the radii of axes 1 and b, by Newton's method in R² and log(1 − P).

    That is convex and falling, and the radius of a line, a normal limit, is never too
    large: from there no step goes beyond the root, and four reach it.
    """
    angle = (np.arange(_ANGLES) + 0.5) * (np.pi / 2) / _ANGLES
    rate = -0.5 / (np.cos(angle) ** 2 + (share[..., None] * np.sin(angle)) ** 2)
    square = np.full(share.shape, normal_limit(1 - probability) ** 2)
    outside = np.log1p(-probability)
    for _ in range(_STEPS):
        beyond = np.exp(square[..., None] * rate)
        mean, slope = beyond.mean(axis=-1), (beyond * rate).mean(axis=-1)
        step = (outside - np.log(mean)) * mean / slope
        square = square + step
        if not (np.abs(step) > 1e-14 * square).any():
            break
    return np.asarray(np.sqrt(square))


def circle_cubic(semi_major: ArrayLike, semi_minor: ArrayLike) -> Floats:
    """Return the radius of the 95 % circle by the cubic that agencies use.

    Leenhouts 1985, as in FGDC-STD-007.2 (coefficients from memory; they reproduce
    the published data sheets that the tests hold).

    Parameters
    ----------
    semi_major, semi_minor : array_like
        Standard axes, one unit.

    Returns
    -------
    ndarray
        In that unit.

    Examples
    --------
    >>> print(f"{circle_cubic(1.0, 0.5):.6f}")
    2.037848
    """
    a, b = np.asarray(semi_major, dtype=float), np.asarray(semi_minor, dtype=float)
    c = np.divide(b, a, out=np.zeros(np.broadcast(a, b).shape), where=a > 0)
    factor = 1.960790 + 0.004071 * c + 0.114276 * c**2 + 0.371625 * c**3
    return np.asarray(factor * a)


@dataclass(frozen=True, slots=True)
class Multipliers:
    """What standard axes and standard deviations are multiplied by."""

    kind: str
    """``stated`` or ``estimated``: which variance factor they stand on."""
    ellipse: float
    height: float
    confidence: float


def multipliers(options: Options, s0_sq: float, freedom: int) -> Multipliers:
    """Return the multipliers of the stated axes and of the stated height sd.

    Stated: √χ²₂ and the normal value. Estimated: s0·√(2F₂,ᵣ) and s0·t. "larger"
    takes the larger of the two; below 10 degrees of freedom, where the estimate is
    itself uncertain, the stated ones, unless the variance factor is above its limit:
    then the stated precision is known to be wrong.

    Parameters
    ----------
    options : Options
    s0_sq : float
        Estimated variance factor; NaN without degrees of freedom.
    freedom : int
        Its degrees of freedom.

    Returns
    -------
    Multipliers

    Examples
    --------
    >>> made = multipliers(Options(ellipses_from="stated"), 1.3, 20)
    >>> print(f"{made.ellipse:.4f} {made.height:.4f}")
    2.4477 1.9600

    Three degrees of freedom, a variance factor of 100: 10 × √(2 × 9.552) by hand.

    >>> print(f"{multipliers(Options(), 100.0, 3).ellipse:.1f}")
    43.7
    """
    confidence = options.confidence
    stated = Multipliers(
        "stated",
        float(np.sqrt(chi_square_quantile(confidence, 2))),
        normal_limit(1 - confidence),
        confidence,
    )
    if options.ellipses_from == "stated" or freedom < 1:
        return stated
    few = freedom < _ENOUGH and options.ellipses_from == "larger"
    if few and s0_sq * freedom <= chi_square_limits(freedom, options.confidence)[1]:
        return stated
    s0 = float(np.sqrt(s0_sq))
    estimated = Multipliers(
        "estimated",
        s0 * float(np.sqrt(2 * fisher_quantile(confidence, 2, freedom))),
        s0 * student_limit(confidence, freedom),
        confidence,
    )
    if options.ellipses_from != "larger":
        return estimated
    larger = estimated if estimated.ellipse >= stated.ellipse else stated
    return replace(larger, height=max(estimated.height, stated.height))
