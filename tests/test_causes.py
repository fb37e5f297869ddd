"""Causes of a misfit: hand sums, the same by adjusting again, and what was planted."""

import runpy
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from brasscap.adjust import estimate
from brasscap.adjust.causes import suspects
from brasscap.adjust.causes.evaluate import hypotheses
from brasscap.adjust.causes.field import field_of
from brasscap.adjust.causes.fresh import Candidate
from brasscap.adjust.causes.parting import best_parting
from brasscap.adjust.causes.registry import causes_of
from brasscap.adjust.causes.rows import rows_of
from brasscap.adjust.judge import blunder_tests
from brasscap.networks import (
    KnownMarks,
    LocalFrame,
    Marks,
    Network,
    Options,
    Positions,
    SetUps,
    Vectors,
)
from brasscap.networks.covariances import single
from brasscap.networks.simulate import Blunder, simulate

TESTS = Path(__file__).parent
MAKERS = runpy.run_path(str(TESTS / "make_examples"))
SD = 0.010


def ints(things):
    return np.zeros(len(things), dtype=np.int64)


def network_of(vectors, known=("A",), positions=(), set_ups=False, places=None):
    """Return marks joined by vectors (start, end, delta), sd 10 mm in every component.

    With set-ups each vector has two of its own, sd 1 mm in plan, 1.5 mm in height.
    """
    names = tuple(dict.fromkeys([*known, *(end for v in vectors for end in v[:2])]))
    number = {name: i for i, name in enumerate(names)}
    ends = np.array([[number[a], number[b]] for a, b, _ in vectors]).reshape(-1, 2)
    over = ends.ravel() if set_ups else ints(())
    nodes = len(names) + np.arange(len(over)).reshape(-1, 2) if set_ups else ends
    xyz = np.array([(places or {}).get(name, (0.0, 0.0, 0.0)) for name in names])
    sessions = np.arange(len(vectors)) if set_ups else ints(vectors) - 1
    n, p, k, s = len(vectors), len(positions), len(known), len(over)
    unit = np.eye(3) * SD**2
    return Network(
        LocalFrame(),
        Marks(names, np.where(xyz.any(), xyz, np.nan), ("",) * len(names),
              ("",) * len(names), ints(names)),
        SetUps(
            tuple(f"S{i}" for i in range(s)), over.astype(np.int64), ("",) * s,
            np.repeat(sessions, 2)[:s], np.full(s, 1.5), np.zeros((s, 2)),
            np.full(s, 0.001), np.full(s, 0.0015), ("",) * s, ("",) * s, ("",) * s,
            ints(over),
        ),
        Vectors(
            tuple(f"B{i + 1}" for i in range(n)), nodes[:, 0], nodes[:, 1],
            np.array([v[2] for v in vectors], dtype=float).reshape(-1, 3),
            np.full(n, 1.5 * set_ups), np.full(n, 1.5 * set_ups),
            single(np.broadcast_to(unit, (n, 3, 3)).copy()), sessions, ints(vectors),
            np.ones(n, dtype=bool), np.arange(n) + 2,
        ),
        Positions(
            tuple(f"P{i + 1}" for i in range(p)),
            np.array([number[a] for a, _ in positions], dtype=np.int64),
            np.array([xyz for _, xyz in positions], dtype=float).reshape(-1, 3),
            np.zeros(p), np.ones((p, 3), dtype=bool),
            single(np.broadcast_to(unit, (p, 3, 3)).copy()), ints(positions),
            np.ones(p, dtype=bool), np.arange(p) + 2,
        ),
        KnownMarks(
            np.array([number[a] for a in known], dtype=np.int64), xyz[: len(known)],
            np.ones((k, 3), dtype=bool), ("held",) * k, ("held",) * k,
            single(np.broadcast_to(unit, (k, 3, 3)).copy()), ("",) * k,
            np.ones(k, dtype=bool), np.arange(k) + 2,
        ),
        sessions=tuple(f"S{i}" for i in range(n)) if set_ups else (),
    )  # fmt: skip


def loop(misclosure=0.030):
    return network_of(
        [
            ("A", "B", (100, 0, 0)),
            ("B", "C", (0, 100, 0)),
            ("C", "A", (-100, -100, misclosure)),
        ]
    )


def made(name="harbour", seed=3, blunders=()):
    plan = MAKERS["planned"](name)
    return estimate(simulate(plan, seed=seed, blunders=list(blunders)))


@pytest.fixture(scope="module")
def harbour():
    return made(blunders=[MAKERS["EXAMPLES"]["harbour"].PLANTED])


def test_a_single_loop_by_hand():
    """The 30 mm may be in any of three vectors: T = 30² / (3 · 10²) = 3 for each.

    Its sd is √3 · 10 mm, the shift of each vector all of the misclosure, and with
    three degrees of freedom the variance factor is 1.
    """
    found = suspects(estimate(loop()))
    vectors = [k for k in range(len(found)) if found.words[k].startswith("baseline")]
    assert found.variance_factor.value == pytest.approx(1.0, rel=1e-9)
    assert len(vectors) == 3
    for k in vectors:
        assert found.statistic[k] == pytest.approx(3.0, rel=1e-9)
        assert found.size[k] == pytest.approx([0, 0, 0.030], abs=1e-12)
        assert found.sd_size[k] == pytest.approx(SD * np.sqrt(3), rel=1e-9)
        assert found.group[k] == 0
    assert not found.enough
    assert not found.search.steps


def test_the_limit_of_three_components_is_that_of_the_b_method():
    """12.633: λ0 = 17.075 and power 80 % for p = 3 (ncx2, computed apart)."""
    found = suspects(estimate(loop(0.3)))
    assert found.limit[0] == pytest.approx(12.6335, abs=1e-4)
    assert found.test[0] == pytest.approx(np.sqrt(300 / 12.6335), abs=1e-4)


def test_what_a_cause_explains_is_what_an_adjustment_without_it_says(harbour):
    """vᵀPv falls by T when a vector is left out: two adjustments side by side."""
    network = harbour.network
    found = suspects(harbour, about="B5")
    (k,) = [i for i in range(len(found)) if found.about[i] == ("B5",)]
    used = network.vectors.used.copy()
    used[network.vectors.name.index("B5")] = False
    covariances = harbour.network.vectors.covariances
    assert any(len(batch.members[0]) > 1 for batch in covariances)
    again = estimate(
        replace(network, vectors=replace(network.vectors, used=used)), "constrained"
    )
    assert harbour.vtpv - again.vtpv == pytest.approx(found.statistic[k], rel=1e-5)
    left = again.vtpv / again.degrees_of_freedom
    assert found.variance_factor_without[k] == pytest.approx(left, rel=1e-5)


def test_letting_a_known_mark_go_is_another_datum(harbour):
    known = harbour.network.known
    found = suspects(harbour, about="PILOT POINT")
    (k,) = [i for i in range(len(found)) if found.kind[i] == "known mark"
            and found.about[i] == ("PILOT POINT",)]  # fmt: skip
    mark = harbour.network.marks.name.index("PILOT POINT")
    free = ["check-only" if m == mark else use
            for m, use in zip(known.mark, known.use_plan, strict=True)]  # fmt: skip
    loose = replace(known, use_plan=tuple(free), use_height=tuple(free))
    again = estimate(replace(harbour.network, known=loose))
    assert harbour.vtpv - again.vtpv == pytest.approx(found.statistic[k], rel=1e-5)


def test_two_causes_together_are_two_left_out(harbour):
    """The joint statistic, and what one adds to the other, by a third adjustment."""
    rows = rows_of(harbour)
    causes = [c for c in causes_of(field_of(harbour, rows)) if c.about in
              (("B7",), ("B13",)) and c.kind == "observation"]  # fmt: skip
    hypothesis = hypotheses(harbour, causes, rows)
    joint = hypothesis.joint(rows.misclosure)
    vectors = harbour.network.vectors

    def left(*names):
        used = np.array([name not in names for name in vectors.name])
        network = replace(harbour.network, vectors=replace(vectors, used=used))
        return harbour.vtpv - estimate(network).vtpv

    both, components = joint.statistic([0, 1])
    assert components == 6
    assert both == pytest.approx(left("B7", "B13"), rel=1e-5)
    added, rank = joint.added(0, 1)
    assert rank == 3
    assert added == pytest.approx(both - left("B13"), rel=1e-4, abs=1e-4)
    assert joint.given([1]).statistics()[0][0] == pytest.approx(added, rel=1e-9)


@pytest.mark.parametrize("mode", ["constrained", "minimal"])
def test_single_causes_are_the_blunder_tests(harbour, mode):
    """The same statistics by another way: node blocks instead of one matrix."""
    adjustment = estimate(harbour.network, mode)
    rows = rows_of(adjustment)
    hypothesis = hypotheses(adjustment, causes_of(field_of(adjustment, rows)), rows)
    statistic, _ = hypothesis.joint(rows.misclosure).statistics()
    mine = {(c.kind, c.about): (t, u) for c, t, u in
            zip(hypothesis.causes, statistic, hypothesis.unchecked,
                strict=True)}  # fmt: skip
    tests, compared = blunder_tests(adjustment), 0
    kinds = {"baseline": "observation", "set-up": "set-up on wrong mark"}
    for i, kind in enumerate(tests.kind):
        key = (kinds.get(kind, kind), (tests.name[i],))
        if key in mine and kind in (*kinds, "set-up height", "known mark height"):
            theirs = tests.tests.stated.statistic[i]
            assert mine[key][1] == (tests.verdict[i] == "unchecked"), key
            if np.isfinite(theirs):
                assert mine[key][0] == pytest.approx(theirs, rel=1e-6, abs=1e-6)
            compared += 1
    assert compared > 50


PLANTED = {
    "harbour": "set-up height",
    "mill": "target height",
    "tramway": "observation",
}


@pytest.mark.parametrize("name", PLANTED)
def test_the_examples_name_what_was_planted_in_them(name):
    planted = MAKERS["EXAMPLES"][name].PLANTED
    found = suspects(made(name, 5, [planted]))
    assert found.kind[0] == PLANTED[name]
    assert found.about[0] == (planted.about,)
    assert found.answer == "high"
    assert found.groups[0].members == (0,)
    size = max(planted.shift, key=abs)
    assert abs(found.size[0][0] - size) < 5 * found.sd_size[0][0]
    assert len(found.search.steps) == 1


def test_a_set_up_on_another_mark_is_named_with_it():
    wrong = Blunder("set-up on wrong mark", "S3-ICE", other="FISH DOCK")
    found = suspects(made(blunders=[wrong]))
    assert found.kind[0] == "set-up on wrong mark"
    assert found.about[0] == ("S3-ICE",)
    assert "on FISH DOCK in place of ICE HOUSE" in found.words[0]


def test_exchanged_set_ups_are_named():
    exchanged = Blunder("set-ups exchanged", "S3-ICE", other="S3-DOCK")
    found = suspects(made(blunders=[exchanged]))
    assert found.kind[0] == "set-ups exchanged"
    assert set(found.about[0]) == {"S3-ICE", "S3-DOCK"}


def test_nobody_is_said_to_be_exchanged_who_was_not(harbour):
    assert "set-ups exchanged" not in suspects(harbour).kind


def test_three_faults_one_after_another():
    faults = [
        Blunder("set-up height", "S3-ICE", (0.0, 0.0, 0.10)),
        Blunder("baseline", "B12", (0.08, 0.05, 0.0)),
        Blunder("set-up height", "S2-BW1", (0.0, 0.0, 0.08)),
    ]
    found = suspects(made(blunders=faults))
    named = [found.made.causes[c].about[0] for c in found.search.model]
    assert set(named) == {"S3-ICE", "B12", "S2-BW1"}
    assert found.search.stopped == "explained"


def test_twins_are_one_group_and_a_new_vector_parts_them():
    """A height that one vector alone uses is that vector's height."""
    deltas = {"A": (0, 0, 0), "B": (500, 0, 0), "C": (0, 500, 0), "D": (500, 500, 0)}
    pairs = ["AB", "BD", "DC", "CA", "AD", "BC"]
    off = {"BD": (0, 0, 0.2)}
    vectors = [
        (a, b, np.subtract(deltas[b], deltas[a]) + off.get(a + b, (0, 0, 0)))
        for a, b in pairs
    ]
    adjustment = estimate(network_of(vectors, set_ups=True, places=deltas))
    found = suspects(adjustment)
    assert found.kind[0] == "set-up height"
    twin = found.groups[0].members[1]
    assert {found.about[0], found.about[twin]} == {("S2",), ("S3",)}
    assert found.size[0][0] == pytest.approx(-found.size[twin][0], rel=1e-6)
    fresh = Candidate("P1", "baseline", 1, 3, SD, SD)
    pair = (int(found.number[0]), int(found.number[twin]))
    assert best_parting(adjustment, found.made, found.joint, pair, [fresh]) is None


def test_what_a_candidate_parts_is_what_it_would_do_if_observed():
    """The same single loop with the candidate really in it, adjusted once more.

    Of its misclosure either vector is suspect; a second vector A – B parts them.
    """
    adjustment = estimate(loop(0.3))
    found = suspects(adjustment)
    first, second = (found.about.index((name,)) for name in ("B1", "B2"))
    pair = (int(found.number[first]), int(found.number[second]))
    fresh = Candidate("", "baseline", 0, 1, SD, SD)
    parting = best_parting(adjustment, found.made, found.joint, pair, [fresh])
    assert parting.before == pytest.approx(0.0, abs=1e-6)
    deltas = [(100, 0, 0), (0, 100, 0), (-100, -100, 0.3), (100, 0, 0)]
    ends = [("A", "B"), ("B", "C"), ("C", "A"), ("A", "B")]
    more = network_of([(*e, d) for e, d in zip(ends, deltas, strict=True)])
    variances = [np.eye(3) * SD**2] * 3
    # A fresh tripod at each end: 1 mm centring, 1.5 mm height.
    variances.append(np.diag([2 * 0.001**2] * 2 + [2 * 0.0015**2]) + variances[0])
    vectors = replace(more.vectors, covariances=single(np.array(variances)))
    again = estimate(replace(more, vectors=vectors))
    rows = rows_of(again)
    causes = [c for c in causes_of(field_of(again, rows)) if c.kind == "observation"]
    larger = hypotheses(again, causes[:2], rows)
    # What is left of B1 beside B2, per metre, at the size told by the loop.
    left = larger.joint(rows.misclosure).given([1])
    size = np.linalg.lstsq(larger.roots[0], found.size[first], rcond=None)[0]
    noncentrality = size @ left.matrix[:3, :3] @ size
    assert parting.after == pytest.approx(np.sqrt(noncentrality / 12.6335), rel=1e-4)


@pytest.mark.parametrize(
    ("off", "kind"),
    [
        ((0.2, 0.1, 0.0), "known mark plan"),
        ((0.0, 0.0, 0.2), "known mark height"),
        ((0.2, 0.1, 0.2), "known mark"),
    ],
)
def test_the_simplest_that_explains_wins(off, kind):
    places = {"A": (0, 0, 0), "B": (900, 0, 0), "C": (0, 900, 0), "D": (500, 500, 0)}
    pairs = ["AD", "BD", "CD", "AB", "BC", "CA", "AD", "BD", "CD"]
    vectors = [(a, b, np.subtract(places[b], places[a])) for a, b in pairs]
    places["C"] = np.add(places["C"], off)
    found = suspects(estimate(network_of(vectors, ("A", "B", "C"), places=places)))
    assert (found.kind[0], found.about[0]) == (kind, ("C",))
    size = [o for o, w in zip(off, "enu", strict=True) if w in found.measure[0]]
    assert found.size[0] == pytest.approx(size, abs=1e-9)


def test_nothing_measured_twice():
    found = suspects(estimate(network_of([("A", "B", (100, 0, 0))])))
    assert found.answer == "unchecked"
    assert not len(found)
    assert found.unchecked


def test_two_observations_of_one_thing_are_not_told_apart():
    vectors = [("A", "B", (100, 0, 0)), ("A", "B", (100, 0, 0.3))]
    found = suspects(estimate(network_of(vectors)))
    assert found.groups[0].members[:2] == (0, 1)
    assert not found.enough


def test_all_control_wrong_by_one_shift_cannot_be_seen():
    """Vectors see differences only: nothing in them knows where the whole lies."""
    right = {"A": (0, 0, 0), "B": (500, 0, 0), "C": (0, 500, 0)}
    pairs = [("A", "B"), ("B", "C"), ("C", "A"), ("A", "C")]
    vectors = [(a, b, np.subtract(right[b], right[a])) for a, b in pairs]
    moved = {name: np.add(place, 100.0) for name, place in right.items()}
    found = suspects(estimate(network_of(vectors, ("A", "B"), places=moved)))
    assert found.variance_factor.value == pytest.approx(0.0, abs=1e-9)
    assert any("all known marks" in words for words in found.unchecked)
    assert "all known marks" not in found.kind


def test_but_positions_see_it():
    right = {"A": (0, 0, 0), "B": (500, 0, 0), "C": (0, 500, 0)}
    pairs = [("A", "B"), ("B", "C"), ("C", "A"), ("A", "C")]
    vectors = [(a, b, np.subtract(right[b], right[a])) for a, b in pairs]
    moved = {name: np.add(place, 1.0) for name, place in right.items()}
    positions = [(name, right[name]) for name in "ABC"]
    found = suspects(estimate(network_of(vectors, ("A", "B"), positions, places=moved)))
    assert found.kind[0] == "all known marks"
    assert found.size[0] == pytest.approx([1.0, 1.0, 1.0], abs=1e-6)


def test_a_blunder_of_a_thousand_kilometres():
    places = {"A": (0, 0, 0), "B": (500, 0, 0), "C": (0, 500, 0), "D": (500, 500, 0)}
    pairs = ["AB", "BD", "DC", "CA", "AD", "BC", "AB", "CD", "AC"]
    off = {1: (1e6, 0, 0)}
    vectors = [
        (a, b, np.subtract(places[b], places[a]) + off.get(i, (0, 0, 0)))
        for i, (a, b) in enumerate(pairs)
    ]
    found = suspects(estimate(network_of(vectors)))
    assert found.about[0] == ("B2",)
    assert found.size[0][0] == pytest.approx(1e6, rel=1e-9)
    assert found.variance_factor_without[0] < 1e-3


def test_two_pieces_each_on_its_own_known_mark():
    vectors = [
        ("A", "B", (100, 0, 0)), ("A", "B", (100, 0, 0)), ("A", "B", (100, 0, 0.4)),
        ("C", "D", (100, 0, 0)), ("C", "D", (100, 0, 0)),
    ]  # fmt: skip
    found = suspects(estimate(network_of(vectors, ("A", "C"))))
    assert found.about[0] == ("B3",)
    assert all("C" not in about for about in found.about[:1])


def test_estimated_tests_are_said_on_their_own_limits(harbour):
    options = replace(harbour.network.options, tests_from="estimated")
    network = harbour.network.with_options(options)
    found = suspects(estimate(network))
    tests = blunder_tests(estimate(network))
    i = [*zip(tests.kind, tests.name, strict=True)].index(("set-up height", "S3-ICE"))
    assert found.about[0] == ("S3-ICE",)
    assert found.test[0] == pytest.approx(float(tests.basis.test[i]), rel=1e-6)


def test_a_low_variance_factor_is_no_blunder():
    plan = MAKERS["planned"]("harbour")
    clean = simulate(plan, seed=2)
    wide = [replace(b, matrix=b.matrix * 9) for b in clean.vectors.covariances]
    network = replace(clean, vectors=replace(clean.vectors, covariances=tuple(wide)))
    levels = replace(network.levels, sd=network.levels.sd * 3)
    sights = tuple(replace(s, sd=s.sd * 3) for s in network.sights)
    found = suspects(estimate(replace(network, levels=levels, sights=sights)))
    assert found.answer == "low"
    assert not found.search.steps


def test_a_clean_survey_passes():
    found = suspects(made(seed=11))
    assert found.variance_factor.verdict == "meets"
    assert found.answer in ("passes", "passes, but")
    assert "fails" not in found.verdict


def test_options_of_the_network_are_used():
    strict = Options(outlier_alpha=0.01)
    found = suspects(estimate(loop().with_options(strict)))
    assert found.limit[0] < 12.6


def test_a_set_up_on_another_mark_is_like_standing_there():
    from brasscap.suspected import likeness_of

    wrong = Blunder("set-up on wrong mark", "S3-ICE", other="FISH DOCK")
    (like,) = likeness_of(suspects(made(blunders=[wrong])), None)
    assert like.words == "it stood on FISH DOCK"
    assert like.off < 0.03
