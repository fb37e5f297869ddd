"""What holds for the solution of every network, whatever was measured."""

from dataclasses import replace

import numpy as np
import pytest

from brasscap.adjust import estimate
from brasscap.adjust.judge import blunder_tests
from brasscap.networks.covariances import Batch, keep


def without_positions(network):
    positions = network.positions
    return replace(
        network, positions=replace(positions, used=np.zeros(len(positions), dtype=bool))
    )


def test_the_order_of_the_rows_does_not_matter(survey):
    vectors = survey.vectors
    order = np.random.default_rng(1).permutation(len(vectors))
    place = np.argsort(order)
    shuffled = replace(
        vectors,
        name=tuple(vectors.name[i] for i in order),
        start=vectors.start[order],
        end=vectors.end[order],
        delta=vectors.delta[order],
        start_offset=vectors.start_offset[order],
        end_offset=vectors.end_offset[order],
        covariances=tuple(
            replace(batch, members=place[batch.members])
            for batch in vectors.covariances
        ),
        session=vectors.session[order],
        row=vectors.row[order],
    )
    first = estimate(survey, "constrained")
    second = estimate(replace(survey, vectors=shuffled), "constrained")
    np.testing.assert_allclose(first.nodes.xyz, second.nodes.xyz, rtol=0, atol=1e-8)
    np.testing.assert_allclose(
        first.residuals["baseline"][order], second.residuals["baseline"], atol=1e-8
    )


def test_names_do_not_matter(survey):
    marks = replace(
        survey.marks, name=tuple(f"X{9 - i}" for i in range(len(survey.marks)))
    )
    first = estimate(survey, "constrained")
    second = estimate(replace(survey, marks=marks), "constrained")
    np.testing.assert_array_equal(first.nodes.xyz, second.nodes.xyz)


def scaled(covariances, factor):
    return tuple(replace(batch, matrix=factor * batch.matrix) for batch in covariances)


def test_doubling_every_sd_moves_no_mark(survey):
    """The covariance of the result is four times, vᵀPv a quarter."""
    doubled = replace(
        survey,
        set_ups=replace(
            survey.set_ups,
            sd_centring=2 * survey.set_ups.sd_centring,
            sd_height=2 * survey.set_ups.sd_height,
        ),
        vectors=replace(
            survey.vectors, covariances=scaled(survey.vectors.covariances, 4)
        ),
        positions=replace(
            survey.positions, covariances=scaled(survey.positions.covariances, 4)
        ),
        known=replace(survey.known, covariances=scaled(survey.known.covariances, 4)),
    )
    first, second = estimate(survey, "constrained"), estimate(doubled, "constrained")
    np.testing.assert_allclose(first.nodes.xyz, second.nodes.xyz, rtol=0, atol=1e-8)
    assert first.vtpv == pytest.approx(4 * second.vtpv, rel=1e-6)
    every = np.arange(len(survey.marks))
    np.testing.assert_allclose(
        4 * first.covariance(every, every), second.covariance(every, every), rtol=1e-6
    )


def folded(network):
    """Return the network without set-up nodes, their noise inside the vectors.

    Session by session: C + B D Bᵀ, where B says which set-up a vector starts from
    and ends at, and D is the set-ups' covariance in X, Y, Z.
    """
    vectors, set_ups, marks = network.vectors, network.set_ups, len(network.marks)
    axes = network.frame.axes(network.marks.approximate)[set_ups.mark]
    sds = np.stack([set_ups.sd_centring] * 2 + [set_ups.sd_height], axis=1)
    noise = np.einsum("nji,nj,njk->nik", axes, sds**2, axes)
    batches = []
    for batch in vectors.covariances:
        matrices = []
        for members, matrix in zip(batch.members, batch.matrix, strict=True):
            part = np.zeros((len(members), 3, len(set_ups), 3))
            for k, i in enumerate(members):
                part[k, :, vectors.end[i] - marks] += np.eye(3)
                part[k, :, vectors.start[i] - marks] -= np.eye(3)
            spread = np.einsum("ainj,njk,blnk->aibl", part, noise, part)
            matrices.append(matrix + spread.reshape(matrix.shape))
        batches.append(Batch(batch.members, np.array(matrices)))
    exact = replace(
        set_ups,
        sd_centring=np.zeros(len(set_ups)),
        sd_height=np.zeros(len(set_ups)),
    )
    return replace(
        network, set_ups=exact, vectors=replace(vectors, covariances=tuple(batches))
    )


def test_set_up_noise_folded_into_the_vectors_is_the_same_network(survey):
    """Each set-up serves one session, so nothing is lost by folding."""
    nodes, inside = (
        estimate(survey, "constrained"),
        estimate(folded(survey), "constrained"),
    )
    every = np.arange(len(survey.marks))
    np.testing.assert_allclose(
        nodes.nodes.xyz[: len(survey.marks)],
        inside.nodes.xyz[: len(survey.marks)],
        rtol=0,
        atol=1e-8,
    )
    np.testing.assert_allclose(
        nodes.covariance(every, every),
        inside.covariance(every, every),
        rtol=1e-6,
        atol=1e-14,
    )
    assert nodes.degrees_of_freedom == inside.degrees_of_freedom
    assert nodes.vtpv == pytest.approx(inside.vtpv, rel=1e-6)


@pytest.mark.parametrize("kind", ["set-up height", "position", "known mark"])
def test_set_ups_are_judged_alike_as_nodes_and_folded_in(survey, kind):
    """A cause is its effect on the observations, whether or not it is a node."""
    first = judged(estimate(survey, "constrained"), kind)
    second = judged(estimate(folded(survey), "constrained"), kind)
    assert first.keys() == second.keys()
    assert first
    for name, (statistic, smallest) in first.items():
        assert second[name][0] == pytest.approx(statistic, rel=1e-5, abs=1e-8), name
        assert second[name][1] == pytest.approx(smallest, rel=1e-5, nan_ok=True), name


def judged(adjustment, kind):
    tests = blunder_tests(adjustment)
    return {
        tests.name[i]: (
            tests.tests.stated.statistic[i],
            tests.tests.smallest_detectable[i],
        )
        for i in range(len(tests))
        if tests.kind[i] == kind
    }


def test_free_and_minimal_solutions_have_the_same_residuals(survey):
    """The datum moves the network as a whole and touches no misfit."""
    network = without_positions(survey)
    minimal, free = estimate(network, "minimal"), estimate(network, "free")
    assert minimal.degrees_of_freedom == free.degrees_of_freedom
    assert minimal.vtpv == pytest.approx(free.vtpv, rel=1e-6)
    for kind, residuals in minimal.residuals.items():
        np.testing.assert_allclose(residuals, free.residuals[kind], rtol=0, atol=1e-7)


def test_leaving_an_observation_out_is_as_if_it_had_never_been(survey):
    """The tool's own switch against a network rebuilt without the row."""
    vectors = survey.vectors
    keep_rows = np.ones(len(vectors), dtype=bool)
    keep_rows[4] = False
    off = replace(survey, vectors=replace(vectors, used=keep_rows))
    place = np.cumsum(keep_rows) - 1
    inside = keep(vectors.covariances, keep_rows, 3)
    gone = replace(
        vectors,
        name=tuple(n for n, k in zip(vectors.name, keep_rows, strict=True) if k),
        **{
            column: getattr(vectors, column)[keep_rows]
            for column in (
                "start",
                "end",
                "delta",
                "start_offset",
                "end_offset",
                "session",
                "group",
                "used",
                "row",
            )
        },
        covariances=tuple(replace(b, members=place[b.members]) for b in inside),
    )
    first = estimate(off, "constrained")
    second = estimate(replace(survey, vectors=gone), "constrained")
    np.testing.assert_allclose(first.nodes.xyz, second.nodes.xyz, rtol=0, atol=1e-9)
    assert first.degrees_of_freedom == second.degrees_of_freedom
