"""Constructions against the uncertainties package, and by hand.

The package carries every error through plain scalar formulas by first-order
derivatives of its own, correlations included; nothing of ours takes part.
"""

import math

import numpy as np
import pytest
from uncertainties import covariance_matrix, ufloat, umath

from brasscap.adjust.follow.constructions import construct, levels
from brasscap.adjust.follow.points import Roots, root_points
from brasscap.adjust.follow.shapes import shapes
from brasscap.networks import Options
from brasscap.networks.constructions import Constructions, ShapeChecks
from brasscap.networks.shots import labels

# Four shots of one base; east, north, height.
PLACES = np.array(
    [
        [100.0, 200.0, 10.0],
        [112.0, 209.0, 11.5],
        [130.0, 190.0, 9.0],
        [104.0, 226.0, 12],
    ]
)
OWN = 0.008, 0.011, 0.017
BASE = 0.003, 0.004, 0.006
SCALE = 1.0004


def roots():
    """Return the shots, their own errors independent, the base's in common."""
    n = len(PLACES)
    carried = np.zeros((n, 3, 4))
    carried[:, [0, 1, 2], [0, 1, 2]] = 1.0
    return Roots(
        tuple("ABCD"),
        PLACES,
        np.broadcast_to(np.diag(np.square(OWN)), (n, 3, 3)),
        np.zeros(n, dtype=int),
        carried,
        np.diag(np.square([*BASE, 0.0])),
    )


@pytest.fixture
def shots():
    """Return the same shots as numbers with errors."""
    base = [ufloat(0, sd) for sd in BASE]
    return [
        [ufloat(x, sd) + b for x, sd, b in zip(place, OWN, base, strict=True)]
        for place in PLACES
    ]


def made(*rows):
    """Return constructions of (kind, parents, taped, side, slope), tapes to 5 mm."""
    count = len(rows)
    parents = np.full((count, 4), -1)
    taped = np.zeros((count, 4))
    for i, (_, some, values, _, _) in enumerate(rows):
        parents[i, : len(some)] = some
        taped[i, : len(values)] = values
    return Constructions(
        tuple(f"P{i}" for i in range(count)),
        tuple(row[0] for row in rows),
        labels([""] * count),
        labels([""] * count),
        parents,
        taped,
        np.where(taped != 0, 0.005, 0.0),
        np.array([row[4] for row in rows], dtype=float),
        np.full(count, 0.1),
        np.array([row[3] for row in rows]),
        ("",) * count,
        np.arange(count),
    )


NO = math.nan


def tape(value):
    return ufloat(value, 0.005) * SCALE


def unit(a, b):
    length = umath.sqrt((b[0] - a[0]) ** 2 + (b[1] - a[1]) ** 2)
    return (b[0] - a[0]) / length, (b[1] - a[1]) / length, length


def compare(constructions, expected):
    found = construct(root_points(roots()), constructions, SCALE)
    for i, point in enumerate(expected):
        have = [k for k, value in enumerate(point) if value is not None]
        at = found.points.coordinates[len(PLACES) + i]
        np.testing.assert_allclose(at[have], [point[k].n for k in have], atol=1e-9)
        theirs = np.array(covariance_matrix([point[k] for k in have]))
        ours = found.covariance[i][np.ix_(have, have)]
        np.testing.assert_allclose(ours, theirs, rtol=1e-7, atol=1e-13)
        assert np.isnan(at[[k for k in range(3) if k not in have]]).all()
    return found


@pytest.mark.parametrize("side", [1, -1])
def test_an_offset(shots, side):
    a, b = shots[:2]
    east, north, _ = unit(a, b)
    along, across = tape(4.0), tape(2.5) * side
    point = a[0] + along * east - across * north, a[1] + along * north + across * east
    compare(made(("offset", [0, 1], [4.0, 2.5], side, NO)), [(*point, a[2])])


@pytest.mark.parametrize("side", [1, -1])
def test_two_ties(shots, side):
    a, b = shots[:2]
    east, north, length = unit(a, b)
    one, other = tape(11.0), tape(9.0)
    x = (one**2 - other**2 + length**2) / (2 * length)
    y = side * umath.sqrt(one**2 - x**2)
    point = a[0] + x * east - y * north, a[1] + x * north + y * east, None
    found = compare(made(("two ties", [0, 1], [11.0, 9.0], side, NO)), [point])
    chosen = found.solutions[0, 0 if side > 0 else 1]
    np.testing.assert_allclose(chosen, found.points.coordinates[4, :2])


def test_ties_by_hand():
    """3-4-5: from (0, 0) 3 m and from (5, 0) 4 m meet at (1.8, ±2.4)."""
    some = Roots(
        ("A", "B"),
        np.array([[0.0, 0, 0], [5.0, 0, 0]]),
        np.zeros((2, 3, 3)),
        np.zeros(2, dtype=int),
        np.zeros((2, 3, 4)),
        np.zeros((4, 4)),
    )
    found = construct(root_points(some), made(("two ties", [0, 1], [3, 4], 0, NO)), 1.0)
    np.testing.assert_allclose(found.solutions[0], [[1.8, 2.4], [1.8, -2.4]])
    assert np.isnan(found.points.coordinates[2]).all()
    assert "no side" in found.trouble[0]


def test_ties_that_do_not_meet_are_said():
    found = construct(
        root_points(roots()), made(("two ties", [0, 1], [2.0, 3.0], 1, NO)), SCALE
    )
    assert found.trouble == ("the two ties do not meet",)
    assert np.isnan(found.covariance).all()


def test_along_a_wall(shots):
    a, b = shots[:2]
    east, north, length = unit(a, b)
    along = tape(20.0)
    height = a[2] + along / length * (b[2] - a[2])
    point = a[0] + along * east, a[1] + along * north, height
    compare(made(("wall line", [0, 1], [20.0], 0, NO)), [point])


def test_an_inside_corner(shots):
    (ax, ay, _), (bx, by, _), (cx, cy, _), (dx, dy, _) = shots
    cross = (bx - ax) * (dy - cy) - (by - ay) * (dx - cx)
    share = ((cx - ax) * (dy - cy) - (cy - ay) * (dx - cx)) / cross
    point = ax + share * (bx - ax), ay + share * (by - ay), None
    compare(made(("inside corner", [0, 1, 2, 3], [], 0, NO)), [point])


def test_a_dip(shots):
    """To the crown of a pipe: rim less dip less pipe."""
    a = shots[0]
    invert = a[2] - ufloat(2.35, 0.005) - ufloat(0.3, 0.005)
    compare(made(("dip", [0], [0, 0, 2.35, 0.3], 0, NO)), [(a[0], a[1], invert)])


def test_two_leans(shots):
    a, b = shots[:2]
    point = [(x + y) / 2 for x, y in zip(a, b, strict=True)]
    compare(made(("two leans", [0, 1], [], 0, NO)), [point])


def test_a_bank_toe(shots):
    """On from B through A: 6 m level at 2 to 1 is 3 m down."""
    a, b = shots[:2]
    east, north, _ = unit(b, a)
    along = tape(6.0)
    point = a[0] + along * east, a[1] + along * north, a[2] - along / ufloat(2.0, 0.1)
    compare(made(("slope", [0, 1], [6.0], 0, 2.0)), [point])


def test_a_chain_keeps_what_its_points_share(shots):
    """The mean of a shot and an offset from that same shot, and an offset from that."""
    a, b = shots[:2]
    east, north, _ = unit(a, b)
    along = tape(4.0)
    first = a[0] + along * east, a[1] + along * north, a[2]
    second = [(x + y) / 2 for x, y in zip(first, a, strict=True)]
    c = shots[2]
    east, north, _ = unit(second, c)
    across = tape(1.5)
    third = second[0] - across * north, second[1] + across * east, second[2]
    # The first in the table comes from the last: order does not matter.
    rows = made(
        ("offset", [5, 2], [0, 1.5], 1, NO),
        ("two leans", [6, 0], [], 0, NO),
        ("offset", [0, 1], [4.0], 0, NO),
    )
    compare(rows, [third, second, first])


def test_a_circle_is_not_made():
    circle = made(("two leans", [5, 0], [], 0, NO), ("two leans", [4, 1], [], 0, NO))
    assert [rows.tolist() for rows in levels(circle, 4)] == []


def checks(kind, ends, distance=NO, sd=0.004):
    some = np.full((1, 4), -1)
    some[0, : len(ends)] = ends
    return ShapeChecks(
        ("K",), (kind,), some, np.array([distance]), np.array([sd]), np.array([2])
    )


@pytest.mark.parametrize("kind", ["taped distance", "right angle", "parallel"])
def test_shapes_have_the_sd_of_their_points(shots, kind):
    a, b, c, d = shots
    ends = {
        "taped distance": [0, 1],
        "right angle": [1, 0, 3],
        "parallel": [0, 1, 2, 3],
    }
    found = shapes(
        construct(root_points(roots()), made(), SCALE).points,
        checks(kind, ends[kind], 15.0),
        SCALE,
        Options(),
    )
    if kind == "taped distance":
        theirs = unit(a, b)[2] / SCALE - ufloat(15.0, 0.004)
        value, sd = theirs.n, theirs.s
    else:
        one, other = b, d
        start = a if kind == "right angle" else c
        first = umath.atan2(one[1] - a[1], one[0] - a[0])
        second = umath.atan2(other[1] - start[1], other[0] - start[0])
        arm = min(unit(a, one)[2].n, unit(start, other)[2].n) / SCALE
        turn = second - first
        right = math.pi / 2 if kind == "right angle" else 0.0
        off = (turn.n - right + math.pi / 2) % math.pi - math.pi / 2
        value, sd = off * arm, math.hypot(turn.s * arm, 0.004)
    assert found.value[0] == pytest.approx(value, abs=1e-9)
    assert found.sd[0] == pytest.approx(sd, rel=1e-7)


def test_a_wall_taped_three_sds_short_is_a_query():
    """By hand: shots of (8, 11) mm on a line of azimuth 53.13° have an sd along it of
    √2·√(0.64·8² + 0.36·11²) = √169.04 mm; with the tape's 4 mm √185.04 = 13.603 mm.
    60 mm is 4.4 times that, over 3.29."""
    found = shapes(
        construct(root_points(roots()), made(), 1.0).points,
        checks("taped distance", [0, 1], 14.940),
        1.0,
        Options(),
    )
    assert found.sd[0] * 1000 == pytest.approx(13.603, abs=0.001)
    assert found.verdict == ("fails",)


def test_a_corner_tied_and_shot_agrees_with_itself():
    """An inaccessible corner tied from two set points, or shot by total station from
    set control, agrees within limits (common practice, no source): the corner at 12 m
    and 9 m from A and B, told by noise-free ties, is where the ties say."""
    corner = np.array([104.0, 208.0])
    ties = np.hypot(*(corner - PLACES[:2, :2]).T)
    found = construct(
        root_points(roots()), made(("two ties", [0, 1], [*ties], 1, NO)), 1.0
    )
    np.testing.assert_allclose(found.points.coordinates[4, :2], corner, atol=1e-9)
    assert np.sqrt(found.covariance[0, 0, 0]) < 0.03
