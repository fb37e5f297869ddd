"""Robust estimates find suspects and never change a result."""

import runpy
from itertools import combinations
from pathlib import Path

import numpy as np
import pytest

from brasscap.adjust import estimate
from brasscap.adjust.causes import suspects
from brasscap.adjust.causes.robust_start import best_pair
from brasscap.adjust.causes.screening import causes_made
from brasscap.adjust.causes.simulated import simulated
from brasscap.adjust.judge.limits import b_method
from brasscap.adjust.judge.robust import huber, least_absolute, robust_blocks
from brasscap.networks.simulate import Blunder, simulate

MAKERS = runpy.run_path(str(Path(__file__).parent / "make_examples"))
levels_only = runpy.run_path(
    str(Path(__file__).parent / "test_variance_components.py")
)["levels_only"]


def test_copper_in_flour(case):
    problem = case("robust_huber_l1_copper_in_flour")
    design = np.array(problem["data"]["A"])
    observed = np.array(problem["data"]["l"])
    estimated, scale = huber(design, observed, problem["data"]["huber_k"])
    plain = np.linalg.lstsq(design, observed)[0]
    problem.check(
        lad=list(least_absolute(design, observed)),
        huber=list(estimated),
        huber_scale=scale,
        ols=list(plain),
    )


def test_a_block_off_by_much_has_no_weight_and_the_estimate_is_as_before():
    """Nine runs of one rise, one 20 mm off at sd 1 mm."""
    rises = 1 + 0.001 * np.array([0.3, -0.8, 1.1, 20, -0.2, 0.5, -1.2, 0.9, -0.4])
    runs = [("A", "B", rise, 0.001, -1) for rise in rises]
    adjustment = estimate(levels_only(["A", "B"], ["A"], runs))
    found = robust_blocks(adjustment)
    assert np.flatnonzero(found.weight < 0.5).tolist() == [3]
    # Deleted residual by hand: 20 less the mean of the others, 0.025, over √(1 + 1/8).
    assert found.deviation[3] == pytest.approx(19.975 / np.sqrt(1.125), rel=1e-3)
    assert adjustment.nodes.xyz[1, 2] == pytest.approx(rises.mean(), abs=1e-9)


def two_blunders():
    """Harbour's plan observed, with two heights booked wrong in one session."""
    plan = MAKERS["planned"]("harbour")
    blunders = [
        Blunder("set-up height", "S3-ICE", (0.0, 0.0, 0.060)),
        Blunder("set-up height", "S4-DOCK", (0.0, 0.0, 0.060)),
    ]
    return estimate(simulate(plan, seed=5, blunders=blunders))


def test_the_best_pair_is_the_best_of_all_pairs_tried_singly():
    adjustment = two_blunders()
    made = causes_made(adjustment)
    joint = made.joint(made.rows.misclosure)
    options = adjustment.network.options
    i, j = best_pair(joint, options)
    widths = np.diff(joint.first)

    def gain(one, other):
        both, _ = joint.statistic([one, other])
        limits = [b_method(options.outlier_alpha, options.power, int(widths[k]))[1]
                  for k in (one, other)]  # fmt: skip
        return both - sum(limits)

    heights = [k for k, cause in enumerate(made.causes)
               if cause.kind == "set-up height" and widths[k] == 1]  # fmt: skip
    others = [gain(a, b) for a, b in combinations(heights, 2)]
    assert gain(i, j) >= max(others) - 1e-6


def test_another_start_is_taken_only_where_it_costs_clearly_less():
    """Both named; the residuals and the estimate are those of least squares."""
    adjustment = two_blunders()
    before = adjustment.nodes.xyz.copy()
    found = suspects(adjustment)
    named = {name for k in found.search.model for name in found.made.causes[k].about}
    assert {"S3-ICE", "S4-DOCK"} <= named
    assert (adjustment.nodes.xyz == before).all()
    assert found.search.started in ((), found.search.model[:2])


def test_simulated_significance_is_that_of_one_test_where_there_is_one():
    """Two runs of one rise: their tests are one and the same, and no Šidák is due.

    The chance of a larger one is that of chi-square with one degree of freedom.
    """
    runs = [("A", "B", 1.0, 0.001, -1), ("A", "B", 1.003, 0.001, -1)]
    found = suspects(estimate(levels_only(["A", "B"], ["A"], runs)))
    made = simulated(found, 20_000)
    assert made.simulation is not None
    alone = float(found.basis.probability[0])
    sd = np.sqrt(alone * (1 - alone) / 20_000)
    assert made.family_probability[0] == pytest.approx(alone, abs=3.29 * sd)
    assert found.family_probability[0] > alone * 1.5
    again = simulated(found, 20_000)
    assert (again.family_probability == made.family_probability).all()


def test_simulated_significance_is_no_larger_than_for_independent_tests():
    """Harbour: 261 causes that overlap; Šidák is conservative for them."""
    found = suspects(estimate(simulate(MAKERS["planned"]("harbour"), seed=1)))
    made = simulated(found, 2000)
    assert made.simulation is not None
    assert (made.simulation.lower <= found.family_probability + 1e-12).all()
    assert (made.simulation.lower <= made.family_probability).all()
    assert (made.family_probability <= made.simulation.upper).all()
