"""The tip of a leaning pole: an ellipse that lies across the lean."""

import numpy as np
from numpy.typing import ArrayLike

from ...networks.covariances import Floats


def tilted_tip(
    length: ArrayLike,
    tilt: ArrayLike,
    azimuth: ArrayLike,
    sd_tilt: ArrayLike,
    sd_azimuth: ArrayLike,
    sd_length: ArrayLike = 0.0,
) -> Floats:
    """Return the covariance of the tip of a leaning pole against its upper end.

    The tip is the upper end less L (sin t sin a, sin t cos a, cos t). So along the
    lean √((L cos t σt)² + (sin t σL)²), across it L sin t σa, and up
    √((L sin t σt)² + (cos t σL)²), the along and up parts correlated.

    Parameters
    ----------
    length : array_like, shape (n,)
        Tip to reference point, m.
    tilt : array_like, shape (n,)
        From the vertical, rad.
    azimuth : array_like, shape (n,)
        Towards which the top leans, clockwise from north, rad; where it is NaN the
        larger of along and across is taken in every direction.
    sd_tilt, sd_azimuth : array_like, shape (n,)
        rad; NaN gives NaN.
    sd_length : array_like
        m.

    Returns
    -------
    ndarray, shape (n, 3, 3)
        East, north, up, m².

    Examples
    --------
    A pole of 2 m at 30°, lean known to 0.1° and its azimuth to 1°:

    >>> made = tilted_tip([2.0], *np.radians([[30.0], [0.0], [0.1], [1.0]]))
    >>> print(np.round(1000 * np.sqrt(np.diagonal(made[0])), 1))
    [17.5  3.   1.7]
    """
    given = (length, tilt, azimuth, sd_tilt, sd_azimuth, sd_length)
    long, lean, towards, by_tilt, by_azimuth, by_length = np.broadcast_arrays(
        *(np.atleast_1d(np.asarray(value, dtype=float)) for value in given)
    )
    sine, cosine = np.sin(lean), np.cos(lean)
    # Partials along the lean, across it and up, by tilt, azimuth and length.
    partials = np.zeros((len(long), 3, 3))
    partials[:, 0, 0], partials[:, 0, 2] = long * cosine, sine
    partials[:, 1, 1] = long * sine
    partials[:, 2, 0], partials[:, 2, 2] = -long * sine, cosine
    sds = np.stack([by_tilt, by_azimuth, by_length], axis=1)
    scaled = partials * sds[:, None, :]
    own = scaled @ scaled.swapaxes(1, 2)
    return _turned(own, towards)


def _turned(own: Floats, azimuth: Floats) -> Floats:
    """Return covariances along, across and up turned to east, north, up."""
    unknown = np.isnan(azimuth)
    towards = np.where(unknown, 0.0, azimuth)
    sine, cosine = np.sin(towards), np.cos(towards)
    turn = np.zeros((len(own), 3, 3))
    turn[:, 0, 0], turn[:, 0, 1] = sine, cosine
    turn[:, 1, 0], turn[:, 1, 1] = cosine, -sine
    turn[:, 2, 2] = 1.0
    made = turn @ own @ turn.swapaxes(1, 2)
    if unknown.any():
        larger = np.maximum(own[unknown, 0, 0], own[unknown, 1, 1])
        round_ = np.zeros((len(larger), 3, 3))
        round_[:, 0, 0] = round_[:, 1, 1] = larger
        round_[:, 2, 2] = own[unknown, 2, 2]
        made[unknown] = round_
    return np.asarray(made)
