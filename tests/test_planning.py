"""Planned work in a network, against work that is scored without one."""

from pathlib import Path

import numpy as np
import pytest

from brasscap.adjust import estimate
from brasscap.adjust.design import (
    levelling,
    observed,
    position,
    state_of,
    total_station_round,
    vector,
)
from brasscap.adjust.precision.relative import relative
from brasscap.io.tables.load import load
from brasscap.networks.neighbours import observed_pairs
from brasscap.networks.planning import Planned, with_planned, without_planned
from brasscap.networks.simulate import undisturbed

EXAMPLES = Path(__file__).parents[1] / "networks" / "examples"
STAND = (0.001, 0.0015)


@pytest.fixture(scope="module")
def harbour():
    """The harbour without errors, so that partials are taken at the same place."""
    network = load(EXAMPLES / "harbour").network
    truth = estimate(network).nodes.xyz[: len(network.marks)]
    return estimate(undisturbed(network, truth)), truth


@pytest.mark.parametrize(
    ("kind", "marks", "sd"),
    [
        ("baseline", (11, 10), (0.003, 0.006)),
        ("position", (7,), (0.01, 0.02)),
        ("levelling run", (3, 5), (0.002,)),
        ("total-station round", (6, 8, 5), (1e-5, 2e-5, 0.003)),
    ],
)
def test_planned_work_buys_what_its_score_says(harbour, kind, marks, sd):
    adjustment, truth = harbour
    made = {
        "baseline": lambda: vector(adjustment, *marks, sd, STAND),
        "position": lambda: position(*marks, sd, STAND),
        "levelling run": lambda: levelling(adjustment, *marks, *sd),
        "total-station round": lambda: total_station_round(
            adjustment, marks[0], marks[1:], (*sd, 0.0), STAND
        ),
    }[kind]()
    ends = observed_pairs(adjustment.network)
    none = np.ones((len(ends), 2))
    scored = observed(state_of(adjustment, ends, none, none, []), made)
    work = Planned("NEW", kind, marks, sd, STAND)
    network = undisturbed(with_planned(adjustment.network, [work], truth))
    again = estimate(network)
    expected = relative(again, ends).covariance
    # Rows of a round are lengths at mark level there, angles at the instruments here.
    tolerance = 2e-3 if kind == "total-station round" else 1e-6
    assert scored.pairs == pytest.approx(expected, rel=tolerance, abs=1e-9)
    assert again.vtpv < 1e-6


def test_a_session_of_three_is_correlated_by_its_first(harbour):
    adjustment, truth = harbour
    work = Planned("S", "baseline", (0, 3, 5), (0.004, 0.008), (0.0, 0.0))
    vectors = with_planned(adjustment.network, [work], truth).vectors
    assert vectors.name[-2:] == ("S/1", "S/2")
    last = [len(vectors) - 2, len(vectors) - 1]
    (block,) = (
        matrix
        for batch in vectors.covariances
        for members, matrix in zip(batch.members.tolist(), batch.matrix, strict=True)
        if members == last
    )
    assert np.trace(block[:3, :3]) == pytest.approx(2 * 0.004**2 + 0.008**2)
    assert block[:3, 3:] == pytest.approx(block[:3, :3] / 2)


@pytest.mark.parametrize(
    "work",
    [
        Planned("W", "baseline", (0, 3, 5), (0.004, 0.008), (0.001, 0.0015)),
        Planned("W", "position", (4,), (0.01, 0.02), (0.001, 0.0015)),
        Planned("W", "levelling run", (2, 6), (0.001,), (0.0, 0.0)),
        Planned("W", "total-station round", (1, 2, 4), (1e-5, 1e-5, 0.002), (1e-3, 0)),
    ],
    ids=lambda work: work.kind,
)
def test_planned_work_left_out_again_is_as_if_never_planned(harbour, work):
    """Identity: the same marks, as well placed, by as many observations."""
    adjustment, truth = harbour
    other = Planned("V", "baseline", (1, 4), (0.004, 0.008), (0.001, 0.0015))
    both = undisturbed(with_planned(adjustment.network, [other, work], truth))
    left = estimate(without_planned(both, work))
    never = estimate(undisturbed(with_planned(adjustment.network, [other], truth)))
    marks = np.arange(len(truth))
    assert left.observations_count == never.observations_count
    assert left.degrees_of_freedom == never.degrees_of_freedom
    np.testing.assert_allclose(
        left.covariance(marks, marks),
        never.covariance(marks, marks),
        rtol=1e-9,
        atol=1e-16,
    )
