"""How each construction makes a point, with its partial derivatives.

Plan is in grid east and north; *left* is to the left of the way from the first point
to the second. Taped distances are level and come in as grid metres. Every function
takes parents (k, P, 3), taped values (k, 5: distance, second distance, dip, pipe,
slope) and side (k,), and returns points (k, 3), partials by the parents (k, 3, P, 3),
and by the taped values (k, 3, 5). What a construction cannot give is NaN: ties and
corners have no height of their own.
"""

from collections.abc import Callable

import numpy as np

from ...networks.covariances import Floats, Ints

Made = tuple[Floats, Floats, Floats]
Kind = Callable[[Floats, Floats, Ints], Made]


def _empty(parents: Floats) -> Made:
    k, p = parents.shape[:2]
    return np.zeros((k, 3)), np.zeros((k, 3, p, 3)), np.zeros((k, 3, 5))


def _direction(first: Floats, second: Floats) -> tuple[Floats, Floats, Floats, Floats]:
    """Return length, unit vector, its left normal, and d(unit)/d(second) in plan."""
    way = (second - first)[:, :2]
    length = np.hypot(way[:, 0], way[:, 1])
    with np.errstate(divide="ignore", invalid="ignore"):
        unit = way / length[:, None]
        left = np.stack([-unit[:, 1], unit[:, 0]], axis=1)
        turning = left[:, :, None] * left[:, None, :] / length[:, None, None]
    return length, unit, left, turning


_QUARTER = np.array([[0.0, -1.0], [1.0, 0.0]])
"""Turns a way in east, north to the left of it."""


def offset(parents: Floats, taped: Floats, side: Ints) -> Made:
    """Go along towards the second point, then to the side; height of the first.

    A negative distance goes away from the second point.
    """
    point, by_parent, by_tape = _empty(parents)
    first, second = parents[:, 0], parents[:, 1]
    _, unit, left, turning = _direction(first, second)
    along, across = taped[:, 0], taped[:, 1] * side
    point[:, :2] = first[:, :2] + along[:, None] * unit + across[:, None] * left
    point[:, 2] = first[:, 2]
    turned = along[:, None, None] * turning
    turned = turned + across[:, None, None] * (_QUARTER @ turning)
    by_parent[:, :2, 0, :2] = np.eye(2) - turned
    by_parent[:, :2, 1, :2] = turned
    by_parent[:, 2, 0, 2] = 1.0
    by_tape[:, :2, 0] = unit
    by_tape[:, :2, 1] = side[:, None] * left
    return point, by_parent, by_tape


def two_ties(parents: Floats, taped: Floats, side: Ints) -> Made:
    """Meet at two taped distances, on the side that is named; no height.

    With x along from the first to the second point and y to the left of it,
    x = (r1² − r2² + D²) / 2D and y = ± √(r1² − x²). The partials are those of
    |P − A| = r1, |P − B| = r2.
    """
    point, by_parent, by_tape = _empty(parents)
    first, second = parents[:, 0, :2], parents[:, 1, :2]
    length, unit, left, _ = _direction(parents[:, 0], parents[:, 1])
    one, other = taped[:, 0], taped[:, 1]
    with np.errstate(divide="ignore", invalid="ignore"):
        along = (one**2 - other**2 + length**2) / (2 * length)
        across = np.where(side == 0, np.nan, side) * np.sqrt(one**2 - along**2)
        point[:, :2] = first + along[:, None] * unit + across[:, None] * left
        rays = np.stack([point[:, :2] - first, point[:, :2] - second], axis=1)
        rays /= np.stack([one, other], axis=1)[:, :, None]
        # The rays' matrix R: R dP = (dr1 + ray1·dA, dr2 + ray2·dB).
        inverse = _inverse(rays)
    by_tape[:, :2, 0], by_tape[:, :2, 1] = inverse[:, :, 0], inverse[:, :, 1]
    for p in (0, 1):
        by_parent[:, :2, p, :2] = inverse[:, :, p, None] * rays[:, p, None, :]
    point[:, 2] = np.nan
    return point, by_parent, by_tape


def _inverse(matrix: Floats) -> Floats:
    """Return inverses of (k, 2, 2); infinite or NaN where there is none."""
    a, b, c, d = (matrix[:, i, j] for i, j in ((0, 0), (0, 1), (1, 0), (1, 1)))
    with np.errstate(divide="ignore", invalid="ignore"):
        made = np.stack([d, -b, -c, a], axis=1) / (a * d - b * c)[:, None]
    return np.asarray(made.reshape(-1, 2, 2))


def wall_line(parents: Floats, taped: Floats, side: Ints) -> Made:
    """Go along the line from the first to the second point; height between theirs."""
    point, by_parent, by_tape = offset(parents, taped, side)
    first, second = parents[:, 0], parents[:, 1]
    length, unit, _, _ = _direction(first, second)
    with np.errstate(divide="ignore", invalid="ignore"):
        share = taped[:, 0] / length
        rise = (second - first)[:, 2] / length
    point[:, 2] = first[:, 2] + share * (second - first)[:, 2]
    by_parent[:, 2, 0, 2], by_parent[:, 2, 1, 2] = 1 - share, share
    # A longer line carries the same tape less far up.
    steeper = (share * rise)[:, None] * unit
    by_parent[:, 2, 0, :2], by_parent[:, 2, 1, :2] = steeper, -steeper
    by_tape[:, 2, 0] = rise
    return point, by_parent, by_tape


def inside_corner(parents: Floats, taped: Floats, side: Ints) -> Made:
    """Find where two walls meet, each given by two points; no height.

    The corner lies on both: n1·(P − A) = 0 and n2·(P − C) = 0, n the normals.
    """
    del taped, side
    point, by_parent, by_tape = _empty(parents)
    a, b, c, d = (parents[:, i, :2] for i in range(4))
    normals = np.stack([(b - a) @ _QUARTER.T, (d - c) @ _QUARTER.T], axis=1)
    inverse = _inverse(normals)
    rest = np.stack([(normals[:, 0] * a).sum(1), (normals[:, 1] * c).sum(1)], axis=1)
    point[:, :2] = (inverse @ rest[:, :, None])[:, :, 0]
    for wall, (start, end) in enumerate(((a, b), (c, d))):
        way = end - start
        with np.errstate(divide="ignore", invalid="ignore"):
            share = ((point[:, :2] - start) * way).sum(1) / (way**2).sum(1)
        # A point that moves across its wall moves the wall there by its share.
        pull = inverse[:, :, wall, None] * normals[:, wall, None, :]
        by_parent[:, :2, 2 * wall, :2] = (1 - share)[:, None, None] * pull
        by_parent[:, :2, 2 * wall + 1, :2] = share[:, None, None] * pull
    point[:, 2] = np.nan
    return point, by_parent, by_tape


def two_leans(parents: Floats, taped: Floats, side: Ints) -> Made:
    """Take the plain mean: what leans the other way errs the other way."""
    del taped, side
    point, by_parent, by_tape = _empty(parents)
    point[:] = parents.mean(axis=1)
    by_parent[:, [0, 1, 2], :, [0, 1, 2]] = 0.5
    return point, by_parent, by_tape


def dip(parents: Floats, taped: Floats, side: Ints) -> Made:
    """Go down from the rim by the dip; where the crown was dipped, by the pipe too."""
    del side
    point, by_parent, by_tape = _empty(parents)
    point[:] = parents[:, 0]
    point[:, 2] -= taped[:, 2] + taped[:, 3]
    by_parent[:, [0, 1, 2], 0, [0, 1, 2]] = 1.0
    by_tape[:, 2, 2] = by_tape[:, 2, 3] = -1.0
    return point, by_parent, by_tape


def slope(parents: Floats, taped: Floats, side: Ints) -> Made:
    """Go on from the second point through the first, falling at the slope.

    The first point is the top of the bank, the second lies behind it; the toe is a
    level distance farther on, lower by distance / slope.
    """
    point, by_parent, by_tape = offset(parents, -taped, side * 0)
    by_tape[:, :, :2] *= -1
    with np.errstate(divide="ignore", invalid="ignore"):
        fall = taped[:, 0] / taped[:, 4]
        point[:, 2] -= fall
        by_tape[:, 2, 0] = -1 / taped[:, 4]
        by_tape[:, 2, 4] = fall / taped[:, 4]
    return point, by_parent, by_tape


MAKERS: dict[str, Kind] = {
    "offset": offset,
    "two ties": two_ties,
    "wall line": wall_line,
    "inside corner": inside_corner,
    "two leans": two_leans,
    "dip": dip,
    "slope": slope,
}
"""Kind of construction to what makes it."""
