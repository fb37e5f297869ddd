"""How a map grid stands to the ground at a place: turn of its axes, and its scale."""

import numpy as np

from .covariances import Floats
from .frames import Frame

_STEP = 100.0
"""m, of the differences that give turn and scale."""


def turn_and_scale(frame: Frame, xyz: Floats) -> tuple[Floats, Floats]:
    """Return the convergence of the grid and its scale against the ground.

    By central differences over the ground: a metre north on the ground is ``scale``
    grid metres, at ``turn`` from grid north. So the combined factor has the height in
    it.

    Parameters
    ----------
    frame : Frame
    xyz : ndarray, shape (n, 3)
        Cartesian positions, m.

    Returns
    -------
    turn : ndarray, shape (n,)
        Of geodetic north, counter-clockwise from grid north, rad: the convergence.
    scale : ndarray, shape (n,)

    Examples
    --------
    UTM zone 13 at 40° N, 1° east of its meridian; sin 40° × 1° = 0.6428° to first
    order:

    >>> from brasscap.networks.frames import GeodeticFrame
    >>> frame = GeodeticFrame(4979, 2020.0, 32613)
    >>> there = frame.cartesian(np.array([[40.0, -104.0, 0.0]]))
    >>> turn, scale = turn_and_scale(frame, there)
    >>> print(f"{np.degrees(turn[0]):.4f} {scale[0]:.5f}")
    0.6428 0.99969
    """
    if frame.kind == "local":
        return np.zeros(len(xyz)), np.ones(len(xyz))
    north = frame.axes(xyz)[:, 1]
    ahead = frame.grid(xyz + _STEP * north)
    behind = frame.grid(xyz - _STEP * north)
    along = (ahead - behind)[:, :2] / (2 * _STEP)
    return np.arctan2(-along[:, 1], along[:, 0]), np.hypot(along[:, 0], along[:, 1])


def turned(covariance: Floats, turn: Floats) -> Floats:
    """Return covariances of geodetic east, north, up in grid east, north, up.

    Parameters
    ----------
    covariance : ndarray, shape (n, 3, 3)
    turn : ndarray, shape (n,)
        Of geodetic north, counter-clockwise from grid north, rad.
    """
    cosine, sine = np.cos(turn), np.sin(turn)
    axes = np.zeros((len(turn), 3, 3))
    axes[:, 0, 0], axes[:, 0, 1] = cosine, -sine
    axes[:, 1, 0], axes[:, 1, 1] = sine, cosine
    axes[:, 2, 2] = 1.0
    return np.asarray(axes @ covariance @ axes.swapaxes(1, 2))
