"""Simulated surveys: their noise against the stated covariances, their blunders."""

import numpy as np
import pytest

from brasscap.networks import (
    GeodeticFrame,
    KnownMarks,
    LocalFrame,
    Marks,
    Network,
    Positions,
    SetUps,
    Vectors,
)
from brasscap.networks.covariances import Batch, single
from brasscap.networks.errors import CommandError
from brasscap.networks.simulate import BLUNDERS, Blunder, simulate

GEODETIC = GeodeticFrame(7843, 2020.0)
GEOGRAPHIC = np.array(
    [[-34.6, 136.0, 20.0], [-34.61, 136.01, 30.0], [-34.6, 136.02, 9]]
)


def plan(frame=None, *, noise=1.0, copies=1):
    """Three marks; a session of three set-ups with two correlated vectors, copied."""
    frame = frame or LocalFrame()
    if isinstance(frame, GeodeticFrame):
        true = frame.cartesian(GEOGRAPHIC)
    else:
        true = np.array([[0.0, 0, 0], [100, 0, 5], [0, 200, 9]])
    s, n = 3 * copies, 2 * copies
    set_ups = SetUps(
        name=tuple(f"O{k + 1}" for k in range(s)),
        mark=np.tile([0, 1, 2], copies),
        support=("tripod",) * s,
        session=np.repeat(np.arange(copies), 3),
        height=np.tile([1.5, 1.6, 1.7], copies),
        eccentricity=np.zeros((s, 2)),
        sd_centring=np.full(s, 0.002 * noise),
        sd_height=np.full(s, 0.003 * noise),
        reduction=("",) * s,
        antenna=("",) * s,
        tripod=("",) * s,
        row=np.arange(2, s + 2),
    )
    starts = 3 + 3 * np.arange(copies)
    ends = np.stack([starts + 1, starts + 2], axis=1).ravel()
    members = np.arange(n).reshape(copies, 2)
    matrix = np.broadcast_to(SESSION * noise**2, (copies, 6, 6))
    vectors = Vectors(
        name=tuple(f"B{k + 1}" for k in range(n)),
        start=np.repeat(starts, 2),
        end=ends,
        delta=np.full((n, 3), np.nan),
        start_offset=np.full(n, 1.5),
        end_offset=np.tile([1.6, 1.7], copies),
        covariances=(Batch(members, matrix),),
        session=np.repeat(np.arange(copies), 2),
        group=np.full(n, -1),
        used=np.ones(n, dtype=bool),
        row=np.arange(2, n + 2),
    )
    positions = Positions(
        name=("P1",),
        node=np.array([2]),
        xyz=np.full((1, 3), np.nan),
        offset=np.zeros(1),
        components=np.ones((1, 3), dtype=bool),
        covariances=single(np.diag([1e-4, 1e-4, 4e-4])[None] * noise**2),
        group=np.array([-1]),
        used=np.array([True]),
        row=np.array([2]),
    )
    known = KnownMarks(
        mark=np.array([0, 1]),
        xyz=np.full((2, 3), np.nan),
        components=np.ones((2, 3), dtype=bool),
        use_plan=("held", "weighted"),
        use_height=("held", "weighted"),
        covariances=single(np.stack([np.eye(3), np.eye(3)]) * 25e-6 * noise**2),
        source=("", ""),
        used=np.ones(2, dtype=bool),
        row=np.array([2, 3]),
    )
    marks = Marks(("A", "B", "C"), true, ("",) * 3, ("",) * 3, np.arange(2, 5))
    return Network(frame, marks, set_ups, vectors, positions, known)


# Two vectors from one receiver: its noise diag(4, 9, 16) mm² is common to both.
COMMON = np.diag([4e-6, 9e-6, 16e-6])
OWN = np.diag([5e-6, 5e-6, 25e-6])
SESSION = np.block([[COMMON + OWN, COMMON], [COMMON, COMMON + OWN]])


@pytest.mark.parametrize("frame", [LocalFrame(), GEODETIC], ids=["local", "geodetic"])
def test_without_noise_the_observations_are_the_geometry(frame):
    network = simulate(plan(frame, noise=0.0), seed=1)
    true = network.marks.approximate
    up = frame.axes(true)[:, 2]
    antenna = true + np.array([[1.5], [1.6], [1.7]]) * up
    expected = antenna[[1, 2]] - antenna[0]
    np.testing.assert_allclose(network.vectors.delta, expected, rtol=0, atol=1e-8)
    np.testing.assert_allclose(network.positions.xyz[0], true[2], rtol=0, atol=1e-8)
    np.testing.assert_allclose(network.known.xyz, true[:2], rtol=0, atol=1e-8)


def test_the_noise_has_the_covariance_of_set_ups_and_session():
    """Two vectors of a session share the processing noise and the start's set-up.

    Diagonal: 4 + 5 + 2·4, 9 + 5 + 2·4, 16 + 25 + 2·9 mm²; between the two:
    4 + 4, 9 + 4, 16 + 9. With 20000 sessions the sd of a sample variance is
    √(2/20000) = 1 %; five of them are allowed.
    """
    copies = 20000
    exact = simulate(plan(noise=0.0, copies=1), seed=1).vectors.delta
    drawn = simulate(plan(copies=copies), seed=42).vectors.delta.reshape(copies, 2, 3)
    error = (drawn - exact).reshape(copies, 6) * 1000
    found = error.T @ error / copies
    own, common = np.diag([17.0, 22.0, 59.0]), np.diag([8.0, 13.0, 25.0])
    expected = np.block([[own, common], [common, own]])
    size = np.sqrt(np.outer(np.diag(expected), np.diag(expected)))
    np.testing.assert_allclose(found / size, expected / size, rtol=0, atol=0.05)
    # The mean of 20000 errors: sd/√20000 = 0.7 % of an sd; five of them.
    assert (np.abs(error.mean(axis=0)) < 0.036 * np.sqrt(np.diag(expected))).all()


def test_the_same_seed_gives_the_same_survey():
    first, again = (simulate(plan(), seed=7).vectors.delta for _ in range(2))
    np.testing.assert_array_equal(first, again)
    assert not np.array_equal(first, simulate(plan(), seed=8).vectors.delta)


def test_held_coordinates_are_true_and_weighted_ones_are_drawn():
    network = simulate(plan(), seed=3)
    off = network.known.xyz - network.marks.approximate[:2]
    assert not off[0].any()
    assert (off[1] != 0).all()
    assert (np.abs(off[1]) < 0.005 * 5).all()


BY_HAND = {
    # Booked 56 mm too large: the antenna is lower, so vectors from it end higher.
    "set-up height": (
        Blunder("set-up height", "O1", (0, 0, 0.056)),
        [[0, 0, 0.056]] * 2,
    ),
    # Booked east − true east = +20 mm: it stood west, vectors from it are longer east.
    "set-up plan": (Blunder("set-up plan", "O1", (0.02, 0, 0)), [[0.02, 0, 0]] * 2),
    # 1.6 ft booked as 1.6 m: true 0.48768 m, so the end is 1.11232 m lower.
    "set-up height in feet": (
        Blunder("set-up height in feet", "O2"),
        [[0, 0, -1.11232], [0, 0, 0]],
    ),
    # O2 over C (0, 200, 9) instead of B (100, 0, 5).
    "set-up on wrong mark": (
        Blunder("set-up on wrong mark", "O2", other="C"),
        [[-100, 200, 4], [0, 0, 0]],
    ),
    "set-ups exchanged": (
        Blunder("set-ups exchanged", "O2", other="O3"),
        [[-100, 200, 4], [100, -200, -4]],
    ),
    "baseline": (Blunder("baseline", "B2", (0.1, 0, 0)), [[0, 0, 0], [0.1, 0, 0]]),
    "position": (Blunder("position", "P1", (0.1, 0.2, 0.3)), [[0, 0, 0]] * 2),
    "known mark": (Blunder("known mark", "B", (0.1, 0.2, 0.3)), [[0, 0, 0]] * 2),
}


SIGHTED = {
    "slope distance",
    "horizontal distance",
    "direction",
    "angle",
    "azimuth",
    "zenith angle",
    "prism constant",
    "level difference",
}
"""Kinds whose sums stand in test_simulate_sights.py."""


def test_every_kind_of_blunder_has_a_sum_by_hand():
    assert set(BY_HAND) | SIGHTED == set(BLUNDERS)


@pytest.mark.parametrize("kind", BY_HAND)
def test_a_blunder_does_what_it_says(kind):
    blunder, expected = BY_HAND[kind]
    network = plan(noise=0.0)
    clean = simulate(network, seed=5)
    spoilt = simulate(network, seed=5, blunders=[blunder])
    change = spoilt.vectors.delta - clean.vectors.delta
    np.testing.assert_allclose(change, expected, rtol=0, atol=1e-9)
    moved = spoilt.positions.xyz - clean.positions.xyz
    expected = blunder.shift if kind == "position" else (0, 0, 0)
    np.testing.assert_allclose(moved[0], expected, rtol=0, atol=1e-9)
    moved = spoilt.known.xyz - clean.known.xyz
    expected = blunder.shift if kind == "known mark" else (0, 0, 0)
    np.testing.assert_allclose(moved, [(0, 0, 0), expected], rtol=0, atol=1e-9)
    assert spoilt.set_ups is clean.set_ups  # what was booked stays as booked


def test_a_blunder_leaves_the_noise_as_it_was():
    clean = simulate(plan(GEODETIC), seed=5)
    blunder = Blunder("set-up height", "O1", (0, 0, 0.056))
    spoilt = simulate(plan(GEODETIC), seed=5, blunders=[blunder])
    change = spoilt.vectors.delta - clean.vectors.delta
    np.testing.assert_allclose(change[0], change[1], rtol=0, atol=1e-8)
    assert np.linalg.norm(change[0]) == pytest.approx(0.056, abs=1e-8)


@pytest.mark.parametrize(
    ("blunder", "words"),
    [
        (Blunder("height", "O1"), "unknown kind of blunder 'height'"),
        (Blunder("set-up height", "O9"), "no set-up 'O9'"),
        (Blunder("known mark", "C", (1, 0, 0)), "has no known coordinates"),
        (Blunder("set-up on wrong mark", "O1", other="D"), "no mark 'D'"),
    ],
)
def test_a_blunder_that_cannot_be_planted_says_why(blunder, words):
    with pytest.raises(CommandError, match=words):
        simulate(plan(), seed=1, blunders=[blunder])
