"""Simulated sights and levels: by hand, against the equations, their noise."""

from dataclasses import replace

import numpy as np
import pytest

from brasscap.adjust.datum import datum
from brasscap.adjust.equations import equations
from brasscap.adjust.nodes import nodes_at
from brasscap.networks import (
    CommandError,
    GeodeticFrame,
    KnownMarks,
    Levels,
    LocalFrame,
    Marks,
    Network,
    Parameters,
    Positions,
    SetUps,
    Sights,
    Vectors,
)
from brasscap.networks.simulate import Blunder, simulate

GEODETIC = GeodeticFrame(7843, 2020.0)
KINDS = (
    "slope distance",
    "horizontal distance",
    "direction",
    "angle",
    "azimuth",
    "zenith angle",
)
ORIENTATION, CONSTANT, SCALE, REFRACTION, UNDULATION = range(5)
PARAMETERS = Parameters(
    ("orientation of T, round 1", "constant", "scale", "refraction", "undulation"),
    ("orientation", "distance constant", "distance scale", "refraction", "undulation"),
    np.array([np.nan, 0.002, 4e-6, 0.13, 40.0]),
    np.array([np.nan, 0.001, 1e-6, 0.05, 0.003]),
)


def plan(frame=None, *, noise=1.0, copies=1):
    """An instrument T over A and a target B1 over B; every kind, copied."""
    frame = frame or LocalFrame()
    true = np.array([[0.0, 0, 100], [300, 400, 112], [-200, 100, 95]])
    if isinstance(frame, GeodeticFrame):
        true = frame.cartesian(
            np.array([[-34.6, 136.0, 20], [-34.603, 136.004, 32], [-34.598, 136.0, 9]])
        )
    blank, three = ("",) * 3, np.arange(2, 5)
    set_ups = SetUps(
        ("T", "B1"), np.array([0, 1]), ("tripod", "target"), np.full(2, -1),
        np.array([1.5, 1.7]), np.zeros((2, 2)), np.full(2, 0.001 * noise),
        np.full(2, 0.0015 * noise), ("",) * 2, ("",) * 2, ("",) * 2, np.arange(2, 4),
    )  # fmt: skip
    parameters = replace(PARAMETERS, sd=PARAMETERS.sd * noise)
    return Network(
        frame,
        Marks(("A", "B", "C"), true, blank, blank, three),
        set_ups,
        no_vectors(),
        no_positions(),
        no_known(),
        sights=tuple(sights(kind, noise, copies) for kind in KINDS),
        levels=levels(noise, copies),
        parameters=parameters,
    )


def sights(kind, noise, copies):
    """From T (node 3) to B1 (node 4); the angle's back target is mark C (node 2)."""
    n = copies
    parameter = np.full((n, 2), -1)
    if kind == "direction":
        parameter[:, 0] = ORIENTATION
    elif kind == "slope distance":
        parameter[:] = CONSTANT, SCALE
    elif kind == "zenith angle":
        parameter[:, 0] = REFRACTION
    sd = 0.002 if kind.endswith("distance") else 1e-5
    return Sights(
        kind, tuple(f"{kind} {k}" for k in range(n)), np.full(n, 3), np.full(n, 4),
        np.full(n, 2 if kind == "angle" else -1), np.full(n, 1.5), np.full(n, 1.7),
        np.full(n, 1.2), np.full(n, np.nan), np.full(n, sd * noise), parameter,
        np.full(n, 0.2), np.ones(n, dtype=bool), np.arange(n) + 2,
    )  # fmt: skip


def levels(noise, copies):
    n = copies
    return Levels(
        tuple(f"L{k}" for k in range(n)), np.full(n, 0), np.full(n, 1),
        np.full(n, np.nan), np.full(n, 0.001 * noise), np.full(n, 39.5),
        np.full(n, 0.0), np.tile([-1, UNDULATION], (n, 1)), np.ones(n, dtype=bool),
        np.arange(n) + 2,
    )  # fmt: skip


def no_vectors():
    none, row = np.zeros(0), np.zeros(0, dtype=int)
    used = row.astype(bool)
    return Vectors((), row, row, np.zeros((0, 3)), none, none, (), row, row, used, row)


def no_positions():
    none, row = np.zeros((0, 3)), np.zeros(0, dtype=int)
    used = row.astype(bool)
    return Positions((), row, none, row * 0.0, none.astype(bool), (), row, used, row)


def no_known():
    none, row = np.zeros((0, 3)), np.zeros(0, dtype=int)
    used = row.astype(bool)
    return KnownMarks(row, none, none.astype(bool), (), (), (), (), used, row)


def by_kind(network):
    return {some.kind: some.value for some in network.sights}


def test_readings_are_the_sums_by_hand():
    """300 m east, 400 m north: 500 m level. Up 12 + 1.7 − 1.5 = 12.2 m.

    Slope √(500² + 12.2²) = 500.14882 m, ·(1 + 4 ppm) + 2 mm. Azimuth
    atan(300/400) = 36.8699°; C is at 296.5651° (−200 east, 100 north), so the
    angle is 100.3048°. Zenith angle atan2(500, 12.2) = 88.60225°, less refraction
    0.13·500.149/(2·6371000) rad = 5.1028e-6 rad. Level: 12 m less undulation
    40 − 39.5 m.
    """
    simulated = simulate(plan(noise=0.0), seed=1)
    read = {kind: value[0] for kind, value in by_kind(simulated).items()}
    slope = np.hypot(500, 12.2)
    assert read["slope distance"] == pytest.approx(slope * 1.000004 + 0.002, abs=1e-9)
    assert read["horizontal distance"] == pytest.approx(500.0, abs=1e-9)
    assert np.degrees(read["azimuth"]) == pytest.approx(36.8698976, abs=1e-6)
    assert np.degrees(read["angle"]) == pytest.approx(100.3048465, abs=1e-6)
    zenith = np.arctan(500 / 12.2) - 0.13 * slope / (2 * 6371000)
    assert read["zenith angle"] == pytest.approx(zenith, abs=1e-12)
    assert simulated.levels.rise[0] == pytest.approx(11.5, abs=1e-9)


@pytest.mark.parametrize("frame", [LocalFrame(), GEODETIC], ids=["local", "geodetic"])
def test_noiseless_readings_leave_the_equations_no_misclosure(frame):
    """Two ways from places to readings: this room's, and that of the adjustment."""
    network = simulate(plan(frame, noise=0.0), seed=1)
    true = network.marks.approximate
    values = np.nan_to_num(PARAMETERS.start)
    read = by_kind(network)
    values[ORIENTATION] = np.mod(read["azimuth"][0] - read["direction"][0], 2 * np.pi)
    nodes = nodes_at(network, true, values=values)
    found = equations(network, datum(network, "free"), nodes)
    for some in found:
        if some.kind in (*KINDS, "level difference"):
            np.testing.assert_allclose(some.misclosure, 0.0, rtol=0, atol=2e-9)
    assert {some.kind for some in found} >= {*KINDS, "level difference"}


def test_readings_scatter_by_their_sd_about_what_their_set_ups_see():
    """10000 readings of one set-up: the mean is off by the set-up, all together.

    The sd of a sample sd is 1/√(2·10000) = 0.7 %; five of them are allowed. The
    mean of the zenith angle is off by heights and refraction of both ends,
    √2·1.5 mm / 500 m = 4.2e-6 rad and more, where 1e-5/√10000 = 1e-7 is chance.
    """
    exact = by_kind(simulate(plan(noise=0.0), seed=3))
    drawn = simulate(plan(copies=10000), seed=3)
    for some in drawn.sights:
        off = np.mod(some.value - exact[some.kind] + np.pi, 2 * np.pi) - np.pi
        if some.kind == "direction":
            continue
        assert off.std() == pytest.approx(some.sd[0], rel=0.035)
        if some.kind == "zenith angle":
            assert abs(off.mean()) > 5e-7
        assert abs(off.mean()) < 0.02
    assert drawn.levels.rise.std() == pytest.approx(0.001, rel=0.035)


def test_parameters_are_drawn_about_their_priors_and_circles_anywhere():
    """Undulation alone is off the levels: sd 3 mm, over 400 seeds within 5 sds."""
    one = replace(plan(), set_ups=plan(noise=0.0).set_ups)
    one = replace(one, levels=levels(0.0, 1))
    rises = [simulate(one, seed=seed).levels.rise[0] for seed in range(400)]
    assert np.std(rises) == pytest.approx(0.003, rel=5 / np.sqrt(800))
    assert np.mean(rises) == pytest.approx(11.5, abs=5 * 0.003 / 20)
    circles = [by_kind(simulate(one, seed=seed))["direction"][0] for seed in range(400)]
    # Uniform: a quarter of 400 each way, sd √(400·¼·¾) = 8.7.
    quarters = np.histogram(circles, bins=4, range=(0, 2 * np.pi))[0]
    assert (np.abs(quarters - 100) < 5 * 8.7).all()


def test_sights_leave_vectors_and_levels_as_they_were():
    network = plan()
    alone = simulate(replace(network, sights=()), seed=9)
    np.testing.assert_array_equal(
        alone.levels.rise, simulate(network, seed=9).levels.rise
    )


BY_HAND = {
    kind: (Blunder(kind, f"{kind} 1", (0.01, 0, 0)), {kind: (0.0, 0.01)})
    for kind in KINDS
} | {
    "level difference": (Blunder("level difference", "L1", (0.01, 0, 0)), {}),
    # Every distance to the prism over B, slope or horizontal.
    "prism constant": (
        Blunder("prism constant", "B1", (0.03, 0, 0)),
        {"slope distance": (0.03, 0.03), "horizontal distance": (0.03, 0.03)},
    ),
}


@pytest.mark.parametrize("kind", BY_HAND)
def test_a_blunder_of_a_reading_does_what_it_says(kind):
    blunder, expected = BY_HAND[kind]
    network = plan(copies=2)
    clean = simulate(network, seed=5)
    spoilt = simulate(network, seed=5, blunders=[blunder])
    after = by_kind(spoilt)
    for some, before in by_kind(clean).items():
        change = after[some] - before
        np.testing.assert_allclose(change, expected.get(some, 0), rtol=0, atol=1e-9)
    change = spoilt.levels.rise - clean.levels.rise
    expected = (0, 0.01) if kind == "level difference" else (0, 0)
    np.testing.assert_allclose(change, expected, rtol=0, atol=1e-12)


def test_a_target_booked_too_high_is_seen_too_low():
    """Booked 36 mm too large: the target is 36 mm lower, 500 m away.

    The zenith angle grows by 0.036·500/(500² + 12.2²) rad = 7.196e-5 rad.
    """
    network = plan(noise=0.0)
    blunder = Blunder("set-up height", "B1", (0, 0, 0.036))
    clean = by_kind(simulate(network, seed=5))
    spoilt = by_kind(simulate(network, seed=5, blunders=[blunder]))
    change = spoilt["zenith angle"] - clean["zenith angle"]
    assert change[0] == pytest.approx(0.036 * 500 / (500**2 + 12.2**2), rel=1e-5)
    assert (spoilt["azimuth"] == clean["azimuth"]).all()


@pytest.mark.parametrize(
    ("blunder", "words"),
    [
        (Blunder("direction", "P9", (1, 0, 0)), "no direction 'P9'"),
        (Blunder("level difference", "L9"), "no levelled run 'L9'; there are L0"),
        (Blunder("prism constant", "B9"), "no set-up 'B9'"),
    ],
)
def test_a_reading_that_is_not_there_is_named(blunder, words):
    with pytest.raises(CommandError, match=words):
        simulate(plan(), seed=1, blunders=[blunder])
