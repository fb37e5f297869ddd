"""What a candidate would buy, against a new adjustment with it in the network."""

from dataclasses import replace
from itertools import combinations
from pathlib import Path

import numpy as np
import pytest

from brasscap.adjust import estimate
from brasscap.adjust.design import (
    Choice,
    choose,
    gained,
    levelling,
    observed,
    plan,
    position,
    scores,
    session,
    state_of,
    total_station_round,
    vector,
)
from brasscap.adjust.design.crew import Crew, Task
from brasscap.adjust.design.plan import planned
from brasscap.adjust.design.screen import inner_of, screened, vector_gains
from brasscap.adjust.design.standing import detectable, unchecked
from brasscap.adjust.judge import hypotheses
from brasscap.adjust.judge.external import reliability
from brasscap.adjust.judge.limits import noncentrality
from brasscap.adjust.precision.relative import relative
from brasscap.io.tables.load import load
from brasscap.networks.covariances import Batch
from brasscap.networks.neighbours import observed_pairs
from brasscap.networks.planning import Planned, with_planned
from brasscap.networks.simulate import undisturbed

EXAMPLES = Path(__file__).parents[1] / "networks" / "examples"
POWER, ALPHA = 0.80, 0.001


@pytest.fixture(scope="module")
def harbour():
    return estimate(load(EXAMPLES / "harbour").network, "minimal")


@pytest.fixture(scope="module")
def state(harbour):
    return made_of(harbour)


def made_of(adjustment):
    causes = [*hypotheses.observations(adjustment), *hypotheses.set_ups(adjustment)]
    ends = observed_pairs(adjustment.network)
    limit = np.full((len(ends), 2), 0.004)
    multipliers = np.full((len(ends), 2), 2.0)
    return state_of(adjustment, ends, limit, multipliers, causes)


def with_vector(adjustment, start, end, candidate):
    """Return the adjustment with a vector from mark to mark really in the network."""
    network = adjustment.network
    vectors, axes = network.vectors, adjustment.nodes.axes
    turn = axes[start].T
    covariance = turn @ candidate.covariance @ turn.T
    xyz = adjustment.nodes.xyz
    count = len(vectors)
    more = replace(
        vectors,
        name=(*vectors.name, "NEW"),
        start=np.append(vectors.start, start),
        end=np.append(vectors.end, end),
        delta=np.vstack([vectors.delta, xyz[end] - xyz[start]]),
        start_offset=np.append(vectors.start_offset, 0.0),
        end_offset=np.append(vectors.end_offset, 0.0),
        covariances=(*vectors.covariances, single_of(count, covariance)),
        session=np.append(vectors.session, -1),
        group=np.append(vectors.group, vectors.group[0]),
        used=np.append(vectors.used, True),
        row=np.append(vectors.row, 999),
        **{
            field: None if getattr(vectors, field) is None else np.concatenate(
                [getattr(vectors, field), np.full_like(getattr(vectors, field)[:1], -1)]
            )
            for field in ("parameter",)
        },
    )  # fmt: skip
    return estimate(replace(network, vectors=more), "minimal")


def single_of(row, covariance):
    return Batch(np.array([[row]]), covariance[None])


def test_one_vector_more_is_a_new_adjustment(harbour, state):
    names = harbour.network.marks.name
    start, end = names.index("DUNE TRACK"), names.index("BOAT RAMP")
    candidate = vector(harbour, start, end, (0.003, 0.006), (0.001, 0.0015))
    after = observed(state, candidate)
    again = with_vector(harbour, start, end, candidate)
    expected = relative(again, state.ends).covariance
    # The new solution's partials are taken where its marks are, micrometres away.
    assert after.pairs == pytest.approx(expected, rel=1e-6, abs=1e-13)
    causes = [*hypotheses.observations(again), *hypotheses.set_ups(again)]
    causes = [c for c in causes if c.name != "NEW"]
    assert [c.about for c in causes] == [c.about for c in state.hypotheses]
    expected = reliability(again, causes).smallest_detectable
    made = detectable(after, after.share, noncentrality(ALPHA, POWER))
    assert np.array_equal(np.isinf(made), np.isnan(expected))
    finite = np.isfinite(made)
    assert made[finite] == pytest.approx(expected[finite], rel=1e-5)
    assert unchecked(state.share).sum() > unchecked(after.share).sum()


def test_scores_are_those_of_the_state_after(harbour, state):
    names = harbour.network.marks.name
    marks = [names.index(n) for n in ("DUNE TRACK", "BOAT RAMP", "ICE HOUSE")]
    candidates = [
        vector(harbour, marks[0], marks[1], (0.003, 0.006), (0.001, 0.0015)),
        vector(harbour, marks[0], marks[2], (0.003, 0.006), (0.001, 0.0015)),
        levelling(harbour, marks[1], marks[2], 0.001),
        position(marks[0], (0.01, 0.02), (0.001, 0.0015)),
    ]
    found = scores(state, candidates)
    lambda0 = noncentrality(ALPHA, POWER)
    before = detectable(state, state.share, lambda0)
    usable = np.isfinite(before) & state.metres
    for k, candidate in enumerate(candidates):
        after = observed(state, candidate)
        then = detectable(after, after.share, lambda0)
        gone = unchecked(state.share).sum() - unchecked(after.share).sum()
        assert found.unchecked[k] == gone
        shrunk = np.log(before[usable] / then[usable]).mean()
        # The cosine loses half of the digits where two directions hide alike.
        assert found.detectable[k] == pytest.approx(shrunk, abs=1e-7)
        assert (np.diag(after.covariance) <= np.diag(state.covariance) + 1e-15).all()


def test_the_order_of_two_does_not_matter(harbour, state):
    two = [
        vector(harbour, 0, 3, (0.003, 0.006), (0.001, 0.0015)),
        vector(harbour, 2, 5, (0.002, 0.004), (0.001, 0.0015)),
    ]
    one = observed(observed(state, two[0]), two[1])
    other = observed(observed(state, two[1]), two[0])
    assert one.covariance == pytest.approx(other.covariance, abs=1e-16)
    assert one.share == pytest.approx(other.share, abs=1e-10)


def test_a_round_to_one_target_says_nothing_across(harbour):
    """With the orientation unknown: one distance, one height difference."""
    alone = total_station_round(
        harbour, 0, [3], (2e-5, 2e-5, 0.001, 1e-6), (0.001, 0.001)
    )
    assert alone.design.shape == (2, 6)
    two = total_station_round(
        harbour, 0, [3, 4], (2e-5, 2e-5, 0.001, 1e-6), (0.001, 0.001)
    )
    assert two.design.shape == (5, 9)
    # A turn of both targets about the instrument is not seen.
    axes, xyz = harbour.nodes.axes, harbour.nodes.xyz
    moved = np.zeros(9)
    for k, target in enumerate((3, 4)):
        line = axes[0] @ (xyz[target] - xyz[0])
        turned = np.array([line[1], -line[0], 0.0])
        moved[3 * k + 3 : 3 * k + 6] = axes[target] @ axes[0].T @ turned
    assert np.abs(two.design @ moved).max() < 1e-6


def test_greedy_is_never_worse_than_the_first_pick_and_near_the_best(harbour, state):
    """Against every set of three of nine candidates, by the same worth."""
    random = np.random.default_rng(4)
    marks = len(harbour.network.marks)
    candidates = []
    while len(candidates) < 9:
        start, end = random.choice(marks, 2, replace=False).tolist()
        candidates.append(vector(harbour, start, end, (0.003, 0.006), (0.001, 0.0015)))
    steps = choose(state, Choice(candidates), most=3)
    made = total(state, candidates, [step.candidate for step in steps])
    best = max(total(state, candidates, some) for some in combinations(range(9), 3))
    assert made >= 0.85 * best


def total(state, candidates, some):
    """Return the worth of a set: what its steps buy one after another."""
    worth = 0.0
    for k in some:
        worth += float(scores(state, [candidates[k]]).worth()[0])
        state = observed(state, candidates[k])
    return worth


def test_screen_is_the_fall_of_the_weighted_variances(harbour, state):
    """tr(W C) before less after, by the state with the candidate observed."""
    names = harbour.network.marks.name
    marks = [names.index(n) for n in ("DUNE TRACK", "BOAT RAMP", "ICE HOUSE")]
    candidates = [
        vector(harbour, marks[0], marks[1], (0.003, 0.006), (0.001, 0.0015)),
        levelling(harbour, marks[1], marks[2], 0.001),
        position(marks[0], (0.01, 0.02), (0.001, 0.0015)),
    ]
    # The weighted sum itself, pair by pair, plan and height.
    own = np.diagonal(state.pairs, axis1=1, axis2=2) * (2 / 0.004) ** 2
    for gain, candidate in zip(screened(state, candidates), candidates, strict=True):
        after = observed(state, candidate).pairs
        left = np.diagonal(after, axis1=1, axis2=2) * (2 / 0.004) ** 2
        assert gain == pytest.approx(own.sum() - left.sum(), rel=1e-9)


def test_what_all_candidates_need_is_the_marks_covariance_by_the_pairs_weights(
    harbour, state
):
    """G = C W C, with W = Σ Dᵀ w D summed pair by pair here."""
    axes, weight = harbour.nodes.axes, np.zeros_like(state.covariance)
    for start, end in state.ends.tolist():
        turn = np.zeros((3, len(weight)))
        turn[:, 3 * start : 3 * start + 3] = -np.eye(3)
        turn[:, 3 * end : 3 * end + 3] = axes[start] @ axes[end].T
        weight += turn.T @ turn * (2 / 0.004) ** 2
    whole = state.covariance @ weight @ state.covariance
    assert inner_of(state) == pytest.approx(whole, abs=1e-9 * np.abs(whole).max())


def test_vectors_in_common_axes_are_screened_alike(harbour, state):
    """The harbour's marks turned to geocentric axes: gains do not depend on axes."""
    count = len(harbour.network.marks)
    axes = harbour.nodes.axes[:count]
    turn = np.zeros((3 * count, 3 * count))
    for k in range(count):
        turn[3 * k : 3 * k + 3, 3 * k : 3 * k + 3] = axes[k]
    covariance = turn.T @ state.covariance @ turn
    inner = turn.T @ inner_of(state) @ turn
    random = np.random.default_rng(1)
    pairs = np.array([random.permutation(count)[:2] for _ in range(20)])
    candidates = [
        vector(harbour, *pair, (0.003, 0.006), (0.001, 0.0015))
        for pair in pairs.tolist()
    ]
    noise = np.array(
        [axes[c.marks[0]].T @ c.covariance @ axes[c.marks[0]] for c in candidates]
    )
    gains = vector_gains(covariance, inner, pairs[:, 0], pairs[:, 1], noise)
    assert gains == pytest.approx(screened(state, candidates), rel=1e-8)


def test_a_state_of_some_marks_says_the_same(harbour, state):
    """Marks that no pair and no candidate touches are not needed."""
    ends = state.ends[:6]
    some = np.union1d(ends.ravel(), [0, 3])
    causes = [*hypotheses.observations(harbour), *hypotheses.set_ups(harbour)]
    limit, scale = np.full((6, 2), 0.004), np.full((6, 2), 2.0)
    whole = state_of(harbour, ends, limit, scale, causes)
    part = state_of(harbour, ends, limit, scale, causes, some)
    candidate = vector(harbour, 0, 3, (0.003, 0.006), (0.001, 0.0015))
    for name in ("failures", "unchecked", "detectable", "pair"):
        one = getattr(scores(whole, [candidate]), name)
        assert one == pytest.approx(getattr(scores(part, [candidate]), name), abs=1e-9)
    away = next(k for k in range(len(harbour.network.marks)) if k not in some)
    outside = position(away, (0.01, 0.02), (0.001, 0.0015))
    with pytest.raises(IndexError):
        observed(part, outside)


def test_a_set_is_worth_what_its_steps_are_together(harbour, state):
    one = vector(harbour, 0, 3, (0.003, 0.006), (0.001, 0.0015))
    alone, whole = scores(state, [one]), gained(state, observed(state, one))
    for name in ("failures", "unchecked", "detectable", "pair"):
        assert getattr(alone, name) == pytest.approx(getattr(whole, name), abs=1e-7)


def test_a_session_of_three_is_what_planning_puts_into_a_network():
    """Rows with set-ups folded in against a network with a node for each set-up."""
    base = load(EXAMPLES / "harbour").network
    before = estimate(base, "minimal")
    places = before.nodes.xyz[: len(base.marks)]
    marks, sd, stand = (0, 3, 7), (0.004, 0.008), (0.001, 0.0015)
    work = [Planned("S", "baseline", marks, sd, stand)]
    # Both without misfit, at the same places.
    still = estimate(undisturbed(with_planned(base, [], places)), "minimal")
    again = estimate(undisturbed(with_planned(base, work, places)), "minimal")
    ends = observed_pairs(base)
    none = np.full((len(ends), 2), np.nan)
    state = state_of(still, ends, none, np.ones((len(ends), 2)), [])
    after = observed(state, session(still, marks, [sd, sd], stand))
    expected = relative(again, ends).covariance
    assert after.pairs == pytest.approx(expected, rel=1e-6, abs=1e-12)


def test_a_session_of_two_is_a_vector(harbour):
    sd, stand = (0.003, 0.006), (0.001, 0.0015)
    one = vector(harbour, 0, 3, sd, stand)
    two = session(harbour, (0, 3), [sd], stand)
    assert two.design == pytest.approx(one.design)
    assert two.covariance == pytest.approx(one.covariance)


def test_of_very_many_candidates_the_best_get_a_full_look(harbour, state, monkeypatch):
    """The first look keeps what the full one would choose first."""
    random = np.random.default_rng(3)
    marks = len(harbour.network.marks)
    pairs = [random.permutation(marks)[:2].tolist() for _ in range(60)]
    candidates = [vector(harbour, *p, (0.003, 0.006), (0.001, 0.0015)) for p in pairs]
    tasks = [Task(tuple(pair), 30) for pair in pairs]
    crew, drive = Crew(2, 2, 0, 200, set_up=5), np.full((marks, marks), 5.0)
    whole = planned(state, Choice(candidates), tasks, crew, drive)
    monkeypatch.setattr(plan, "SCREENED", 30)
    quick = planned(state, Choice(candidates), tasks, crew, drive)
    assert quick.order[0] == whole.order[0]
    assert quick.looked.sum() == 30
    assert (quick.added[list(quick.order)] >= 0).all()
