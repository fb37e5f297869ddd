"""What must hold however large a network is: quick ways agree with the plain ones."""

from dataclasses import replace
from math import erf

import numpy as np
import pytest

from brasscap.adjust import estimate
from brasscap.adjust.causes.evaluate import hypotheses as joined
from brasscap.adjust.causes.field import field_of
from brasscap.adjust.causes.registry import causes_of
from brasscap.adjust.causes.rows import rows_of
from brasscap.adjust.causes.support import supports
from brasscap.adjust.elimination import elimination
from brasscap.adjust.judge import blunder_tests, external, hypotheses, touching
from brasscap.adjust.precision import circle_exact
from brasscap.networks import NoSolution
from brasscap.networks.connections import pieces
from brasscap.networks.covariances import Batch, single
from brasscap.networks.simulate import simulate
from brasscap.networks.simulate.country import country


@pytest.mark.parametrize("probability", [0.5, 0.95])
def test_many_circles_are_those_of_one_after_another(probability):
    """Identity: more than 97 circles come from a polynomial, one by itself."""
    shape = np.linspace(0, 1, 120)
    together = circle_exact(np.full(120, 3.0), 3 * shape, probability)
    alone = [float(circle_exact(3.0, 3 * one, probability)) for one in shape]
    np.testing.assert_allclose(together, alone, rtol=1e-11)


@pytest.mark.parametrize("probability", [0.5, 0.6827, 0.95, 0.99, 0.999])
def test_circles_of_lines_and_circles(probability):
    """By hand: a line is one normal variable, a circle has P = 1 − exp(−R²/2).

    Regression: under 80 % the circle of a long ellipse came out up to 22 % too large.
    """
    line, circle = circle_exact([2.0, 2.0], [0.0, 2.0], probability)
    assert erf(line / 2 / 2**0.5) == pytest.approx(probability, rel=1e-12)
    assert 1 - np.exp(-((circle / 2) ** 2) / 2) == pytest.approx(probability, rel=1e-12)


def network(marks, kind="uniform", **more):
    return simulate(country(marks, kind, **more), seed=2)


def test_a_country_hangs_together():
    """Identity: one in 500 marks is known, everything else is reached by vectors."""
    for kind in ("uniform", "clustered"):
        plan = country(700, kind, set_ups=True, seed=3)
        made = pieces(plan)
        assert len(made) == 1
        assert 2.2 < len(plan.vectors) / 700 < 3.2
        assert len(np.unique(plan.vectors.name)) == len(plan.vectors)


def test_the_order_of_the_marks_changes_nothing():
    """Identity: marks numbered otherwise are at the same places, as good as before."""
    first = network(400, set_ups=True)
    order = np.random.default_rng(4).permutation(400)
    place = np.argsort(order)
    marks, set_ups, known = first.marks, first.set_ups, first.known
    second = replace(
        first,
        marks=replace(
            marks,
            name=tuple(marks.name[i] for i in order),
            approximate=marks.approximate[order],
            row=marks.row[order],
        ),
        set_ups=replace(set_ups, mark=place[set_ups.mark]),
        known=replace(known, mark=place[known.mark]),
    )
    one, other = (estimate(n, arithmetic="sparse") for n in (first, second))
    every = np.arange(400)
    own = one.covariance(order, order)
    sd = np.sqrt(np.einsum("nii->ni", own))
    np.testing.assert_allclose(
        other.covariance(every, every) / own.max(), own / own.max(), atol=1e-9
    )
    # A place on the earth is rounded to a nanometre.
    moved = np.abs(other.nodes.xyz[:400] - one.nodes.xyz[order])
    assert (moved < 1e-9 * sd + 3e-9).all()
    tests = [np.sort(blunder_tests(a).basis.test) for a in (one, other)]
    np.testing.assert_allclose(*tests, rtol=1e-6, atol=1e-9)


def test_weights_from_a_tenth_of_a_millimetre_to_ten_metres():
    """Identity: the redundancies sum to the degrees of freedom whatever the weights."""
    plan = country(400)
    (batch,) = plan.vectors.covariances
    size = 10.0 ** np.random.default_rng(5).uniform(-4, 1, len(batch.matrix))
    mean = np.sqrt(np.einsum("nii->n", batch.matrix) / 3)
    scaled = batch.matrix * ((size / mean) ** 2)[:, None, None]
    wide = replace(plan.vectors, covariances=(replace(batch, matrix=scaled),))
    made = simulate(replace(plan, vectors=wide), seed=6)
    dense, sparse = (estimate(made, arithmetic=a) for a in ("dense", "sparse"))
    every = np.arange(400)
    own, other = (a.covariance(every, every) for a in (dense, sparse))
    sd = np.sqrt(np.einsum("nii->ni", own))
    scale = sd[:, :, None] * sd[:, None, :]
    assert (np.abs(other - own) < 1e-8 * scale).all()
    moved = np.abs(sparse.nodes.xyz - dense.nodes.xyz)
    assert (moved < 1e-8 * sd + 3e-9).all()
    total = np.nansum(blunder_tests(sparse).redundancy)
    assert abs(total - sparse.degrees_of_freedom) < 1e-5


def test_of_very_many_effects_the_worst_are_those_of_all(monkeypatch):
    """Identity: what is worked out one by one is a row of the whole table."""
    made = estimate(network(60, set_ups=True), arithmetic="sparse")
    asked = hypotheses.observations(made)
    whole = external.reliability(made, asked)
    monkeypatch.setattr(external, "_KEPT", 10)
    few = external.reliability(made, asked)
    assert few.few is not None
    assert not len(few.effect)
    np.testing.assert_allclose(few.bias_to_noise, whole.bias_to_noise)
    solved = few.worst(0)[1] >= 0
    assert few.few.solved >= solved.sum() > 60
    for part in (0, 1):
        size, mark = few.worst(part)
        np.testing.assert_allclose(size[solved], whole.worst(part)[0][solved])
        np.testing.assert_array_equal(mark[solved], whole.worst(part)[1][solved])
    for row in np.flatnonzero(whole.unchecked).tolist():
        assert few.unlimited(row).tolist() == whole.unlimited(row).tolist()
    # Cauchy and Schwarz: no effect on a mark is beyond bias to noise times its sd.
    marks = np.arange(60)
    covariance = made.covariance(marks, marks)
    up = np.sqrt(covariance[:, 2, 2])
    bound = whole.bias_to_noise[:, None] * up
    assert (whole.effect[:, :, 1] <= bound * (1 + 1e-6) + 1e-12).all()


def test_causes_judged_alone_are_those_judged_together():
    """Identity: a cause's own support does not hang on which others are looked at."""
    made = estimate(network(40, set_ups=True))
    rows = rows_of(made)
    causes = causes_of(field_of(made, rows))
    alone, together = supports(made, causes, rows), joined(made, causes, rows)
    statistic, components = together.joint(rows.misclosure).statistics()
    np.testing.assert_allclose(alone.statistic, statistic, atol=1e-7)
    np.testing.assert_array_equal(alone.components, components)
    np.testing.assert_array_equal(alone.unchecked, together.unchecked)


def test_what_unknowns_take_of_a_set_up_of_one_session():
    """Identity: of the cluster's own covariances, or gathered over all clusters."""
    made = estimate(network(300, set_ups=True), arithmetic="sparse")
    marks, count = 300, len(made.network.set_ups)
    group = np.full(len(made.columns) + 1, -1)
    group[marks : marks + count] = np.arange(count)
    seen = touching.seen_of_groups(made, group, count)
    found = list(touching.touched(made, group))
    times = sum(np.bincount(one.group, minlength=count) for one in found)
    assert (times == 1).any()
    assert (times > 1).any()
    lost = touching.taken(made, *touching.couplings(found, count), count)
    scale = np.einsum("kii->k", seen.own)[:, None, None]
    np.testing.assert_allclose(seen.lost / scale, lost / scale, atol=1e-12)


def statistics(made):
    return made.factor.plan.statistics


def solved(plan):
    return estimate(simulate(plan, seed=7), arithmetic="sparse")


def test_marks_in_one_line_and_at_one_place_cost_no_more():
    """By count: a chain of n marks fills in a few times its own entries, no n²."""
    plan = country(900)
    chain = np.arange(899)
    (batch,) = plan.vectors.covariances
    some = replace(batch, members=chain[:, None], matrix=batch.matrix[:899])
    vectors = replace(
        plan.vectors,
        name=plan.vectors.name[:899],
        start=chain,
        end=chain + 1,
        covariances=(some,),
        **{
            key: getattr(plan.vectors, key)[:899]
            for key in ("delta", "start_offset", "end_offset", "session", "group",
                        "used", "row")
        },
    )  # fmt: skip
    places = plan.marks.approximate[0] + np.outer(np.arange(900), [0.0, 500.0, 0.0])
    for approximate in (places, np.broadcast_to(places[0], places.shape).copy()):
        marks = replace(plan.marks, approximate=approximate)
        known = replace(plan.known, xyz=approximate[plan.known.mark])
        made = solved(replace(plan, marks=marks, known=known, vectors=vectors))
        assert statistics(made).fill < 4
        assert statistics(made).largest_front < 60
        assert np.isfinite(made.vtpv)


def test_marks_without_approximate_positions():
    """Identity: vectors place them, and the result is the same.

    By count: an order from the graph alone, no node having a place at all, costs less
    than twice the work of one by place.
    """
    given = network(1200)
    nowhere = np.full_like(given.marks.approximate, np.nan)
    absent = replace(given, marks=replace(given.marks, approximate=nowhere))
    one, other = (estimate(n, arithmetic="sparse") for n in (given, absent))
    every = np.arange(1200)
    own, without = (a.covariance(every, every) for a in (one, other))
    np.testing.assert_allclose(without / own.max(), own / own.max(), atol=1e-9)
    np.testing.assert_allclose(other.vtpv, one.vtpv, rtol=1e-6)
    lost = replace(one.nodes, xyz=np.full_like(one.nodes.xyz, np.nan))
    rows = one.whitened
    alone = elimination(given, one.datum, lost, one.columns, one.equations, rows).plan
    by_place = statistics(one)
    assert alone.statistics.flops < 2 * by_place.flops
    assert alone.statistics.fill < 1.5 * by_place.fill
    assert alone.statistics.largest_front < 2 * by_place.largest_front


def test_one_base_joined_to_ten_thousand_marks():
    """By count: a star of n marks has a front of the base and its leaf, no n²."""
    made = solved(star(10_000))
    assert statistics(made).fill < 3
    assert statistics(made).largest_front < 60


def star(count):
    """Return a plan of vectors from the first mark to all others, twice each."""
    plan = country(count)
    end = np.tile(np.arange(1, count), 2)
    size = len(end)
    matrix = np.tile(1e-5 * np.eye(3), (size, 1, 1))
    none, ones = np.full(size, -1), np.ones(size, dtype=bool)
    vectors = replace(
        plan.vectors, name=("",) * size, start=np.zeros(size, np.int64), end=end,
        delta=np.zeros((size, 3)), start_offset=np.zeros(size),
        end_offset=np.zeros(size), covariances=single(matrix), session=none, group=none,
        used=ones, row=np.arange(size),
    )  # fmt: skip
    return replace(plan, vectors=vectors)


def test_a_session_of_two_hundred_vectors_is_one_cluster():
    """Identity: one full covariance of 600 rows; dense and sparse are the same."""
    plan = star(201)
    mix = np.random.default_rng(8).standard_normal((600, 700))
    full = 1e-5 * (mix @ mix.T / 700 + np.eye(600))
    covariances = (
        Batch(np.arange(200)[None], full[None]),
        *single(np.tile(1e-5 * np.eye(3), (400, 1, 1))),
    )
    alone = replace(covariances[1], members=np.arange(200, 400)[:, None],
                    matrix=covariances[1].matrix[:200])  # fmt: skip
    vectors = replace(plan.vectors, covariances=(covariances[0], alone))
    made = simulate(replace(plan, vectors=vectors), seed=9)
    dense, sparse = (estimate(made, arithmetic=a) for a in ("dense", "sparse"))
    own, other = (blunder_tests(a) for a in (dense, sparse))
    np.testing.assert_allclose(other.basis.test, own.basis.test, rtol=1e-7)
    np.testing.assert_allclose(other.redundancy, own.redundancy, atol=1e-8)


def test_a_country_in_two_pieces_is_said_to_float():
    """By hand: the piece without a known mark floats, in plan and height, by name."""
    plan = network(600)
    half = plan.mark_of(np.arange(600)) < 300
    start, end = half[plan.vectors.start], half[plan.vectors.end]
    known = half[plan.known.mark]
    apart = replace(
        plan,
        vectors=replace(plan.vectors, used=start == end),
        known=replace(plan.known, used=known),
    )
    with pytest.raises(NoSolution) as caught:
        estimate(apart, arithmetic="sparse")
    floats = set(caught.value.marks)
    beyond = {name for name, inside in zip(plan.marks.name, half, strict=True)
              if not inside}  # fmt: skip
    assert floats >= beyond - set(lonely(apart))
    assert "float" in str(caught.value)


def lonely(network):
    """Return the marks that no vector in use reaches."""
    used = network.vectors.used
    ends = [network.vectors.start[used], network.vectors.end[used]]
    reached = set(np.concatenate(ends).tolist())
    return [name for i, name in enumerate(network.marks.name) if i not in reached]
