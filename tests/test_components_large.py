"""Variance components of many unknowns: the same figures as from whole matrices.

Identities that hold for every network: the sparse arithmetic against the dense one,
which ``test_variance_components`` holds to published figures and to the likelihood
climbed directly; and what must be true of the estimate wherever it was made.
"""

import runpy
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from brasscap.adjust import estimate
from brasscap.adjust.dense import DenseFactor
from brasscap.adjust.judge.component_dense import dense_system
from brasscap.adjust.judge.component_sparse import sparse_system
from brasscap.adjust.judge.components import labelled, stacks_of
from brasscap.adjust.judge.variance_components import variance_components
from brasscap.adjust.on_condition import BoundFactor
from brasscap.adjust.sparse import SparseFactor
from brasscap.networks.covariances import Batch
from brasscap.networks.simulate import simulate
from brasscap.networks.simulate.country import country

MAKERS = runpy.run_path(str(Path(__file__).parent / "make_examples"))
ALL = [
    ("harbour", "constrained"),
    ("harbour", "free"),
    ("mill", "constrained"),
    ("mill", "minimal"),
    ("tramway", "minimal"),
]
"""Sessions, sights and levels together; a condition on an azimuth; levels alone."""


def both(name, mode):
    network = simulate(MAKERS["planned"](name), seed=2)
    dense = estimate(network, mode, arithmetic="dense")
    sparse = estimate(network, mode, arithmetic="sparse")
    assert isinstance(dense.factor, DenseFactor)
    assert not isinstance(sparse.factor, DenseFactor)
    return dense, sparse


def some_causes(adjustment, count):
    """Return whitened columns: one of few rows, the others of very many."""
    rng = np.random.default_rng(5)
    rows = sum(batch.misclosure.size for batch in adjustment.whitened)
    made = rng.normal(0, 1, (rows, count))
    made[rng.permutation(rows)[3:], :1] = 0.0
    return made


@pytest.mark.parametrize("causes", [0, 2])
@pytest.mark.parametrize(("name", "mode"), ALL)
def test_sparse_as_dense(name, mode, causes):
    """Square sums, redundancies, information, likelihood, at any multipliers."""
    dense, sparse = both(name, mode)
    component, labels = labelled(dense)
    shifts = some_causes(dense, causes)
    one = dense_system(dense, *stacks_of(dense, labels, shifts))
    other = sparse_system(sparse, *stacks_of(sparse, labels, shifts))
    rng = np.random.default_rng(1)
    likelihoods = []
    for _ in range(2):
        log_variance = rng.uniform(-2, 2, len(component))
        wanted, found = one.state(log_variance), other.state(log_variance)
        for what in ("square_sum", "redundancy", "information"):
            size = np.abs(getattr(wanted, what)).max()
            assert getattr(found, what) == pytest.approx(
                getattr(wanted, what), rel=1e-9, abs=1e-9 * size
            )
        likelihoods.append((wanted.criterion, found.criterion))
    # But for what no multiplier changes.
    (first, its_first), (second, its_second) = likelihoods
    assert its_second - its_first == pytest.approx(second - first, abs=1e-8)


def test_a_held_azimuth_is_a_condition_of_the_sparse_factor():
    assert isinstance(both("mill", "minimal")[1].factor, BoundFactor)


@pytest.mark.parametrize(("name", "mode"), ALL)
def test_the_same_multipliers_come_out(name, mode):
    """The same components are judged, to the same figures and the same verdicts."""
    dense, sparse = both(name, mode)
    wanted, found = variance_components(dense), variance_components(sparse)
    assert found.component == wanted.component
    assert found.verdict == wanted.verdict
    assert found.twins == wanted.twins
    for what in ("multiplier", "lower", "upper", "degrees_of_freedom"):
        assert getattr(found, what) == pytest.approx(
            getattr(wanted, what), rel=1e-6, nan_ok=True
        )


@pytest.fixture(scope="module")
def many():
    """Return 1,700 marks, 5,100 unknowns, of whose vectors half are twice as poor."""
    plan = country(1700, seed=3)
    vectors = plan.vectors
    poor = np.random.default_rng(4).random(len(vectors)) < 0.5
    grouped = replace(
        plan,
        groups=("sound", "poor"),
        vectors=replace(vectors, group=poor.astype(np.int64)),
    )
    drawn = simulate(with_larger_sds(grouped, np.where(poor, 2.0, 1.0)), seed=5)
    return estimate(with_larger_sds(drawn, np.where(poor, 0.5, 1.0)))


def with_larger_sds(network, factor):
    """Return a network with the sds of each vector multiplied, all axes alike."""
    batches = tuple(
        Batch(b.members, b.matrix * factor[b.members][:, :, None] ** 2)
        for b in network.vectors.covariances
    )
    return replace(network, vectors=replace(network.vectors, covariances=batches))


def test_beyond_whole_matrices_the_poor_group_is_found(many):
    """Twice what was stated, within limits that leave out less than one in 10,000."""
    assert isinstance(many.factor, SparseFactor)
    found = variance_components(many)
    assert found.settled
    words = [one.words for one in found.component]
    for group, true in (("sound", 1.0), ("poor", 2.0)):
        for part in ("plan", "height"):
            k = words.index(f"vectors of group {group}, {part}")
            sd = 1 / np.sqrt(2 * found.degrees_of_freedom[k])
            assert np.log(found.multiplier[k] / true) == pytest.approx(0, abs=4 * sd)
            assert found.verdict[k] == ("query" if group == "poor" else "meets")


def test_where_the_iteration_rests_every_square_sum_is_its_redundancy(many):
    """What Förstner's, Helmert's and the likelihood's iterations have in common."""
    found = variance_components(many)
    _, labels = labelled(many)
    system = sparse_system(many, *stacks_of(many, labels))
    of = np.where(found.judged, found.multiplier, 1.0)
    state = system.state(2 * np.log(of))
    judged = found.judged
    assert judged.sum() >= 4
    assert state.square_sum[judged] == pytest.approx(state.redundancy[judged], rel=1e-6)


def test_all_rows_as_one_component(many):
    """vᵀPv, the degrees of freedom, and half of these as information (by hand)."""
    label = {
        some.kind: np.where(some.active & some.used[:, None], 0, -1)
        for some in many.equations
    }
    state = sparse_system(many, *stacks_of(many, label)).state(np.zeros(1))
    freedom = many.degrees_of_freedom
    assert state.square_sum == pytest.approx([many.vtpv], rel=1e-9)
    assert state.redundancy == pytest.approx([freedom], rel=1e-9)
    assert state.information == pytest.approx(np.array([[freedom / 2]]), rel=1e-9)
