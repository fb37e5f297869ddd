"""What holds for the blunder tests of every network."""

from dataclasses import replace

import numpy as np
import pytest

from brasscap.adjust import estimate
from brasscap.adjust.judge import blunder_tests, checked_marks
from brasscap.adjust.judge.limits import noncentrality
from brasscap.adjust.judge.set_ups import of_set_ups
from brasscap.adjust.judge.shifts import of_nodes
from brasscap.networks.simulate import simulate
from brasscap.networks.simulate.country import country


def without_positions(network):
    positions = network.positions
    return replace(
        network, positions=replace(positions, used=np.zeros(len(positions), dtype=bool))
    )


@pytest.mark.parametrize("mode", ["minimal", "constrained"])
def test_redundancies_sum_to_the_degrees_of_freedom(survey, mode):
    """Over all observations, set-ups and weighted known marks included."""
    adjustment = estimate(survey, mode)
    total = np.nansum(blunder_tests(adjustment).redundancy)
    assert total == pytest.approx(adjustment.degrees_of_freedom, rel=0, abs=1e-6)


def switched_off(network, table, row):
    """Return the network with one row of a table left out."""
    columns = getattr(network, table)
    used = columns.used.copy()
    used[row] = False
    return replace(network, **{table: replace(columns, used=used)})


@pytest.mark.parametrize(
    ("kind", "table"),
    [("baseline", "vectors"), ("position", "positions"), ("known mark", "known")],
)
def test_a_statistic_is_what_leaving_the_row_out_takes_off(survey, kind, table):
    """T = vᵀPv with the row minus vᵀPv without it, by a second adjustment."""
    adjustment = estimate(survey, "constrained")
    tests = blunder_tests(adjustment)
    rows = [i for i in range(len(tests)) if tests.kind[i] == kind]
    if table == "known":
        # A row that also holds something would let that go too.
        holds = survey.known.in_use("held").any(axis=1)
        rows = [i for i in rows if not holds[tests.edge[i]]]
    assert rows
    for i in rows:
        without = estimate(switched_off(survey, table, tests.edge[i]), "constrained")
        less = adjustment.vtpv - without.vtpv
        assert tests.tests.stated.statistic[i] == pytest.approx(
            less, rel=1e-5, abs=1e-5
        )
        taken = adjustment.degrees_of_freedom - without.degrees_of_freedom
        assert tests.tests.components[i] == taken


def test_the_shift_of_a_vector_is_booked_minus_what_the_rest_says(survey):
    """By a second adjustment without it, in east, north, up where it ends."""
    tests = blunder_tests(estimate(survey, "constrained"))
    vectors = survey.vectors
    for i in [i for i in range(len(tests)) if tests.kind[i] == "baseline"]:
        row = tests.edge[i]
        if len(np.flatnonzero(vectors.session == vectors.session[row])) > 1:
            continue
        nodes = estimate(switched_off(survey, "vectors", row), "constrained").nodes
        # Nothing else uses its set-ups: they stand where they should.
        start, end = survey.mark_of(np.array([vectors.start[row], vectors.end[row]]))
        foot = nodes.xyz[start] + vectors.start_offset[row] * nodes.axes[start, 2]
        top = nodes.xyz[end] + vectors.end_offset[row] * nodes.axes[end, 2]
        expected = vectors.delta[row] - (top - foot)
        # A turn of the axes over 3 km moves 5 mm by nothing that counts.
        found = np.linalg.norm(tests.tests.shift[i])
        assert found == pytest.approx(np.linalg.norm(expected), rel=1e-4)
        assert tests.tests.shift[i, 2] == pytest.approx(
            nodes.axes[start, 2] @ expected, rel=0, abs=1e-5
        )


def test_a_held_mark_is_tested_by_letting_it_go(survey):
    """Its statistic is what vᵀPv loses when the mark is held no longer."""
    network = without_positions(survey)
    adjustment = estimate(network, "constrained")
    tests = blunder_tests(adjustment)
    (height,) = [
        i
        for i in range(len(tests))
        if tests.kind[i] == "known mark height" and tests.name[i] == "T2"
    ]
    without = estimate(switched_off(network, "known", 2), "constrained")
    less = adjustment.vtpv - without.vtpv
    assert tests.tests.stated.statistic[height] == pytest.approx(less, rel=1e-5)


def one(tests, kind, name):
    """Return the number of the test of that kind and name."""
    (found,) = [
        i for i in range(len(tests)) if (tests.kind[i], tests.name[i]) == (kind, name)
    ]
    return found


def test_observations_that_agree_leave_nothing(perfect_survey):
    adjustment = estimate(perfect_survey, "constrained")
    assert adjustment.vtpv == pytest.approx(0, rel=0, abs=1e-8)
    statistic = blunder_tests(adjustment).tests.stated.statistic
    np.testing.assert_allclose(statistic[np.isfinite(statistic)], 0, atol=1e-8)


def raised(network, set_up, blunder):
    """Return the network with one antenna height booked too large by a blunder."""
    vectors, node = network.vectors, len(network.marks) + set_up
    height = network.set_ups.height.copy()
    height[set_up] += blunder
    return replace(
        network,
        set_ups=replace(network.set_ups, height=height),
        vectors=replace(
            vectors,
            start_offset=vectors.start_offset + blunder * (vectors.start == node),
            end_offset=vectors.end_offset + blunder * (vectors.end == node),
        ),
    )


@pytest.mark.parametrize("set_up", [0, 3, 5, 9, 11])
def test_a_planted_height_blunder_of_the_smallest_size_is_just_detectable(
    perfect_survey, set_up
):
    """In observations that agree it gives the statistic λ0, and is found as planted.

    λ0 = 17.0746 for α 0.1 % and power 80 % (Baarda 1968).
    """
    name = perfect_survey.set_ups.name[set_up]
    tests = blunder_tests(estimate(perfect_survey, "constrained"))
    size = tests.tests.smallest_detectable[one(tests, "set-up height", name)]
    assert 5e-3 < size < 0.1
    planted = raised(perfect_survey, set_up, size)
    found = blunder_tests(estimate(planted, "constrained"))
    at = one(found, "set-up height", name)
    assert found.tests.stated.statistic[at] == pytest.approx(17.0746, rel=1e-4)
    assert found.tests.shift[at, 2] == pytest.approx(size, rel=1e-4)
    assert found.order()[0] == at


@pytest.mark.parametrize("axis", range(3), ids=["east", "north", "up"])
@pytest.mark.parametrize("row", [0, 4, 7])
def test_a_planted_vector_blunder_is_just_detectable(perfect_survey, row, axis):
    """Along each axis, by the three-component test, with the same λ0."""
    vectors = perfect_survey.vectors
    adjustment = estimate(perfect_survey, "constrained")
    tests = blunder_tests(adjustment)
    at = one(tests, "baseline", vectors.name[row])
    size = tests.tests.smallest_detectable_enu[at, axis]
    assert size <= tests.tests.smallest_detectable[at] * (1 + 1e-9)
    delta = vectors.delta.copy()
    delta[row] += size * adjustment.nodes.axes[vectors.start[row], axis]
    planted = replace(perfect_survey, vectors=replace(vectors, delta=delta))
    found = blunder_tests(estimate(planted, "constrained"))
    # The axes of the two ends, 3 km apart, differ by half a milliradian.
    statistic = found.tests.stated.statistic[at]
    assert statistic == pytest.approx(noncentrality(0.001, 0.80), rel=2e-3)
    assert found.tests.shift[at, axis] == pytest.approx(size, rel=2e-3)


def test_a_known_mark_booked_too_high_is_found_as_planted(perfect_survey):
    known = perfect_survey.known
    up = perfect_survey.frame.axes(known.xyz)[1, 2]
    xyz = known.xyz.copy()
    xyz[1] += 0.030 * up
    planted = replace(perfect_survey, known=replace(known, xyz=xyz))
    tests = blunder_tests(estimate(planted, "constrained"))
    at = one(tests, "known mark height", "T4")
    assert tests.tests.shift[at, 2] == pytest.approx(0.030, rel=0, abs=1e-6)


def test_what_hangs_by_one_vector_is_unchecked(survey):
    """Its redundancy is zero, no blunder of any size would show, and it is said."""
    network = without_positions(survey)
    ends = network.mark_of(np.stack([survey.vectors.start, survey.vectors.end]))
    (first, last) = np.flatnonzero((ends == 6).any(axis=0))
    network = switched_off(network, "vectors", first)
    adjustment = estimate(network, "constrained")
    tests = blunder_tests(adjustment)
    at = one(tests, "baseline", survey.vectors.name[last])
    assert tests.verdict[at] == "unchecked"
    assert tests.redundancy[at] == pytest.approx(0, rel=0, abs=1e-9)
    assert np.isnan(tests.tests.smallest_detectable[at])
    assert np.isnan(tests.basis.test[at])
    checked = checked_marks(adjustment, tests)
    assert checked.tolist() == [[mark != 6] * 2 for mark in range(7)]


def test_what_hangs_on_one_vector_is_unchecked_at_its_set_up_too():
    """Nothing else sees a mark with one vector: neither the vector nor its set-up.

    From a start some centimetres off in one iteration, so that it must not matter
    where the network was linearised.
    """
    network = simulate(country(400, set_ups=True), seed=3)
    vectors, known = network.vectors, set(network.known.mark.tolist())
    start, end = (network.mark_of(some) for some in (vectors.start, vectors.end))
    used, hanging = vectors.used.copy(), []
    for mark in (m for m in range(0, 400, 40) if m not in known):
        at = np.flatnonzero(((start == mark) | (end == mark)) & used)
        used[at[1:]] = False
        hanging.append(mark)
    hung = replace(network, vectors=replace(vectors, used=used))
    adjustment = estimate(hung)
    assert adjustment.iterations == 1
    tests = blunder_tests(adjustment)
    mark_of = {"set-up": network.set_ups.mark, "set-up height": network.set_ups.mark}
    seen = [
        i
        for i in range(len(tests))
        if (
            tests.kind[i] in mark_of
            and mark_of[tests.kind[i]][tests.edge[i]] in hanging
        )
        or (
            tests.kind[i] == "baseline"
            and {start[tests.edge[i]], end[tests.edge[i]]} & set(hanging)
        )
    ]
    assert len(seen) >= 3 * len(hanging)
    assert tests.tests.unchecked[seen].all()
    assert all(tests.tests.null[i].any() for i in seen)


@pytest.mark.parametrize("mode", ["minimal", "constrained"])
def test_set_ups_are_told_by_their_own_observation_as_by_all_from_them(survey, mode):
    """Two ways to one matrix: what was observed from each summed up, and not."""
    adjustment = estimate(survey, mode)
    every = np.arange(len(survey.set_ups))
    told, _ = of_set_ups(adjustment, every)
    nodes = len(survey.marks) + every
    summed = of_nodes(adjustment, nodes, every, len(every))
    assert (told.components == summed.components).all()
    scale = np.sqrt(np.einsum("nii->ni", summed.information))
    off = np.abs(told.matrix - summed.matrix) / (scale[:, :, None] * scale[:, None])
    assert off.max() < 1e-9
    np.testing.assert_allclose(told.pull, summed.pull, rtol=1e-9, atol=1e-9)
