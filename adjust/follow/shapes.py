"""Right angles, taped walls and parallel lines as checks of the detail."""

from dataclasses import dataclass

import numpy as np
from scipy import sparse

from ...networks import Options
from ...networks.constructions import ShapeChecks
from ...networks.covariances import Floats
from ..judge.limits import normal_limit
from ..judge.verdicts import stated_basis
from .differences import verdicts_of
from .points import Points


@dataclass(frozen=True, slots=True)
class Shapes:
    """One row a check: what the points say, less what was booked or must be."""

    value: Floats
    """(k,) m; of an angle at the end of its shorter arm."""
    sd: Floats
    """(k,) of it, with the tape or with how true it was built; NaN = not stated."""
    limit: Floats
    """(k,) at the confidence of ``Options``, m."""
    found: Floats
    """(k,) the distance (m, on the ground) or the angle (rad) of the points."""
    test: Floats
    verdict: tuple[str, ...]


def shapes(
    points: Points, checks: ShapeChecks, scale: float, options: Options
) -> Shapes:
    """Return what the points say of each check.

    Parameters
    ----------
    points : Points
    checks : ShapeChecks
    scale : float
        Grid metres a metre on the ground.
    options : Options
    """
    count = len(checks)
    value, found = np.full(count, np.nan), np.full(count, np.nan)
    partials = np.zeros((count, 4, 2))
    kinds = np.array(checks.kind, dtype=object)
    for kind, formula in _FORMULAS.items():
        rows = np.flatnonzero(kinds == kind)
        if len(rows):
            plan = points.coordinates[np.maximum(checks.ends[rows], 0), :2]
            value[rows], found[rows], partials[rows] = formula(
                plan / scale, checks.distance[rows]
            )
    ends = np.maximum(checks.ends, 0)
    row = np.arange(count)[:, None, None]
    column = 3 * ends[:, :, None] + np.arange(2)
    full = np.broadcast_arrays(np.nan_to_num(partials) / scale, row, column)
    entries, at, to = (some.ravel() for some in full)
    shape = (count, 3 * len(points.name))
    keep = entries != 0
    matrix = sparse.csr_array((entries[keep], (at[keep], to[keep])), shape=shape)
    sd = np.sqrt(points.variance(matrix) + checks.sd**2)
    sd[np.isnan(value)] = np.nan
    with np.errstate(divide="ignore", invalid="ignore"):
        square = np.where(sd > 0, (value / sd) ** 2, np.nan)
    basis = stated_basis(square, np.ones(count, dtype=np.int64), options)
    return Shapes(
        value,
        sd,
        normal_limit(1 - options.confidence) * sd,
        found,
        basis.test,
        verdicts_of(basis.test, basis.probability),
    )


def _bearing(start: Floats, end: Floats) -> tuple[Floats, Floats, Floats]:
    """Return angle against the clock from east, length, and d(angle)/d(end)."""
    way = end - start
    length = np.hypot(way[:, 0], way[:, 1])
    with np.errstate(divide="ignore", invalid="ignore"):
        partial = np.stack([-way[:, 1], way[:, 0]], axis=1) / (length**2)[:, None]
    return np.arctan2(way[:, 1], way[:, 0]), length, partial


def _taped(plan: Floats, booked: Floats) -> tuple[Floats, Floats, Floats]:
    way = plan[:, 1] - plan[:, 0]
    length = np.hypot(way[:, 0], way[:, 1])
    partials = np.zeros((len(plan), 4, 2))
    with np.errstate(divide="ignore", invalid="ignore"):
        unit = way / length[:, None]
    partials[:, 0], partials[:, 1] = -unit, unit
    return length - booked, length, partials


def _square(plan: Floats, booked: Floats) -> tuple[Floats, Floats, Floats]:
    del booked
    one, long, by_one = _bearing(plan[:, 1], plan[:, 0])
    other, wide, by_other = _bearing(plan[:, 1], plan[:, 2])
    angle = np.mod(other - one, np.pi)
    arm = np.minimum(long, wide)
    partials = np.zeros((len(plan), 4, 2))
    partials[:, 0], partials[:, 2] = -by_one, by_other
    partials[:, 1] = by_one - by_other
    return (angle - np.pi / 2) * arm, angle, partials * arm[:, None, None]


def _parallel(plan: Floats, booked: Floats) -> tuple[Floats, Floats, Floats]:
    del booked
    one, long, by_one = _bearing(plan[:, 0], plan[:, 1])
    other, wide, by_other = _bearing(plan[:, 2], plan[:, 3])
    angle = np.mod(other - one + np.pi / 2, np.pi) - np.pi / 2
    arm = np.minimum(long, wide)
    partials = np.zeros((len(plan), 4, 2))
    partials[:, 0], partials[:, 1] = by_one, -by_one
    partials[:, 2], partials[:, 3] = -by_other, by_other
    return angle * arm, angle, partials * arm[:, None, None]


_FORMULAS = {"taped distance": _taped, "right angle": _square, "parallel": _parallel}
