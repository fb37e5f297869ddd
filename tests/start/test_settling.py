"""How long the start takes, and an iteration that does not settle."""

from cProfile import Profile
from dataclasses import replace
from importlib import import_module

import numpy as np
import pytest

from brasscap.adjust import estimate
from brasscap.adjust.causes import suspects
from brasscap.adjust.start import guessed_marks, starting_positions
from brasscap.networks import GeodeticFrame, LocalFrame, NoSolution
from brasscap.networks.curved import CurvedFrame

GEODETIC = GeodeticFrame(7912, 2020.0)
CURVED = CurvedFrame(46.0, 0.0, centre_north=2200.0, centre_east=1500.0)
FRAMES = pytest.mark.parametrize(
    "frame", [LocalFrame(), CURVED, GEODETIC], ids=["flat", "curved", "geodetic"]
)


def test_ten_thousand_vectors_are_placed(new_site):
    marks = 5001
    made = new_site([f"M{i}" for i in range(marks)])
    random = np.random.default_rng(3)
    places = random.uniform(0, 10_000, (marks, 3))
    made.hold("M0", places[0])
    made.vectors = [(i, i + 1) for i in range(marks - 1)]
    made.vectors += [(i, int(random.integers(marks))) for i in range(marks - 1)]
    made.vectors = [(a, b) for a, b in made.vectors if a != b]
    start = starting_positions(made.measured(places))
    np.testing.assert_allclose(start, places, rtol=0, atol=1e-6)


def test_twelve_thousand_sights_start_in_steps_of_their_number(new_site):
    """Eight times the traverse takes some eight times the calls, not sixty-four."""
    taken = []
    for count in (250, 2000):
        names = [f"M{i}" for i in range(count)]
        made = new_site(names)
        step = np.arange(count)
        places = np.stack([50.0 * step, 20.0 * (step % 2), 0.1 * step], axis=1)
        made.hold("M0", places[0])
        made.hold(names[-1], places[-1])
        for before, at, after in zip(names, names[1:], names[2:], strict=False):
            made.polar(at, (before, after))
        network = made.measured(places)
        with Profile() as calls:
            start = starting_positions(network)
        taken.append(sum(one.callcount for one in calls.getstats()))
        np.testing.assert_allclose(start, places, rtol=0, atol=1e-3)
    assert taken[1] < 12 * taken[0]


def test_an_iteration_that_does_not_settle_names_what_fits_worst(
    site, traverse, row, monkeypatch
):
    """The distance BASE – P1 is booked 100 m too long; its sd is 2 mm: 50,000 of them.

    P1 is placed from GATE, so the start does not use it. One step is allowed.
    """
    monkeypatch.setattr(import_module("brasscap.adjust.estimate"), "LIMIT", 1)
    made, places = site(LocalFrame())
    traverse(made)
    length = np.linalg.norm(places[row("P1")] - places[row("BASE")])
    made.observe("slope distance", "BASE", "P1")
    more = made.measured(places)
    slopes = more.sights[0]
    value = np.append(slopes.value[:-1], length + 100.0)
    wrong = replace(more, sights=(replace(slopes, value=value), *more.sights[1:]))
    with pytest.raises(NoSolution) as caught:
        estimate(wrong)
    assert caught.value.marks == ("BASE", "P1")
    assert f"slope distance S{slopes.row[-1]} BASE – P1" in caught.value.problem
    assert (
        "booked 100.000 m more than they give, 50000 standard" in caught.value.problem
    )
    assert "value, unit and marks" in caught.value.mend


def wrong_zenith_angle(site, traverse, degrees):
    """The zenith angle FREE – SPIRE is booked too small."""
    made, places = site(LocalFrame())
    traverse(made)
    made.polar("FREE", ("P2", "EAST", "NAIL"))
    for at in ("P1", "P3", "FREE"):
        made.polar(at, ("SPIRE",), ("direction", "zenith angle"))
    network = made.measured(places)
    zeniths = network.sights[-1]
    off = np.append(np.zeros(len(zeniths) - 1), np.radians(degrees))
    wrong = replace(zeniths, value=zeniths.value - off)
    return replace(network, sights=(*network.sights[:-1], wrong))


def test_a_gross_error_that_settles_slowly_is_named_by_its_test(site, traverse):
    """A zenith angle booked 67° off: steps go on by a part of what is left."""
    found = suspects(estimate(wrong_zenith_angle(site, traverse, 67.0)))
    assert found.verdict[0] == "fails"
    assert "zenith angle" in found.words[0]
    assert "FREE – SPIRE" in found.words[0]


def test_a_gross_error_that_no_iteration_can_follow_is_named(site, traverse):
    """A zenith angle booked 90° off; FREE – SPIRE is where the fault was put."""
    with pytest.raises(NoSolution) as caught:
        estimate(wrong_zenith_angle(site, traverse, 90.0))
    assert caught.value.marks == ("FREE", "SPIRE")
    assert "booked 90.0000° less than they give" in caught.value.problem


@FRAMES
@pytest.mark.parametrize("seed", range(3))
def test_an_iteration_settles_from_forty_metres_off(
    site, traverse, frame, seed, monkeypatch
):
    """Starting positions that somebody guessed: sd 40 m in plan, 12 m in height."""
    made, places = site(frame)
    made.polar("FREE", ("P2", "EAST", "NAIL"))
    for at in ("P1", "P3", "FREE"):
        made.polar(at, ("SPIRE",), ("direction", "zenith angle"))
    traverse(made)
    network = made.measured(places)
    off = np.random.default_rng(seed).normal(size=places.shape) * [40, 40, 12]
    axes = network.frame.axes(places)
    guessed = places + np.einsum("nij,ni->nj", axes, off)
    room = import_module("brasscap.adjust.estimate")
    monkeypatch.setattr(room, "starting_positions", lambda _: guessed)
    found = estimate(network).nodes.xyz
    np.testing.assert_allclose(found, places, rtol=0, atol=1e-6)


def test_a_start_from_a_guess_blames_no_observation(site, monkeypatch):
    """Three stations that see each other, and known marks one by one: four sights fix
    the triangle's place only together. One step is allowed."""
    monkeypatch.setattr(import_module("brasscap.adjust.estimate"), "LIMIT", 1)
    made, places = site(LocalFrame(), held=("BASE", "FAR", "SPIRE"))
    for at, targets in (
        ("P1", ("P2", "P3", "BASE", "SPIRE")),
        ("P2", ("P1", "P3", "SPIRE")),
        ("P3", ("P1", "P2", "FAR")),
    ):
        made.polar(at, targets, ("direction",))
    network = made.measured(places, dimension="plan")
    assert guessed_marks(network) == ("P1", "P2", "P3")
    with pytest.raises(NoSolution) as caught:
        estimate(network)
    assert caught.value.marks == ("P1", "P2", "P3")
    assert "started from a guess" in caught.value.problem
    assert "stations.csv" in caught.value.mend
