"""Shifts of a few marks carried to many places, by prediction or similarity."""

from dataclasses import dataclass

import numpy as np

from ...networks.covariances import Floats

BLOCK = 1 << 21
"""Numbers of the widest array of one go, so that very many places take no memory."""
EXACT = 1e-12
"""m²; marks held in both issues are exact: a micrometre keeps the matrix regular."""


@dataclass(frozen=True, slots=True)
class Carried:
    """Shifts at n places, and what they rest on."""

    shift: Floats
    """(n, 3) east, north, height, m."""
    covariance: Floats
    """(n, 3, 3) of where it brings a place, m²."""
    said: str
    """The method and its figures in words."""


def predicted(
    places: Floats, shifts: Floats, errors: Floats, at: Floats, reach: float = 0.0
) -> Carried:
    """Return shifts by least-squares prediction (collocation) from those of marks.

    A shift is a mean that all share, a signal that neighbours share, with the
    covariance s² exp(−d / reach) of each component, and the errors of the marks, which
    are correlated: d = X m + s + e, C = C_ss + C_ee,

        m̂ = (Xᵀ C⁻¹ X)⁻¹ Xᵀ C⁻¹ d,   ŝ(p) = C_ps C⁻¹ (d − X m̂)

    (Moritz 1980, Advanced Physical Geodesy, least-squares collocation with parameters;
    from memory). s² is what the scatter of the shifts has beyond their errors; with
    s = 0 that is the weighted mean.

    The errors are those of the new places alone: a shot was laid out from the old
    places as they were, so that what was wrong with these is in the shot as in the
    shift, and goes with it.

    Parameters
    ----------
    places : ndarray, shape (k, 2)
        Of the marks, east and north, m.
    shifts : ndarray, shape (k, 3)
        m.
    errors : ndarray, shape (3k, 3k)
        Covariance of the marks' new places, mark by mark east, north, height, m².
    at : ndarray, shape (n, 2)
        Where shifts are wanted.
    reach : float
        m; 0 = the middle distance between the marks.

    Examples
    --------
    Two marks that moved alike move everything alike:

    >>> places = np.array([[0.0, 0], [100, 0]])
    >>> both = np.full((2, 3), 0.02)
    >>> made = predicted(places, both, 1e-6 * np.eye(6), np.array([[30.0, 40]]))
    >>> made.shift.round(6).tolist()
    [[0.02, 0.02, 0.02]]
    """
    apart = _distances(places, places)
    if not reach:
        between = apart[np.triu_indices(len(places), 1)]
        reach = float(np.median(between)) if len(between) else 1.0
    reach = max(reach, 1e-3)
    near = np.exp(-apart / reach)
    signal = signal_variance(shifts, errors, near)
    solved = _solved(near, signal, errors, shifts)
    shift, covariance = np.empty((len(at), 3)), np.empty((len(at), 3, 3))
    step = max(1, BLOCK // (9 * max(len(places), 1)))
    for start in range(0, len(at), step):
        some = slice(start, start + step)
        far = np.exp(-_distances(at[some], places) / reach)
        shift[some], covariance[some] = _at(solved, far)
    sds = ", ".join(f"{1000 * s:.1f}" for s in np.sqrt(signal))
    said = (
        f"least-squares prediction from {len(places)} marks: covariance of what "
        f"neighbours share s² exp(−distance / reach), s {sds} mm east, north, height, "
        f"reach {reach:.0f} m"
    )
    return Carried(shift, covariance, said)


def signal_variance(shifts: Floats, errors: Floats, near: Floats) -> Floats:
    """Return (3,) variance s² of the signal, from the scatter of shifts about a mean.

    Its expectation is Σ (d − d̄)² = t(E) + s² t(R), with t(M) = tr M − 1ᵀM1 / k, E the
    covariance of the errors and R the correlations of the signal; s² solves it, and is
    0 where the errors explain the scatter.

    Parameters
    ----------
    shifts : ndarray, shape (k, 3)
    errors : ndarray, shape (3k, 3k)
    near : ndarray, shape (k, k)
        Correlations of the signal between the marks.

    Examples
    --------
    By hand: two marks far apart, shifts 0 and 20 mm, errors of 2 mm: the scatter 200
    less 4, over 1, is 196 mm² = (14 mm)².

    >>> shifts = np.array([[0.0, 0, 0], [0.020, 0, 0]])
    >>> made = signal_variance(shifts, 4e-6 * np.eye(6), np.eye(2))
    >>> (1000 * np.sqrt(made)).round(6).tolist()
    [14.0, 0.0, 0.0]
    """
    count = len(shifts)
    if count < 2:
        return np.zeros(3)
    share = _about_mean(near)
    made = np.zeros(3)
    for j in range(3):
        scatter = float(((shifts[:, j] - shifts[:, j].mean()) ** 2).sum())
        left = scatter - _about_mean(errors[j::3, j::3])
        made[j] = max(left / share, 0.0) if share > 1e-9 else 0.0
    return made


def _about_mean(matrix: Floats) -> float:
    """Return tr M − 1ᵀM1 / k: what scatters about the mean."""
    return float(np.trace(matrix) - matrix.sum() / len(matrix))


def _distances(one: Floats, other: Floats) -> Floats:
    way = one[:, None, :] - other[None, :, :]
    return np.asarray(np.hypot(way[..., 0], way[..., 1]))


@dataclass(frozen=True, slots=True)
class _Solved:
    """The marks' side of the prediction."""

    signal: Floats
    inverse: Floats
    """(3k, 3k) C⁻¹."""
    ones: Floats
    """(3k, 3) X: which component each row is of."""
    of_mean: Floats
    """(3, 3) covariance of the mean."""
    mean: Floats
    left: Floats
    """(3k,) d − X m̂."""


def _solved(near: Floats, signal: Floats, errors: Floats, shifts: Floats) -> _Solved:
    count = len(shifts)
    whole = np.kron(near, np.diag(signal)) + errors + EXACT * np.eye(3 * count)
    inverse: Floats = np.asarray(np.linalg.inv(whole))
    ones = np.tile(np.eye(3), (count, 1))
    of_mean: Floats = np.asarray(np.linalg.inv(ones.T @ inverse @ ones))
    values = shifts.ravel()
    mean = of_mean @ (ones.T @ (inverse @ values))
    return _Solved(signal, inverse, ones, of_mean, mean, values - ones @ mean)


def _at(solved: _Solved, far: Floats) -> tuple[Floats, Floats]:
    """Return shifts (n, 3) and their covariances where the signal correlates so."""
    diagonal = np.diag(solved.signal)
    # (n, 3, 3k): of a component at a place with each component of each mark.
    cross = np.einsum("nk,ij->nikj", far, diagonal).reshape(len(far), 3, -1)
    gain = cross @ solved.inverse
    shift = solved.mean + gain @ solved.left
    rest = np.eye(3) - gain @ solved.ones
    covariance = diagonal - gain @ cross.swapaxes(1, 2)
    covariance += rest @ solved.of_mean @ rest.swapaxes(1, 2)
    return shift, covariance


def similar(places: Floats, shifts: Floats, errors: Floats, at: Floats) -> Carried:
    """Return shifts by a similarity in plan, and a shift or a plane in height.

    Plan: two translations, turn and scale; it needs two marks. Height: a shift of up
    to three marks, the plane of more. All together by least squares, weighted by the
    covariance of the marks' new places.

    Parameters
    ----------
    places, shifts, errors, at
        See ``predicted``.

    Examples
    --------
    A turn of 1 mm in 10 m about the first mark:

    >>> places = np.array([[0.0, 0], [10, 0]])
    >>> turned = np.array([[0, 0, 0], [0, 0.001, 0]])
    >>> made = similar(places, turned, 1e-8 * np.eye(6), np.array([[0.0, 20]]))
    >>> (1000 * made.shift).round(3).tolist()
    [[-2.0, 0.0, 0.0]]
    """
    middle = places.mean(axis=0)
    sizes = places - middle
    scale = max(float(np.abs(sizes).max(initial=0.0)), 1.0)
    tilted = len(places) > 3
    design = _design(sizes / scale, tilted)
    values = shifts.ravel()
    rows = design.reshape(len(values), -1)
    weighted = np.linalg.solve(errors + EXACT * np.eye(len(values)), rows)
    inverse = np.linalg.inv(rows.T @ weighted)
    solved = inverse @ (weighted.T @ values)
    wanted = _design((at - middle) / scale, tilted)
    left = np.abs((values - rows @ solved).reshape(-1, 3))
    said = (
        f"similarity over {len(places)} marks: turn "
        f"{np.degrees(solved[3] / scale) * 3600:.1f}″, scale "
        f"{1e6 * solved[2] / scale:.1f} ppm, heights by "
        f"{'a plane' if tilted else 'their mean'}; largest misfit in plan "
        f"{1000 * left[:, :2].max():.1f} mm, in height {1000 * left[:, 2].max():.1f} mm"
    )
    covariance = wanted @ inverse @ wanted.swapaxes(1, 2)
    return Carried(wanted @ solved, np.asarray(covariance), said)


def _design(places: Floats, tilted: bool) -> Floats:
    """Return (n, 3, u): east, north, height by two shifts, scale, turn, and a plane."""
    made = np.zeros((len(places), 3, 7 if tilted else 5))
    made[:, 0, 0] = made[:, 1, 1] = made[:, 2, 4] = 1.0
    made[:, 0, 2], made[:, 1, 2] = places[:, 0], places[:, 1]
    made[:, 0, 3], made[:, 1, 3] = -places[:, 1], places[:, 0]
    if tilted:
        made[:, 2, 5:] = places
    return made
