"""Made-up site networks, without any approximate position, come back to the truth."""

from dataclasses import replace

import numpy as np
import pytest

from brasscap.adjust import estimate
from brasscap.adjust.start import starting_positions
from brasscap.networks import GeodeticFrame, LocalFrame
from brasscap.networks.curved import CurvedFrame

GEODETIC = GeodeticFrame(7912, 2020.0)
CURVED = CurvedFrame(46.0, 0.0, centre_north=2200.0, centre_east=1500.0)
FRAMES = pytest.mark.parametrize(
    "frame", [LocalFrame(), CURVED, GEODETIC], ids=["flat", "curved", "geodetic"]
)


@FRAMES
@pytest.mark.parametrize("seed", [None, 1, 2, 3])
def test_a_traverse_from_two_known_marks(site, traverse, comes_back, frame, seed):
    made, places = site(frame)
    traverse(made)
    network = made.measured(places, seed)
    comes_back(network, places, ("P1", "P2", "P3", "EAST", "FAR"), seed)


@FRAMES
@pytest.mark.parametrize("seed", [None, 1, 2, 3])
def test_a_traverse_oriented_only_at_its_far_end(site, comes_back, frame, seed):
    """GATE is known, and so is FAR, but nothing sees one from the other."""
    made, places = site(frame, held=("GATE", "FAR"))
    route = ["GATE", "P1", "P2", "P3", "EAST", "FAR"]
    for before, at, after in zip(route, route[1:], route[2:], strict=False):
        made.polar(at, (before, after))
    network = made.measured(places, seed)
    comes_back(network, places, ("P1", "P2", "P3", "EAST"), seed)


@FRAMES
def test_a_traverse_of_angles_from_an_azimuth(site, comes_back, frame):
    made, places = site(frame, held=("GATE",))
    made.observe("azimuth", "GATE", "P1")
    made.observe("slope distance", "GATE", "P1")
    made.observe("zenith angle", "P1", "GATE")
    for back, at, to in (("GATE", "P1", "P2"), ("P1", "P2", "P3")):
        made.observe("angle", at, to, back=back)
        made.observe("slope distance", at, to)
        made.observe("zenith angle", at, to)
    comes_back(made.measured(places), places, ("P1", "P2", "P3"))


@FRAMES
@pytest.mark.parametrize("seed", [None, 1, 2, 3])
def test_a_free_station_and_what_it_sees(site, comes_back, frame, seed):
    """FREE is seen by nobody: two polar points place it, and it places P3 and NAIL."""
    made, places = site(frame)
    made.polar("FREE", ("BASE", "GATE", "P3", "NAIL"))
    network = made.measured(places, seed)
    comes_back(network, places, ("FREE", "P3", "NAIL"), seed)


@FRAMES
@pytest.mark.parametrize("seed", [None, 1, 2, 3])
def test_a_spire_intersected_from_two_stations(site, traverse, comes_back, frame, seed):
    made, places = site(frame)
    traverse(made)
    for at in ("P1", "P3"):
        made.polar(at, ("SPIRE",), ("direction", "zenith angle"))
    comes_back(made.measured(places, seed), places, ("SPIRE",), seed)


@FRAMES
@pytest.mark.parametrize("seed", [None, 1, 2, 3])
def test_a_resection_and_its_height_by_level(site, comes_back, frame, seed):
    """Directions alone to three marks; the height by levels from two sides."""
    made, places = site(frame, held=("BASE", "FAR", "SPIRE"))
    made.polar("FREE", ("BASE", "FAR", "SPIRE"), ("direction",))
    made.level("BASE", "NAIL")
    made.level("NAIL", "FREE")
    made.level("FREE", "FAR")
    made.polar("FREE", ("NAIL",), ("direction", "horizontal distance"))
    comes_back(made.measured(places, seed), places, ("FREE", "NAIL"), seed)


@FRAMES
def test_one_distance_and_two_directions(site, comes_back, frame):
    """A set-up that sees two known marks and has the distance to one of them."""
    made, places = site(frame)
    made.polar("P1", ("BASE",))
    made.polar("P1", ("GATE",), ("direction",))
    comes_back(made.measured(places), places, ("P1",))


@FRAMES
def test_vectors_that_hang_on_a_polar_point(site, comes_back, frame):
    """No vector touches a known mark; the total station reaches one of theirs."""
    made, places = site(frame)
    made.polar("GATE", ("BASE", "P1"))
    for start, end in (("P1", "P2"), ("P2", "EAST"), ("EAST", "FAR")):
        made.vector(start, end)
    comes_back(made.measured(places), places, ("P1", "P2", "EAST", "FAR"))


@FRAMES
def test_everything_at_once_in_any_order(site, traverse, comes_back, frame):
    """Traverse, free station, intersection, levels: the order of rows is nothing."""
    made, places = site(frame)
    made.polar("FREE", ("P2", "EAST", "NAIL"))
    for at in ("P1", "P3", "FREE"):
        made.polar(at, ("SPIRE",), ("direction", "zenith angle"))
    traverse(made)
    made.level("NAIL", "BASE")
    made.level("FREE", "NAIL")
    random = np.random.default_rng(7)
    for kind in made.rows:
        random.shuffle(made.rows[kind])
    network = made.measured(places)
    comes_back(network, places, made.names)


def test_angles_alone_between_marks_that_do_not_see_each_other(site, row):
    """A chain of triangles carries the scale from BASE to FAR: no distance at all."""
    made, places = site(LocalFrame(), held=("BASE", "FAR"))
    triangles = (
        ("BASE", "GATE", "P1"),
        ("GATE", "P1", "P2"),
        ("GATE", "P2", "EAST"),
        ("P2", "EAST", "FAR"),
    )
    for a, b, c in triangles:
        for back, at, to in ((a, b, c), (b, c, a), (c, a, b)):
            made.observe("angle", at, to, back=back)
    network = made.measured(places, dimension="plan")
    found = estimate(network).nodes.xyz
    rows = [row(name) for name in ("GATE", "P1", "P2", "EAST")]
    np.testing.assert_allclose(found[rows, :2], places[rows, :2], rtol=0, atol=1e-6)


def test_heights_known_on_other_marks_than_the_plan(site, comes_back, row):
    """Plan from BASE and GATE, height from NAIL only, over a level to P1."""
    made, places = site(LocalFrame(), held=())
    for name in ("BASE", "GATE"):
        made.hold(name, [*places[row(name), :2], 0.0], (True, True, False))
    made.hold("NAIL", places[row("NAIL")], (False, False, True))
    made.level("NAIL", "P1")
    made.polar("P1", ("BASE", "GATE"))
    comes_back(made.measured(places), places, ("BASE", "GATE", "P1"))


@FRAMES
def test_two_stations_that_see_two_known_marks_and_each_other(site, comes_back, frame):
    """Directions alone, no distance: the figure is solved in shape, then laid."""
    made, places = site(frame, held=("BASE", "FAR"))
    for name in ("P1", "P3"):
        made.level("BASE", name)
        made.polar(name, ("BASE", "FAR"), ("direction",))
    made.polar("P1", ("P3",), ("direction",))
    made.polar("P3", ("P1",), ("direction",))
    comes_back(made.measured(places), places, ("P1", "P3"))


@FRAMES
def test_levels_alone_start_at_their_heights(new_site, frame):
    """50 m known; 2.5 m up to B, 1 m down to C, by hand 52.5 and 51.5 m."""
    made = new_site("ABC", frame)
    zero = np.zeros(1)
    (a,) = (
        frame.cartesian(np.array([[46.0, 9.0, 50.0]]))
        if frame.kind == "geodetic"
        else frame.place(zero, zero, zero + 50.0)
    )
    made.hold("A", a, (False, False, True))
    made.level("A", "B")
    made.level("B", "C")
    network = made.network()
    levels = replace(network.levels, rise=np.array([2.5, -1.0]))
    start = starting_positions(replace(network, levels=levels))
    np.testing.assert_allclose(
        frame.heights(start), [50.0, 52.5, 51.5], rtol=0, atol=1e-6
    )
