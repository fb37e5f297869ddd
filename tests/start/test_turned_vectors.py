"""Vectors whose turn about the vertical nobody knows: the known marks give it."""

from dataclasses import replace

import numpy as np
import pytest

from brasscap.adjust import estimate
from brasscap.adjust.judge import blunder_tests, parameter_estimates
from brasscap.networks import LocalFrame, NoSolution, Parameters
from brasscap.networks.curved import CurvedFrame
from brasscap.networks.simulate import simulate

FRAMES = [LocalFrame(), CurvedFrame(46.0, 60.0, 2300.0, 1400.0)]
TURNS = [0.0, 5.0, 90.0, 179.0, -120.0]


def turned(network, degrees, scale=0.0):
    """Return the network with all vectors turned against the clock, from above.

    A site grid's third cartesian axis is the vertical of its centre, so that the turn
    is one of the first two: e' = e cos − n sin, n' = e sin + n cos.
    """
    angle = np.radians(degrees)
    east, north, up = network.vectors.delta.T
    delta = np.stack(
        [
            east * np.cos(angle) - north * np.sin(angle),
            east * np.sin(angle) + north * np.cos(angle),
            up,
        ],
        axis=1,
    )
    before = len(network.parameters)
    parameters = Parameters(
        (*network.parameters.name, "scale of G", "turn of G"),
        (*network.parameters.kind, "vector scale", "vector turn"),
        np.append(network.parameters.start, [0.0, np.nan]),
        np.append(network.parameters.sd, [np.nan, np.nan]),
    )
    number = [before if scale else -1, before + 1]
    vectors = replace(
        network.vectors,
        delta=(1 + scale) * delta,
        parameter=np.tile(number, (len(delta), 1)),
    )
    return replace(network, vectors=vectors, parameters=parameters)


def star(site, frame, held=("BASE", "FAR")):
    made, places = site(frame, held)
    for start, end in (
        ("BASE", "P1"), ("P1", "P2"), ("P2", "FAR"), ("BASE", "P2"), ("P1", "FAR"),
    ):  # fmt: skip
        made.vector(start, end)
    return made, places


@pytest.mark.parametrize("frame", FRAMES, ids=["flat", "curved"])
@pytest.mark.parametrize("degrees", TURNS)
def test_two_known_marks_give_any_turn(site, row, frame, degrees):
    made, places = star(site, frame)
    found = estimate(turned(made.measured(places), degrees))
    marks = [row(name) for name in ("P1", "P2")]
    np.testing.assert_allclose(found.nodes.xyz[marks], places[marks], rtol=0, atol=1e-6)
    gap = np.mod(np.degrees(found.nodes.values[-1]) - degrees + 180, 360) - 180
    # A micrometre over the 900 m between the known marks.
    assert abs(gap) < np.degrees(1e-6 / 900)
    assert found.degrees_of_freedom == 5 * 3 - 2 * 3 - 1


@pytest.mark.parametrize("frame", FRAMES, ids=["flat", "curved"])
def test_a_scale_is_found_beside_the_turn(site, frame):
    made, places = star(site, frame)
    found = estimate(turned(made.measured(places), 35.0, 20e-6))
    assert found.nodes.values[-2] == pytest.approx(20e-6, abs=1e-9)
    estimates = parameter_estimates(found)
    assert estimates.kind == ("vector scale", "vector turn")
    # Zero is no more likely a turn than any other, so that it is not asked for.
    assert estimates.needed[1] == ""
    assert np.isnan(estimates.prior[1])


@pytest.mark.parametrize("frame", FRAMES, ids=["flat", "curved"])
def test_one_known_mark_leaves_the_turn(site, frame):
    made, places = star(site, frame, held=("BASE",))
    with pytest.raises(NoSolution) as caught:
        estimate(turned(made.measured(places), 50.0))
    assert caught.value.freedoms == ("turn about the vertical",)
    assert set(caught.value.marks) >= {"P1", "P2", "FAR"}
    assert "hold a second known mark" in caught.value.mend


def test_marks_of_a_traverse_give_the_turn(site, traverse, row):
    """Known marks at one end only: sights place P1 and P3, and those the vectors."""
    made, places = site(LocalFrame(), ("BASE", "GATE"))
    traverse(made)
    for start, end in (("P1", "SPIRE"), ("SPIRE", "P3"), ("SPIRE", "NAIL")):
        made.vector(start, end)
    found = estimate(turned(made.measured(places), 140.0))
    marks = [row(name) for name in ("P1", "P3", "SPIRE", "NAIL")]
    np.testing.assert_allclose(found.nodes.xyz[marks], places[marks], rtol=0, atol=1e-6)


def test_a_blunder_is_named_in_the_axes_of_the_site(site):
    """30 mm east of the site, in vectors turned by 90°: their north (e' = −n, n' = e).

    What the rest says of it is 30 mm exactly, as there is no other error.
    """
    made, places = star(site, LocalFrame())
    network = turned(made.measured(places), 90.0)
    delta = network.vectors.delta.copy()
    delta[3, 1] += 0.030
    wrong = replace(network, vectors=replace(network.vectors, delta=delta))
    tests = blunder_tests(estimate(wrong))
    first = int(tests.order()[0])
    assert tests.name[first] == "V3"
    np.testing.assert_allclose(
        tests.tests.shift[first], [0.030, 0.0, 0.0], rtol=0, atol=1e-5
    )


def test_a_minimal_solution_holds_an_azimuth_for_the_turn(site):
    made, places = star(site, LocalFrame())
    minimal = estimate(turned(made.measured(places), 25.0), "minimal")
    assert minimal.datum.text == "BASE and azimuth BASE – FAR held, all else free"
    np.testing.assert_allclose(minimal.vtpv, 0.0, rtol=0, atol=1e-6)


def noisy(network, seed=3, sd=0.005):
    delta = network.vectors.delta
    noise = sd * np.random.default_rng(seed).standard_normal(delta.shape)
    return replace(network, vectors=replace(network.vectors, delta=delta + noise))


@pytest.mark.parametrize("scale", [0.0, 20e-6])
def test_free_and_minimal_solutions_have_the_same_residuals(site, scale):
    """Laid on its marks, a free network gives up what its group's parameters take.

    A turn of 1e-5 is laid on to first order: 1e-10 of 900 m.
    """
    made, places = star(site, LocalFrame())
    network = noisy(turned(made.measured(places), 25.0, scale))
    minimal, free = (
        estimate(network, mode, **more)
        for mode, more in (("minimal", {}), ("free", {"over": "all"}))
    )
    np.testing.assert_allclose(
        minimal.residuals["baseline"], free.residuals["baseline"], rtol=0, atol=2e-7
    )
    assert minimal.degrees_of_freedom == free.degrees_of_freedom
    four = np.arange(len(network.marks))
    sums = [
        np.nansum(np.trace(m.covariance(four, four).sum(0))) for m in (free, minimal)
    ]
    assert sums[0] < sums[1]


def test_a_simulated_survey_comes_back(site, row):
    """The simulation turns vectors by its own sums; without noise marks come back."""
    made, places = star(site, FRAMES[1])
    network = turned(made.measured(places), 0.0)
    quiet = tuple(
        replace(b, matrix=1e-14 * b.matrix) for b in network.vectors.covariances
    )
    plan = replace(network, vectors=replace(network.vectors, covariances=quiet))
    drawn = simulate(plan, seed=5, truth=places)
    found = estimate(drawn)
    marks = [row(name) for name in ("P1", "P2")]
    np.testing.assert_allclose(found.nodes.xyz[marks], places[marks], rtol=0, atol=1e-6)
    assert abs(found.nodes.values[-1]) > 0.01
