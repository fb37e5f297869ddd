"""Humps, spread, polar shots, places and crossings: identities, and other ways."""

import numpy as np
import pytest
from scipy import optimize, stats

from brasscap.adjust import estimate
from brasscap.adjust.follow.budget import Budget
from brasscap.adjust.follow.humps import humps
from brasscap.adjust.follow.places import at_one_place, crossings
from brasscap.adjust.follow.polar import polar_shots
from brasscap.adjust.follow.spread import components
from brasscap.adjust.precision.ellipses import circle_exact
from brasscap.io.tables.load import load
from brasscap.networks import Options
from brasscap.networks.shots import PolarShots, labels


def ground(count, seed):
    """Return shots on a rolling surface, walked in blocks of 25, rough by 20 mm."""
    random = np.random.default_rng(seed)
    wide = int(np.sqrt(count))
    at = np.arange(count)
    east, north = 4.0 * (at % wide), 4.0 * (at // wide)
    height = 0.8 * np.sin(east / 25) + 0.5 * np.cos(north / 30)
    height += 0.02 * random.standard_normal(count)
    block = (at % wide // 5) + (wide // 5) * (at // wide // 5)
    return np.stack([east, north, height], axis=1), block


def test_a_lifted_initialisation_is_the_only_hump():
    coordinates, block = ground(900, 5)
    coordinates[block == 14, 2] += 0.25
    made = humps(coordinates, block, np.full(900, 0.015), Options())
    over = made.source[[v == "query" for v in made.verdict]]
    assert over.tolist() == [14]
    place = made.source.tolist().index(14)
    assert made.offset[place] == pytest.approx(0.25, abs=0.06)


def test_two_humps_side_by_side_are_both_found():
    """The good ground beside them is judged again without them."""
    coordinates, block = ground(900, 6)
    coordinates[(block == 14) | (block == 15), 2] += 0.3
    made = humps(coordinates, block, np.full(900, 0.015), Options())
    over = made.source[[v == "query" for v in made.verdict]]
    assert {14, 15} <= set(over.tolist())
    assert len(over) <= 3


def test_even_ground_has_no_hump_and_a_slope_is_no_hump():
    """Identity: a plane added to the ground changes no offset."""
    coordinates, block = ground(900, 7)
    one = humps(coordinates, block, np.full(900, 0.015), Options())
    assert set(one.verdict) == {"meets"}
    tilted = coordinates + np.outer(coordinates[:, 0] * 0.4 + 3.0, [0, 0, 1])
    other = humps(tilted, block, np.full(900, 0.015), Options())
    np.testing.assert_allclose(other.offset, one.offset, atol=1e-6)


def test_one_initialisation_alone_cannot_be_judged():
    coordinates, _ = ground(100, 8)
    made = humps(coordinates, np.zeros(100, dtype=int), np.full(100, 0.015), Options())
    assert made.verdict == ("unchecked",)
    assert np.isnan(made.test).all()


def test_without_shots_there_is_nothing():
    none = np.zeros((0, 3))
    made = humps(none, np.zeros(0, dtype=int), np.zeros(0), Options())
    assert made.verdict == ()


def test_components_are_those_of_greatest_likelihood():
    """Against a general optimiser on the normal likelihood of the differences."""
    random = np.random.default_rng(11)
    share = np.zeros((120, 2))
    share[:60, 0] = random.uniform(1, 3, 60)
    share[60:, 1] = random.uniform(1, 3, 60)
    share[40:80] += random.uniform(0.5, 1, (40, 2))
    rest = random.uniform(0.1, 0.4, 120)
    square = (share @ [1.0, 5.0] + rest) * random.standard_normal(120) ** 2
    made, _, far = components(square, share, rest)
    use = ~far

    def minus_log(theta):
        variance = share[use] @ np.exp(theta) + rest[use]
        return (np.log(variance) + square[use] / variance).sum() / 2

    best = optimize.minimize(minus_log, [0.0, 0.0], method="Nelder-Mead",
                             options={"xatol": 1e-9, "fatol": 1e-12})  # fmt: skip
    np.testing.assert_allclose(made, np.exp(best.x), rtol=1e-5)


def test_the_limits_of_a_spread_hold_it_as_often_as_they_claim():
    """Chance: 400 jobs of 20 repeats; 95 % limits hold the truth in 95 ± 3.3 %
    (three binomial sds)."""
    random = np.random.default_rng(12)
    held = 0
    for _ in range(400):
        square = 4.0 * 2.0 * random.standard_normal(20) ** 2
        (theta,), (freedom,), _ = components(
            square, np.full((20, 1), 2.0), np.zeros(20)
        )
        assert freedom <= 20 + 1e-9
        low, high = stats.chi2.ppf([0.025, 0.975], freedom)
        held += theta * freedom / high <= 4.0 <= theta * freedom / low
    assert held / 400 == pytest.approx(0.95, abs=0.033)


def test_the_quick_circle_is_the_exact_one():
    random = np.random.default_rng(13)
    own = np.einsum("nij,nkj->nik", *[random.standard_normal((200, 3, 3))] * 2)
    zero = np.zeros_like(own)
    circle = Budget(zero, own, zero).circle(0.95)
    axes = np.sqrt(np.linalg.eigvalsh(own[:, :2, :2]))
    exact = circle_exact(axes[:, 1], axes[:, 0], 0.95)
    np.testing.assert_allclose(circle, exact, rtol=1e-4)


def test_lines_cross_where_the_sum_by_hand_says():
    """(0, 0)–(10, 10) and (0, 10)–(10, 0) cross at (5, 5); heights 1 → 3 and 0 → 0.5
    there are 2 and 0.25: 1.75 apart."""
    points = np.array([[0.0, 0, 1], [10, 10, 3], [0, 10, 0], [10, 0, 0.5]])
    made = crossings(points, labels(["A", "A", "B", "B"]))
    np.testing.assert_allclose(made.place, [[5, 5]])
    np.testing.assert_allclose(np.abs(made.gap), [1.75])


def test_crossings_are_those_of_every_pair_tried():
    """Against all pairs, one by one, by the signs of areas."""
    random = np.random.default_rng(14)
    points = random.uniform(0, 40, (60, 3))
    points[::7, :2] *= 3
    line = labels([f"L{i // 6}" for i in range(60)])
    found = crossings(points, line)
    pairs = {
        tuple(sorted(pair)) for pair in zip(found.first, found.second, strict=True)
    }

    def area(a, b, c):
        return (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])

    pieces = [i for i in range(59) if line.number[i] == line.number[i + 1]]
    tried = set()
    for i in pieces:
        for j in pieces:
            if j <= i or j == i + 1:
                continue
            a, b, c, d = points[i], points[i + 1], points[j], points[j + 1]
            if area(a, b, c) * area(a, b, d) < 0 and area(c, d, a) * area(c, d, b) < 0:
                tried.add((i, j))
    assert pairs == tried
    assert len(tried) > 20


def test_points_at_one_place_are_told_unless_booked_as_repeats():
    places = np.array([[0.0, 0, 0], [0.03, 0, 0], [9, 9, 0], [9.01, 9, 0]])
    none = np.full(4, -1)
    repeats = np.array([-1, 0, -1, -1])
    assert at_one_place(places, repeats, none, 0.05).tolist() == [[2, 3]]
    assert at_one_place(places, none, none, 0.05).tolist() == [[0, 1], [2, 3]]
    marks = np.array([-1, -1, 4, 4])
    assert at_one_place(places, none, marks, 0.05).tolist() == [[0, 1]]


def test_polar_shots_come_back_to_the_marks_that_were_observed():
    """Identity, over the harbour, a geodetic job: a shot with the readings that the
    adjusted network itself gives to a mark lies on that mark, to a tenth of a
    millimetre."""
    from importlib.resources import files

    from brasscap.adjust.equations.sights import line_of_sight

    folder = files("brasscap.networks") / "examples" / "harbour"
    control = estimate(load(folder).network, "constrained")
    network = control.network
    directions = next(s for s in network.sights if s.kind == "direction")
    line = line_of_sight(control.nodes, directions)
    circle = control.nodes.values[directions.parameter[:, 0]]
    slope = np.linalg.norm(line, axis=1)
    zero, none = np.zeros(len(slope)), np.full(len(slope), -1)
    coefficient = 0.13
    shots = PolarShots(
        directions.name, labels([]), labels([]), directions.at, directions.at_height,
        directions.parameter[:, 0], np.arctan2(line[:, 0], line[:, 1]) - circle,
        np.arccos(line[:, 2] / slope) - coefficient * slope / (2 * 6371000.0), slope,
        np.stack([none, none], axis=1), directions.to_height,
        np.tile([1e-12, 1e-12, 1e-12], (len(slope), 1)), np.zeros((len(slope), 2)),
        coefficient, 0.0, none, zero > 0, none,
    )  # fmt: skip
    made = polar_shots(shots, control, above_geoid=False)
    grid = network.frame.grid(control.nodes.xyz[directions.to])[:, [1, 0, 2]]
    np.testing.assert_allclose(made.coordinates, grid, atol=1e-4)
