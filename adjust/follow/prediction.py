"""Shifts of a few marks carried to many places, by prediction or similarity."""

from dataclasses import dataclass

import numpy as np

from ...networks.covariances import Floats


@dataclass(frozen=True, slots=True)
class Carried:
    """Shifts at n places, and what they rest on."""

    shift: Floats
    """(n, 3) east, north, height, m."""
    variance: Floats
    """(n, 3) of it, m²."""
    said: str
    """The method and its figures in words."""


def predicted(
    places: Floats, shifts: Floats, variances: Floats, at: Floats, reach: float = 0.0
) -> Carried:
    """Return shifts by least-squares prediction from those of marks.

    A shift is a mean that all share, a part that neighbours share, with the
    covariance s² exp(−d / reach), and the marks' own errors. Each component by
    itself; s² is what the scatter of the marks has beyond their stated variances. With
    s = 0 that is the weighted mean. Best linear unbiased prediction with an unknown
    mean (Moritz 1980, Advanced Physical Geodesy; ordinary kriging; from memory).

    Parameters
    ----------
    places : ndarray, shape (k, 2)
        Of the marks, east and north, m.
    shifts : ndarray, shape (k, 3)
        m.
    variances : ndarray, shape (k, 3)
        Stated, of the shifts, m².
    at : ndarray, shape (n, 2)
        Where shifts are wanted.
    reach : float
        m; 0 = the middle distance between the marks.

    Examples
    --------
    Two marks that moved alike move everything alike:

    >>> places = np.array([[0.0, 0], [100, 0]])
    >>> both = np.full((2, 3), 0.02)
    >>> made = predicted(places, both, np.full((2, 3), 1e-6), np.array([[30.0, 40]]))
    >>> made.shift.round(6).tolist()
    [[0.02, 0.02, 0.02]]
    """
    apart = _distances(places, places)
    if not reach:
        between = apart[np.triu_indices(len(places), 1)]
        reach = float(np.median(between)) if len(between) else 1.0
    reach = max(reach, 1e-3)
    far = np.exp(-_distances(at, places) / reach)
    near = np.exp(-apart / reach)
    shift, variance = np.empty((len(at), 3)), np.empty((len(at), 3))
    signal = np.maximum(
        (shifts.var(axis=0, ddof=1) if len(shifts) > 1 else np.zeros(3))
        - variances.mean(axis=0),
        0.0,
    )
    for j in range(3):
        shift[:, j], variance[:, j] = _component(
            signal[j] * near, signal[j] * far, signal[j], variances[:, j], shifts[:, j]
        )
    sds = ", ".join(f"{1000 * s:.1f}" for s in np.sqrt(signal))
    said = (
        f"least-squares prediction from {len(places)} marks: sd of what neighbours "
        f"share {sds} mm east, north, height, reach {reach:.0f} m"
    )
    return Carried(shift, variance, said)


def _distances(one: Floats, other: Floats) -> Floats:
    way = one[:, None, :] - other[None, :, :]
    return np.asarray(np.hypot(way[..., 0], way[..., 1]))


def _component(
    near: Floats, far: Floats, signal: float, variance: Floats, shift: Floats
) -> tuple[Floats, Floats]:
    """Return the prediction of one component, and its variance."""
    # Marks held in both issues are exact; a micrometre keeps the matrix regular.
    whole = near + np.diag(variance + 1e-12)
    ones = np.ones(len(shift))
    weights = np.linalg.solve(whole, np.stack([ones, shift], axis=1))
    worth = ones @ weights[:, 0]
    mean = (ones @ weights[:, 1]) / worth
    gain = np.linalg.solve(whole, far.T).T
    made = mean + gain @ (shift - mean)
    rest = 1 - gain @ ones
    spread = signal - (gain * far).sum(axis=1) + rest**2 / worth
    return made, np.maximum(spread, 0.0)


def similar(places: Floats, shifts: Floats, variances: Floats, at: Floats) -> Carried:
    """Return shifts by a similarity in plan, and a shift or a plane in height.

    Plan: two translations, turn and scale, weighted by the marks' stated variances;
    it needs two marks. Height: the weighted mean of up to three marks, the plane of
    more.

    Parameters
    ----------
    places, shifts, variances, at
        See ``predicted``.

    Examples
    --------
    A turn of 1 mm in 10 m about the first mark:

    >>> places = np.array([[0.0, 0], [10, 0]])
    >>> turned = np.array([[0, 0, 0], [0, 0.001, 0]])
    >>> made = similar(places, turned, np.full((2, 3), 1e-8), np.array([[0.0, 20]]))
    >>> (1000 * made.shift).round(3).tolist()
    [[-2.0, 0.0, 0.0]]
    """
    middle = places.mean(axis=0)
    sizes = places - middle
    scale = max(float(np.abs(sizes).max(initial=0.0)), 1.0)
    plan = _plan_design(sizes / scale)
    values = shifts[:, :2].ravel()
    inverse, solved = _solved(plan, values, variances[:, :2].ravel())
    wanted = _plan_design((at - middle) / scale)
    made = np.empty((len(at), 3))
    spread = np.empty((len(at), 3))
    made[:, :2] = (wanted @ solved).reshape(-1, 2)
    spread[:, :2] = _spread(wanted, inverse).reshape(-1, 2)
    tilted = len(places) > 3
    level = _level_design(sizes / scale, tilted)
    inverse, solved_up = _solved(level, shifts[:, 2], variances[:, 2])
    up = _level_design((at - middle) / scale, tilted)
    made[:, 2], spread[:, 2] = up @ solved_up, _spread(up, inverse)
    left = shifts[:, :2].ravel() - plan @ solved
    said = (
        f"similarity over {len(places)} marks: turn "
        f"{np.degrees(solved[3] / scale) * 3600:.1f}″, scale "
        f"{1e6 * solved[2] / scale:.1f} ppm, heights by "
        f"{'a plane' if tilted else 'their mean'}; largest misfit in plan "
        f"{1000 * np.abs(left).max():.1f} mm"
    )
    return Carried(made, spread, said)


def _plan_design(places: Floats) -> Floats:
    """Return (2n, 4) rows east and north by two shifts, scale and turn."""
    made = np.zeros((len(places), 2, 4))
    made[:, 0, 0] = made[:, 1, 1] = 1.0
    made[:, 0, 2], made[:, 1, 2] = places[:, 0], places[:, 1]
    made[:, 0, 3], made[:, 1, 3] = -places[:, 1], places[:, 0]
    return made.reshape(-1, 4)


def _level_design(places: Floats, tilted: bool) -> Floats:
    ones = np.ones((len(places), 1))
    return np.concatenate([ones, places], axis=1) if tilted else ones


def _solved(design: Floats, values: Floats, variances: Floats) -> tuple[Floats, Floats]:
    weighted = design.T / (variances + 1e-12)
    inverse: Floats = np.asarray(np.linalg.inv(weighted @ design))
    return inverse, inverse @ (weighted @ values)


def _spread(design: Floats, inverse: Floats) -> Floats:
    return np.asarray(np.einsum("ni,ij,nj->n", design, inverse, design))
