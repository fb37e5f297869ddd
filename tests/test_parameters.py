"""Parameters by hand: a prism constant from distances between two held marks."""

from dataclasses import replace

import numpy as np
import pytest

from brasscap.adjust import estimate
from brasscap.adjust.judge import parameter_estimates
from brasscap.networks import (
    KnownMarks,
    LocalFrame,
    Marks,
    Network,
    NoSolution,
    Parameters,
    Positions,
    SetUps,
    Sights,
    Vectors,
)
from brasscap.networks.covariances import single

NONE = np.zeros(0, dtype=np.int64)


def network(lengths, sd=0.002):
    """Return repeated distances A – B of true length 100 m, one free constant."""
    n, marks = len(lengths), np.array([[0.0, 0, 0], [100, 0, 0]])
    blank = np.zeros(0)
    sights = Sights(
        "horizontal distance", tuple(f"D{i}" for i in range(n)),
        np.zeros(n, dtype=np.int64), np.ones(n, dtype=np.int64), np.full(n, -1),
        np.zeros(n), np.zeros(n), np.zeros(n), np.array(lengths), np.full(n, sd),
        np.tile([0, -1], (n, 1)), np.zeros(n), np.ones(n, dtype=bool), np.arange(n) + 2,
    )  # fmt: skip
    return Network(
        LocalFrame(),
        Marks(("A", "B"), marks, ("", ""), ("", ""), np.arange(2)),
        SetUps(
            (), NONE, (), NONE, blank, np.zeros((0, 2)), blank, blank, (), (), (), NONE
        ),
        Vectors(
            (),
            NONE,
            NONE,
            np.zeros((0, 3)),
            blank,
            blank,
            (),
            NONE,
            NONE,
            NONE.astype(bool),
            NONE,
        ),
        Positions(
            (),
            NONE,
            np.zeros((0, 3)),
            blank,
            np.zeros((0, 3), dtype=bool),
            (),
            NONE,
            NONE.astype(bool),
            NONE,
        ),
        KnownMarks(
            np.arange(2),
            marks,
            np.tile([True, True, False], (2, 1)),
            ("held", "held"),
            ("", ""),
            single(np.full((2, 3, 3), np.nan)),
            ("", ""),
            np.ones(2, dtype=bool),
            np.arange(2) + 2,
        ),
        sights=(sights,),
        parameters=Parameters(
            ("constant of P1",), ("distance constant",), np.zeros(1), np.full(1, np.nan)
        ),
        dimension="plan",
    )


def test_a_constant_is_the_mean_misfit_and_is_needed():
    """Four lengths of 2 mm, mean 34.4 mm too long: sd 1 mm, 34.4 of them, by hand."""
    made = estimate(network([100.033, 100.035, 100.0355, 100.0341]))
    found = parameter_estimates(made)
    assert found.value[0] == pytest.approx(0.0344, abs=1e-9)
    assert found.sd[0] == pytest.approx(0.001, rel=1e-9)
    assert found.statistic[0] == pytest.approx(34.4, rel=1e-6)
    assert found.needed == ("yes",)


def test_a_constant_within_its_limits_is_not_needed():
    found = parameter_estimates(estimate(network([100.001, 99.998, 100.002, 100.0])))
    assert found.needed == ("no",)
    assert found.probability[0] == pytest.approx(0.8026, abs=1e-4)  # |z| = 0.25


def test_a_prior_is_an_observation_and_not_asked_for():
    """One length 4 mm long ± 2 mm, prior 0 ± 2 mm: half each, by hand."""
    one = network([100.004])
    known = replace(one, parameters=replace(one.parameters, sd=np.array([0.002])))
    made = estimate(known)
    found = parameter_estimates(made)
    assert found.value[0] == pytest.approx(0.002, abs=1e-9)
    assert np.isnan(found.statistic[0])
    assert made.degrees_of_freedom == 1


def positions(booked, sd, parameter):
    """Return positions of the two marks, one a row, of one group."""
    n = len(booked)
    return Positions(
        tuple(f"P{i}" for i in range(n)),
        np.arange(n) % 2,
        np.array(booked),
        np.zeros(n),
        np.ones((n, 3), dtype=bool),
        single(np.tile(sd**2 * np.eye(3), (n, 1, 1))),
        np.zeros(n, dtype=np.int64),
        np.ones(n, dtype=bool),
        np.arange(n) + 2,
        np.tile(parameter, (n, 1)),
    )


def shifted(booked, sd=0.010, use=("held", "held")):
    """Return positions of A (0, 0, 0) and B (100, 0, 0), with a free shift."""
    one = network([])
    known = replace(
        one.known, components=np.ones((2, 3), dtype=bool), use_plan=use, use_height=use
    )
    ways = ("east", "north", "up")
    return replace(
        one,
        sights=(),
        known=known,
        dimension="",
        positions=positions(booked, sd, [0, 1, 2]),
        parameters=Parameters(
            tuple(f"shift {way}" for way in ways),
            ("position shift",) * 3,
            np.zeros(3),
            np.full(3, np.nan),
        ),
    )


BOOKED = [[0.049, 0.002, -0.031], [100.051, -0.004, -0.029]]
"""Shifted by 50 mm east, −1 mm north, −30 mm up in the mean."""


def test_a_shift_of_positions_is_their_mean_misfit():
    """Two of 10 mm: the mean has 7.07 mm; 50 mm is 7.07 of that, 1 mm 0.14, by hand.

    Squares about the mean, 1² + 1² + 3² + 3² + 1² + 1² mm², over 10² mm²: 0.22.
    """
    made = estimate(shifted(BOOKED))
    found = parameter_estimates(made)
    np.testing.assert_allclose(found.value, [0.050, -0.001, -0.030], rtol=0, atol=1e-12)
    np.testing.assert_allclose(found.sd, 0.010 / np.sqrt(2), rtol=1e-12)
    np.testing.assert_allclose(
        found.statistic, [7.0711, -0.1414, -4.2426], rtol=0, atol=1e-4
    )
    assert found.needed == ("yes", "no", "yes")
    assert made.vtpv == pytest.approx(0.22, rel=1e-9)
    assert made.degrees_of_freedom == 3


def test_positions_with_a_shift_hold_nothing_in_place():
    """Without a known mark, marks and shift move together."""
    with pytest.raises(NoSolution) as caught:
        estimate(shifted(BOOKED, use=("check-only", "check-only")))
    assert "shift in east" in caught.value.freedoms
    assert "hold" in caught.value.mend


def test_a_minimal_solution_then_holds_a_mark():
    """A held: the shift is what its position says, B stands where the other does."""
    made = estimate(shifted(BOOKED), "minimal")
    assert made.datum.text == "A held, all else free"
    np.testing.assert_allclose(made.nodes.values, BOOKED[0], rtol=0, atol=1e-12)
    apart = np.subtract(BOOKED[1], BOOKED[0])
    np.testing.assert_allclose(made.nodes.xyz[1], apart, rtol=0, atol=1e-12)
    assert made.degrees_of_freedom == 0


def test_without_a_shift_positions_give_the_datum():
    own = shifted(BOOKED)
    plain = replace(own, positions=replace(own.positions, parameter=None))
    assert estimate(plain, "minimal").datum.held == ()
