"""One plan for several estimates: how often a network is analysed, counted.

Identities: with a shared plan the same result as with one of its own, to 1e-9 of the
standard deviations; read back from results/ the same to the last bit.
"""

import sys
from dataclasses import replace

import numpy as np
import pytest

from brasscap.adjust import estimate, sparse
from brasscap.adjust.judge.planting import Blunder, plant
from brasscap.adjust.sparse import factor as factor_module
from brasscap.adjust.sparse.released import released
from brasscap.io.results import as_kept, keep_result, read_result
from brasscap.networks.simulate import simulate
from brasscap.networks.simulate.country import country

MARKS = 400


@pytest.fixture(scope="module")
def network():
    return simulate(country(MARKS, set_ups=True), seed=4)


@pytest.fixture
def analysed(monkeypatch):
    """Return a list that grows by one with each analysis."""
    made, whole = [], sparse.symbolic

    def counted(*given):
        made.append(None)
        return whole(*given)

    monkeypatch.setattr(sparse, "symbolic", counted)
    return made


def same(one, other):
    every = np.arange(MARKS)
    own = one.covariance(every, every)
    sd = np.sqrt(np.maximum(np.einsum("nii->ni", own), 0))
    off = np.abs(other.covariance(every, every) - own)
    assert (off <= 1e-9 * sd[:, :, None] * sd[:, None, :] + 1e-24).all()
    # A place on the earth is rounded to a nanometre.
    moved = np.abs(other.nodes.xyz - one.nodes.xyz)[:MARKS]
    assert (moved < 1e-9 * sd + 3e-9).all()


@pytest.mark.parametrize("mode", ["minimal", "constrained", "free"])
def test_iterations_and_what_is_kept_share_one(
    network, analysed, tmp_path, monkeypatch, mode
):
    # The start is within a metre, which is near enough for vectors to settle at once.
    iteration = sys.modules[estimate.__module__]
    monkeypatch.setattr(iteration, "near", lambda network: 1e-4)
    made = estimate(network, mode)
    assert made.iterations > 1
    kept = as_kept(made)
    assert len(analysed) == 1
    keep_result(tmp_path, kept, "key")
    back = read_result(tmp_path, network, mode, "key")
    assert len(analysed) == 2
    every = np.arange(MARKS)
    asked = (every, np.roll(every, 1))
    assert kept.covariance(*asked).tobytes() == back.covariance(*asked).tobytes()
    assert kept.reciprocal_condition == back.reciprocal_condition


def test_a_minimal_and_a_free_solution_share_one(network, analysed):
    minimal = estimate(network, "minimal")
    free = estimate(network, "free", like=minimal)
    assert len(analysed) == 1
    same(estimate(network, "free"), free)
    assert len(analysed) == 2


def test_many_draws_of_one_network_share_one(analysed):
    plan = country(MARKS)
    first = estimate(simulate(plan, seed=1))
    for seed in (2, 3):
        drawn = simulate(plan, seed=seed)
        same(estimate(drawn), estimate(drawn, like=first))
    assert len(analysed) == 3


def test_a_planted_blunder_needs_none_of_its_own(network, analysed):
    made = estimate(network)
    name = network.vectors.name[7]
    assert plant(made, Blunder("baseline", name, "height", 0.1)).after
    assert len(analysed) == 1


def test_another_network_is_analysed_by_itself(network, analysed):
    first = estimate(network)
    used = network.vectors.used.copy()
    used[3] = False
    fewer = replace(network, vectors=replace(network.vectors, used=used))
    same(estimate(fewer), estimate(fewer, like=first))
    same(estimate(network, "minimal"), estimate(network, "minimal", like=first))
    assert len(analysed) == 5


def test_a_large_factor_is_let_go_with_the_inverse(network, monkeypatch):
    """Its fronts and tables are made again for who still solves: to the last bit."""
    whole = estimate(network).factor
    columns = np.arange(len(whole.scale))[:, None]
    right = np.cos(np.arange(2.0 * len(columns))).reshape(-1, 2)
    solved = whole.solve(right).tobytes()
    expected = whole.inverse.tobytes()
    assert whole.eliminated._made is not None
    monkeypatch.setattr(factor_module, "_LARGE", 0)
    large = estimate(network).factor
    assert large.inverse.tobytes() == expected
    assert large.eliminated._made is None
    assert large.plan.stacks._made is None
    assert large.solve(right).tobytes() == solved


def test_a_factor_that_was_let_go_says_the_same(network):
    """To the last bit; tables and fronts are made again only to solve."""
    whole = estimate(network).factor
    light = released(whole)
    columns = np.arange(len(whole.scale))[:, None]
    asked = (columns, columns)
    assert light.blocks(*asked).tobytes() == whole.blocks(*asked).tobytes()
    assert light.reciprocal_condition == whole.reciprocal_condition
    assert light.eliminated._made is None
    assert light.plan.stacks._made is None
    right = np.cos(np.arange(2.0 * len(columns))).reshape(-1, 2)
    assert light.solve(right).tobytes() == whole.solve(right).tobytes()
    assert light.eliminated._made is not None
