"""Identity: many networks adjusted at once give what each gives by itself.

Networks of all kinds as in ``test_arithmetic``, some without a solution, some with a
blunder, of equal structure and of different.
"""

import runpy
from dataclasses import replace
from functools import partial
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from brasscap.adjust import Adjustment, estimate, estimates
from brasscap.adjust.estimate import _attempt
from brasscap.adjust.together import trials
from brasscap.networks import CommandError, NoSolution
from brasscap.networks.simulate import simulate

MADE = runpy.run_path(str(Path(__file__).with_name("test_arithmetic.py")))
SLOW, drawn = settings(MADE["SLOW"], max_examples=50), MADE["drawn"]
MODES = ("constrained", "minimal", "free")


def alone(network, mode):
    try:
        return estimate(network, mode)
    except (NoSolution, CommandError) as reason:
        return reason


def assert_same(together, one, close=1e-9):
    """Hold an outcome to that of the network by itself."""
    assert type(together) is type(one)
    if not isinstance(one, Adjustment):
        assert str(together) == str(one)
        return
    assert together.network is one.network
    assert together.datum.text == one.datum.text
    assert (together.columns == one.columns).all()
    every = np.arange(len(one.columns))
    own, other = (some.covariance(every, every) for some in (one, together))
    sds = np.sqrt(np.maximum(np.einsum("nii->ni", own), 0))
    scale = np.maximum(sds[:, :, None] * sds[:, None, :], 1e-30)
    assert (np.abs(other - own) <= close * scale).all()
    places = len(one.nodes.xyz)
    moved = together.nodes.xyz - one.nodes.xyz
    moved = np.einsum("nij,nj->ni", one.nodes.axes, moved)[one.columns[:places] >= 0]
    # A position on the earth is rounded to a nanometre before it is compared.
    least = np.maximum(sds[:places][one.columns[:places] >= 0], 1e-6)
    assert (np.maximum(np.abs(moved) - 3e-9, 0) <= 1e-9 * least).all()
    assert together.vtpv == pytest.approx(one.vtpv, rel=close, abs=1e-9)
    assert together.degrees_of_freedom == one.degrees_of_freedom
    assert together.residuals.keys() == one.residuals.keys()


def wrong(network, rng):
    """Return the network with a vector and a sight that are far off."""
    delta = network.vectors.delta.copy()
    delta[rng.integers(len(delta))] += rng.normal(0, 50, 3)
    vectors = replace(network.vectors, delta=delta)
    sights = []
    for some in network.sights:
        value = some.value.copy()
        if len(value):
            value[rng.integers(len(value))] += rng.choice([0.3, 3.1, 20.0])
        sights.append(replace(some, value=value))
    return replace(network, vectors=vectors, sights=tuple(sights))


def less(network, rng):
    """Return the network with some vectors left out: it may fall apart."""
    used = rng.random(len(network.vectors)) < 0.7
    return replace(network, vectors=replace(network.vectors, used=used))


@SLOW
@given(st.integers(0, 10**6), st.sampled_from(MODES))
def test_networks_of_all_kinds(seed, mode):
    rng = np.random.default_rng(seed)
    plan = drawn(seed)
    some = [plan, *(simulate(plan, seed=seed + k) for k in (1, 2)), drawn(seed + 1)]
    some += [wrong(plan, rng), less(plan, rng), less(some[1], rng)]
    for together, network in zip(estimates(some, mode), some, strict=True):
        assert_same(together, alone(network, mode))


@SLOW
@given(st.integers(0, 10**6), st.sampled_from(MODES))
def test_trials_end_as_soon_as_one_by_one(seed, mode):
    rng = np.random.default_rng(seed)
    plan = drawn(seed)
    some = [plan, less(plan, rng), *(wrong(plan, rng) for _ in range(4))]
    one_by_one = partial(_attempt, mode)
    with np.errstate(all="ignore"):
        made = trials(some, mode, one_by_one)
        for together, one in zip(made, map(one_by_one, some), strict=True):
            assert_same(together, one)


@SLOW
@given(st.integers(0, 10**6), st.sampled_from(MODES))
def test_from_the_places_of_their_plan(seed, mode):
    """The same places; precision as of equations formed 0.01 mm away at most."""
    plan = drawn(seed)
    some = [simulate(plan, seed=seed + k) for k in (1, 2)]
    made = estimates(some, mode, begin=plan.marks.approximate)
    for together, network in zip(made, some, strict=True):
        assert_same(together, alone(network, mode), 1e-6)
