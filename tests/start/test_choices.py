"""Two places for one mark, hopeless geometry, pieces that hang loose: in words."""

import numpy as np
import pytest

from brasscap.adjust import estimate
from brasscap.adjust.start import starting_positions
from brasscap.networks import LocalFrame, NoSolution

OFF = np.array([20.0, -15.0, 3.0])


def two_distances(site, row, approximate=None):
    made, places = site(LocalFrame())
    for name in ("BASE", "GATE"):
        made.observe("horizontal distance", name, "P1")
    if approximate is not None:
        made.approximate[row("P1")] = approximate
    return made, places


def test_two_places_that_fit_alike_are_said(site, row):
    """Two distances: the place to the left of the base and its image to the right.

    P1 lies 189.3 m off the line BASE – GATE (area of the triangle, by hand: the cross
    product of (260, 40) and (120, 210) is 49,800 m², over 263.06 m): 378.6 m apart.
    """
    made, places = two_distances(site, row)
    with pytest.raises(NoSolution) as caught:
        estimate(made.measured(places, dimension="plan"))
    assert caught.value.marks == ("P1",)
    assert "two places, 378.6" in caught.value.problem
    assert "BASE, GATE" in caught.value.problem
    assert "stations.csv" in caught.value.mend


@pytest.mark.parametrize("side", [1, -1])
def test_an_approximate_position_chooses_between_two(site, row, side):
    """A hundred metres off it still tells one side from the other."""
    _, truth = site(LocalFrame())
    base, gate, p1 = (truth[row(n), :2] for n in ("BASE", "GATE", "P1"))
    along = (gate - base) / np.linalg.norm(gate - base)
    image = base + 2 * along * (along @ (p1 - base)) + (base - p1)
    wanted = p1 if side > 0 else image
    beside = np.append(wanted + np.array([60.0, 80.0]), 0.0)
    made, places = two_distances(site, row, beside)
    found = estimate(made.measured(places, dimension="plan")).nodes.xyz
    np.testing.assert_allclose(found[row("P1"), :2], wanted, rtol=0, atol=1e-6)


def test_another_observation_chooses_between_two(site, row):
    made, places = two_distances(site, row)
    made.observe("angle", "P1", "GATE", back="BASE")
    network = made.measured(places, dimension="plan")
    found = estimate(network).nodes.xyz
    np.testing.assert_allclose(
        found[row("P1"), :2], places[row("P1"), :2], rtol=0, atol=1e-6
    )


@pytest.mark.parametrize("seed", [None, 1, 2])
def test_the_danger_circle_is_said(new_site, seed):
    """Three marks and the station on a circle of 200 m: angles on a chord are equal
    all along it (Euclid III.21)."""
    around = np.radians([10.0, 100.0, 200.0, 290.0])
    places = np.stack([200 * np.sin(around), 200 * np.cos(around), 0 * around], axis=1)
    made = new_site("ABCU")
    for name, place in zip("ABC", places, strict=False):
        made.hold(name, place)
    made.polar("U", "ABC", ("direction",))
    with pytest.raises(NoSolution) as caught:
        estimate(made.measured(places, seed, "plan"))
    assert caught.value.marks == ("U",)
    assert "danger circle" in caught.value.problem
    assert "A, B, C" in caught.value.problem
    assert "distance" in caught.value.mend


def test_a_distance_takes_a_station_off_the_danger_circle(new_site):
    around = np.radians([10.0, 100.0, 200.0, 290.0])
    places = np.stack([200 * np.sin(around), 200 * np.cos(around), 0 * around], axis=1)
    made = new_site("ABCU")
    for name, place in zip("ABC", places, strict=False):
        made.hold(name, place)
    made.polar("U", "ABC", ("direction",))
    made.observe("horizontal distance", "U", "A")
    found = estimate(made.measured(places, dimension="plan")).nodes.xyz
    np.testing.assert_allclose(found[3, :2], places[3, :2], rtol=0, atol=1e-6)


def test_lines_of_sight_that_run_together_are_said(new_site):
    """A, B and U on one line: nothing says how far U is."""
    places = np.array([[0.0, 0, 0], [100, 0, 0], [400, 0, 0], [0, 300, 0]])
    made = new_site("ABUC")
    for name, place in zip("ABC", places[[0, 1, 3]], strict=True):
        made.hold(name, place)
    for at in "AB":
        made.polar(at, "CU", ("direction",))
    with pytest.raises(NoSolution) as caught:
        estimate(made.measured(places, dimension="plan"))
    assert caught.value.marks == ("U",)
    assert "run together" in caught.value.problem
    assert "to the side" in caught.value.mend


def test_distances_that_do_not_meet_are_said(new_site):
    """40 m and 50 m from marks 100 m apart."""
    made = new_site("ABU")
    made.hold("A", [0.0, 0, 0])
    made.hold("B", [100.0, 0, 0])
    made.observe("horizontal distance", "A", "U", 40.0)
    made.observe("horizontal distance", "B", "U", 50.0)
    with pytest.raises(NoSolution) as caught:
        estimate(made.network("plan"))
    assert caught.value.marks == ("U",)
    assert "do not meet" in caught.value.problem


def test_what_hangs_loose_floats_in_words(site):
    """A free station with nothing known but itself: the estimate names its freedoms."""
    made, places = site(LocalFrame(), held=("BASE",))
    made.polar("FREE", ("P2", "P3"))
    with pytest.raises(NoSolution) as caught:
        estimate(made.measured(places))
    assert set(caught.value.marks) == {"FREE", "P2", "P3"}
    assert "shift in east" in caught.value.freedoms


def test_approximate_positions_serve_for_what_nothing_else_places(site, row):
    """P2 floats in plan for the start, but its own approximate place, 20 m off, holds
    until the estimate says by its direction and distances where it is."""
    made, places = site(LocalFrame(), held=("BASE", "GATE", "FAR"))
    made.approximate[:] = places + OFF
    made.polar("P2", ("P3", "P1"))
    made.polar("P3", ("P2",), ("direction",))
    made.polar("P3", ("EAST",), ("direction",))
    start = starting_positions(made.measured(places))
    rows = [row(name) for name in ("P1", "P2", "P3")]
    found, true = start[rows], places[rows] + OFF
    np.testing.assert_allclose(found, true, rtol=0, atol=1.0)
