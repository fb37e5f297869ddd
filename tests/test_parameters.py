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
