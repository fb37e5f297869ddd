"""What could hide: smallest detectable blunders, what a smaller one does, planting."""

import json
from dataclasses import replace

import numpy as np
import pytest

from brasscap.__main__ import main
from brasscap.adjust import estimate
from brasscap.adjust.judge import blunder_tests, external, hypotheses, planting, unseen
from brasscap.adjust.judge.limits import noncentrality
from brasscap.networks import (
    CommandError,
    KnownMarks,
    Levels,
    LocalFrame,
    Marks,
    Network,
    Options,
    Positions,
    SetUps,
    Vectors,
)
from brasscap.networks.covariances import single
from brasscap.planting import read_blunder

DELTA0 = 4.132148
"""√17.0746: α 0.1 %, power 80 % (Baarda 1968; also in tests/cases)."""


def make_marks(names):
    count = len(names)
    east = 400.0 * np.cos(2 * np.pi * np.arange(count) / count)
    north = 400.0 * np.sin(2 * np.pi * np.arange(count) / count)
    return Marks(
        name=tuple(names),
        approximate=np.stack([east, north, np.full(count, 100.0)], axis=1),
        status=("found",) * count,
        description=("",) * count,
        row=np.arange(count) + 2,
    )


def make_set_ups(over, sd_centring, sd_height):
    count = len(over)
    return SetUps(
        name=tuple(f"O{i}" for i in range(count)),
        mark=np.array(over, dtype=np.int64),
        support=("tripod",) * count,
        session=np.full(count, -1),
        height=np.full(count, 1.5),
        eccentricity=np.zeros((count, 2)),
        sd_centring=np.full(count, sd_centring),
        sd_height=np.full(count, sd_height),
        reduction=("",) * count,
        antenna=tuple("AB"[i % 2] for i in range(count)),
        tripod=("",) * count,
        row=np.arange(count) + 2,
    )


def make_vectors(marks, set_ups, pairs, sd, sessions=None):
    """Return vectors between set-ups that agree exactly, sd alike in each axis."""
    count, base = len(pairs), len(marks)
    start, end = np.array(pairs, dtype=np.int64).reshape(-1, 2).T
    place = marks.approximate[set_ups.mark]
    return Vectors(
        name=tuple(f"B{i}" for i in range(count)),
        start=start + base,
        end=end + base,
        delta=place[end] - place[start],
        start_offset=set_ups.height[start],
        end_offset=set_ups.height[end],
        covariances=single(np.broadcast_to(sd**2 * np.eye(3), (count, 3, 3)).copy()),
        session=np.full(count, -1) if sessions is None else np.array(sessions),
        group=np.full(count, -1),
        used=np.ones(count, dtype=bool),
        row=np.arange(count) + 2,
    )


def make_known(marks, rows, use="held", sd=np.nan):
    count = len(rows)
    mark = np.array(rows, dtype=np.int64)
    return KnownMarks(
        mark=mark,
        xyz=marks.approximate[mark],
        components=np.ones((count, 3), dtype=bool),
        use_plan=(use,) * count,
        use_height=(use,) * count,
        covariances=single(np.broadcast_to(sd**2 * np.eye(3), (count, 3, 3)).copy()),
        source=("made up",) * count,
        used=np.ones(count, dtype=bool),
        row=np.arange(count) + 2,
    )


def no_positions():
    none, empty = np.zeros(0, dtype=np.int64), np.zeros(0)
    yes = np.zeros(0, dtype=bool)
    return Positions(
        (), none, np.zeros((0, 3)), empty, np.zeros((0, 3), bool), (), none, yes, none
    )


def make_network(marks, set_ups, vectors, known, **more):
    frame = LocalFrame()
    return Network(
        frame=frame,
        marks=marks,
        set_ups=set_ups,
        vectors=vectors,
        positions=no_positions(),
        known=known,
        options=Options(),
        **more,
    )


def all_of(adjustment, *made):
    return external.reliability(adjustment, [one for some in made for one in some])


def levelled(count, sd=0.0015):
    """Return one height difference levelled several times, from a held benchmark."""
    marks = make_marks(["BM", "P"])
    none = make_set_ups([], 0.0, 0.0)
    levels = Levels(
        name=tuple(f"L{i}" for i in range(count)),
        start=np.zeros(count, dtype=np.int64),
        end=np.ones(count, dtype=np.int64),
        rise=np.zeros(count),
        sd=np.full(count, sd),
        start_undulation=np.zeros(count),
        end_undulation=np.zeros(count),
        parameter=np.full((count, 2), -1),
        used=np.ones(count, dtype=bool),
        row=np.arange(count) + 2,
    )
    known = make_known(marks, [0])
    network = make_network(
        marks, none, make_vectors(marks, none, [], 1.0), known, levels=levels
    )
    return replace(network, dimension="height")


def test_repeated_levelling_in_closed_form(case):
    """r = (n − 1)/n, MDB = δ0 σ/√r, effect on the mean MDB/n: Baarda 1968, the case."""
    problem = case("analytic_repeated_levelling_reliability")
    adjustment = estimate(levelled(5))
    found = all_of(adjustment, hypotheses.observations(adjustment))
    rows = [i for i, h in enumerate(found.hypotheses) if h.kind == "level difference"]
    assert len(rows) == 5
    problem.check(
        mdb=found.smallest_detectable[rows],
        external_effect=found.effect[rows, 1, 1],
    )
    # λ̄ = λ0 (1 − r)/r, r = 0.8: half of δ0 (Baarda 1968).
    np.testing.assert_allclose(found.bias_to_noise[rows], DELTA0 / 2, rtol=1e-6)


def test_a_single_levelled_line_is_unchecked_and_moves_its_mark_by_any_amount():
    adjustment = estimate(levelled(1))
    found = all_of(adjustment, hypotheses.observations(adjustment))
    (line,) = [
        i for i, h in enumerate(found.hypotheses) if h.kind == "level difference"
    ]
    assert found.unchecked[line]
    assert np.isnan(found.smallest_detectable[line])
    assert found.unlimited(line).tolist() == [1]


PAIRS = [(0, 1), (1, 2), (2, 3), (3, 4), (4, 5), (5, 0), (0, 3), (1, 4), (2, 5), (0, 2)]
"""Ten vectors between six marks: two at the least meet at each."""


def six_marks(set_ups_each, sd_height=0.0015):
    """Return six marks joined by ten vectors, over one set-up a mark or two.

    Of two, the vectors of a mark go to the one and the other in turn.
    """
    marks = make_marks([f"T{i}" for i in range(6)])
    set_ups = make_set_ups(
        [i // set_ups_each for i in range(6 * set_ups_each)], 0.001, sd_height
    )
    met = dict.fromkeys(range(6), 0)
    pairs = []
    for pair in PAIRS:
        ends = []
        for mark in pair:
            ends.append(mark * set_ups_each + met[mark] % set_ups_each)
            met[mark] += 1
        pairs.append(ends)
    return make_network(
        marks,
        set_ups,
        make_vectors(marks, set_ups, pairs, 0.007),
        make_known(marks, [0]),
    )


def heights_of(adjustment):
    found = all_of(adjustment, hypotheses.set_ups(adjustment))
    rows = [i for i, h in enumerate(found.hypotheses) if h.kind == "set-up height"]
    return found, rows


def test_one_set_up_a_mark_hides_a_height_blunder_of_any_size():
    """Every vector of the set-up carries it; the vectors themselves are checked."""
    adjustment = estimate(six_marks(1))
    found, rows = heights_of(adjustment)
    assert len(rows) == 6
    assert found.unchecked[rows].all()
    for i in rows:
        reached = found.unlimited(i)
        own = int(found.hypotheses[i].about[found.hypotheses[i].about.index("T") + 1])
        # The held mark's own set-up carries all the others along.
        assert reached.tolist() == ([1, 2, 3, 4, 5] if own == 0 else [own])
    vectors = all_of(adjustment, hypotheses.observations(adjustment))
    of_vectors = [h.kind == "baseline" for h in vectors.hypotheses]
    assert not vectors.unchecked[of_vectors].any()


def test_two_set_ups_a_mark_show_it_at_every_one():
    """The same ten vectors over twelve set-ups: a few centimetres at each."""
    found, rows = heights_of(estimate(six_marks(2)))
    assert len(rows) == 12
    assert not found.unchecked[rows].any()
    # A single vector of 7 mm, wholly checked, shows 4.13 × 7 mm = 29 mm: where one
    # or two meet, the smallest is of that order (4.13 × 7/√2 mm, to 1.5 × 29 mm).
    sizes = found.smallest_detectable[rows]
    assert (sizes > DELTA0 * 0.007 / np.sqrt(2)).all()
    assert (sizes < 2 * DELTA0 * 0.007).all()


def test_smallest_sizes_are_those_of_the_blunder_tests():
    """Two ways to the same figure: by kinds of edge at once, and one by one."""
    adjustment = estimate(six_marks(2))
    tests = blunder_tests(adjustment)
    sizes = {
        (tests.kind[i], tests.name[i]): tests.tests.smallest_detectable[i]
        for i in range(len(tests))
    }
    found = all_of(
        adjustment, hypotheses.observations(adjustment), hypotheses.set_ups(adjustment)
    )
    assert len(found.hypotheses) == len(tests)
    for one, size in zip(found.hypotheses, found.smallest_detectable, strict=True):
        np.testing.assert_allclose(size, sizes[one.kind, one.name], rtol=1e-6)


@pytest.mark.parametrize("row", [0, 3, 6, 9])
def test_the_worst_effect_is_reached_and_never_passed(row):
    """Against blunders in 4 000 directions, each just too small to be seen."""
    adjustment = estimate(six_marks(2))
    found = all_of(adjustment, hypotheses.observations(adjustment))
    one = found.hypotheses[row]
    assert one.kind == "baseline"
    rng = np.random.default_rng(20240229)
    ways = rng.normal(size=(4000, 3))
    own, at, coupling = unseen.information_of(one)
    covariance = adjustment.factor.blocks(at, at)
    matrix = own - coupling.T @ covariance @ coupling
    sizes = np.einsum("ni,ij,nj->n", ways, matrix, ways)
    just = ways * np.sqrt(noncentrality(0.001, 0.80) / sizes)[:, None]
    some = next(e for e in adjustment.equations if e.kind == "baseline")
    from brasscap.adjust.judge.shifts import effect_of_edge

    unit = np.stack(
        [effect_of_edge(adjustment, some, row, axis) for axis in np.eye(3)], axis=2
    )
    moved = np.einsum("mkp,np->nmk", unit, just)
    plan = np.linalg.norm(moved[:, :, :2], axis=2).max(axis=0)
    height = np.abs(moved[:, :, 2]).max(axis=0)
    for part, sampled in enumerate((plan, height)):
        worst = found.effect[row, :, part]
        assert (sampled <= worst * (1 + 1e-9)).all()
        np.testing.assert_allclose(sampled, worst, rtol=0.02, atol=1e-12)


@pytest.mark.parametrize("sd_height", [0.0, 0.0015])
def test_an_antenna_has_one_height_error_at_all_its_set_ups(sd_height):
    """Planted by hand at each of them: what it does is foretold by its columns."""
    network = six_marks(2, sd_height)
    adjustment = estimate(network)
    found = all_of(adjustment, hypotheses.equipment(adjustment, "antenna"))
    assert [h.name for h in found.hypotheses] == ["A", "B"]
    size = float(found.smallest_detectable[0])
    made = planting.plant(adjustment, planting.Blunder("antenna", "A", "height", size))
    np.testing.assert_allclose(
        np.abs(made.moved[:, 2]), found.effect[0, :, 1], rtol=1e-6, atol=1e-9
    )
    # Nothing else is in these observations: vᵀPv is the non-centrality itself.
    assert made.after.vtpv == pytest.approx(noncentrality(0.001, 0.80), rel=1e-6)


def test_a_session_that_alone_reaches_a_mark_is_unchecked_there():
    """T2 hangs on B2 of session L: three directions unseen, all of them T2's."""
    marks = make_marks(["T0", "T1", "T2"])
    set_ups = make_set_ups([0, 1, 0, 1, 1, 2], 0.0, 0.0)
    vectors = make_vectors(
        marks, set_ups, [(0, 1), (2, 3), (4, 5)], 0.005, sessions=[0, 1, 1]
    )
    network = make_network(
        marks, set_ups, vectors, make_known(marks, [0]), sessions=("K", "L")
    )
    adjustment = estimate(network)
    found = all_of(adjustment, hypotheses.sessions(adjustment))
    assert [h.name for h in found.hypotheses] == ["K", "L"]
    assert found.null_count.tolist() == [0, 3]
    assert found.unlimited(1).tolist() == [2]
    # K is one of two equal vectors: r = 1/2, MDB δ0 σ √2, half of it reaches T1.
    smallest = DELTA0 * 0.005 * np.sqrt(2)
    assert found.smallest_detectable[0] == pytest.approx(smallest, rel=1e-6)
    np.testing.assert_allclose(found.effect[0, 1], smallest / 2, rtol=1e-6)
    # In L the second of the equal pair may be wrong as well.
    np.testing.assert_allclose(found.effect[1, 1], smallest / 2, rtol=1e-6)
    assert found.worst(0)[1].tolist() == [1, 1]


def test_a_held_mark_that_is_wrong_is_itself_as_wrong():
    """T0 and T1 held, one vector of 5 mm: 4.13 × 5 mm go unseen, none reaches T2."""
    marks = make_marks(["T0", "T1", "T2"])
    set_ups = make_set_ups([0, 1, 2], 0.0, 0.0)
    vectors = make_vectors(marks, set_ups, [(0, 1), (1, 2)], 0.005)
    network = make_network(marks, set_ups, vectors, make_known(marks, [0, 1]))
    adjustment = estimate(network)
    found = all_of(adjustment, hypotheses.observations(adjustment))
    (height,) = [
        i
        for i, h in enumerate(found.hypotheses)
        if (h.kind, h.name) == ("known mark height", "T1")
    ]
    # T2 hangs on T1, so both go along; T0 stays.
    size = DELTA0 * 0.005
    np.testing.assert_allclose(found.smallest_detectable[height], size, rtol=1e-6)
    np.testing.assert_allclose(
        found.effect[height, :, 1], [0, size, size], rtol=1e-6, atol=1e-12
    )


PLANTED = [
    ("set-up", "O3", "height", 0.060),
    ("set-up", "O3", "east", 0.060),
    ("baseline", "B4", "north", 0.060),
    ("antenna", "A", "height", 0.060),
]


@pytest.mark.parametrize(("kind", "name", "axis", "size"), PLANTED)
def test_a_large_blunder_is_caught_and_its_mark_named(kind, name, axis, size):
    """In observations that agree, so that nothing else can be the reason."""
    made = planting.plant(
        estimate(six_marks(2)), planting.Blunder(kind, name, axis, size)
    )
    assert made.caught
    assert made.verdict == "meets"
    if kind != "antenna":
        own = next(i for i in made.caught_by if made.tests.name[i] == name)
        k = planting.AXES.index(axis)
        assert made.tests.tests.shift[own, k] == pytest.approx(size, rel=1e-4)
        # None is larger; the mark's other set-up, too low, would look the same.
        largest = made.tests.basis.test[made.caught_by[0]]
        assert made.tests.basis.test[own] == pytest.approx(largest, rel=1e-4)


def test_a_small_blunder_passes_and_one_where_nothing_checks_is_said_so():
    made = planting.plant(
        estimate(six_marks(2)), planting.Blunder("set-up", "O3", "height", 0.010)
    )
    assert (made.caught_by, made.verdict) == ((), "query")
    made = planting.plant(
        estimate(six_marks(1)), planting.Blunder("set-up", "O3", "height", 10.0)
    )
    assert (made.caught_by, made.verdict) == ((), "unchecked")
    # Booked 10 m too high, T3 comes out 10 m too low, and nothing else moves.
    expected = np.zeros((6, 3))
    expected[3, 2] = -10.0
    np.testing.assert_allclose(made.moved, expected, rtol=0, atol=1e-6)


def test_what_grows_over_its_limit_is_caught_though_something_else_is_larger():
    """A job that fails already: the planted set-up's own test goes from 1.1 on.

    Observations agree, so tests are linear: thrice the blunder, thrice the test. One
    more of twice its size raises the test by 2.2, more than the limit of 1. What is
    wrong in plan takes no part in a height.
    """
    clean = estimate(six_marks(2))
    one = planting.Blunder("set-up", "O3", "height", 0.060)
    made = planting.plant(clean, one)
    own = next(i for i in made.at if made.tests.kind[i] == "set-up height")
    size = 0.060 * 1.1 / made.tests.basis.test[own]
    network = planting.planted(
        clean.network, planting.Blunder("set-up", "O10", "east", 0.5)
    )
    network = planting.planted(
        network, planting.Blunder("set-up", "O3", "height", size)
    )
    again = planting.Blunder("set-up", "O3", "height", 2 * size)
    made = planting.plant(estimate(network), again)
    assert own in made.grown
    assert made.caught
    assert not made.named_first
    # A little more is no news.
    little = planting.plant(estimate(network), replace(again, size=0.01 * size))
    assert not little.grown


def test_planting_a_blunder_in_what_is_not_there_says_so():
    adjustment = estimate(six_marks(1))
    with pytest.raises(CommandError, match="no set-up 'O33'; did you mean O3"):
        planting.plant(adjustment, planting.Blunder("set-up", "O33", "height", 0.03))
    with pytest.raises(CommandError, match="no direction in this job"):
        planting.plant(adjustment, planting.Blunder("direction", "D1", "", 1e-4))


def test_a_planted_rise_moves_the_mean_by_its_share():
    """One of five runs 10 mm too large: the mean 2 mm, by hand."""
    made = planting.plant(
        estimate(levelled(5)), planting.Blunder("level difference", "L2", "", 0.010)
    )
    np.testing.assert_allclose(made.moved[:, 2], [0, 0.002], rtol=0, atol=1e-9)
    assert [made.tests.name[i] for i in made.caught_by][:1] == ["L2"]


# The command


@pytest.mark.parametrize(
    ("said", "blunder"),
    [
        ("set-up O11 height 30 mm", ("set-up", "O11", "height", 0.030)),
        ("set-up O11 height -0.1 ift", ("set-up", "O11", "height", -0.03048)),
        ("known mark BRIDGE 1 north 0.03 m", ("known mark", "BRIDGE 1", "north", 0.03)),
        ("baseline B 7 up 5 mm", ("baseline", "B 7", "height", 0.005)),
        ("level difference L1 4 mm", ("level difference", "L1", "", 0.004)),
        ("direction D1 + D4 360 arcsec", ("direction", "D1 + D4", "", np.radians(0.1))),
    ],
)
def test_a_blunder_is_read_as_it_is_said(said, blunder):
    """Units by definition: 0.1 ift is 30.48 mm, 360 arcsec a tenth of a degree."""
    found = read_blunder(said)
    assert (found.kind, found.name, found.axis) == blunder[:3]
    assert found.size == pytest.approx(blunder[3], rel=1e-12)


@pytest.mark.parametrize(
    ("said", "words"),
    [
        ("", "begins with one of"),
        ("setup O11 height 30 mm", "did you mean set-up"),
        ("set-up O11", "something is missing"),
        ("set-up O11 30 mm", "takes east, north or height"),
        ("set-up O11 height 30 ft", "none of mm, m, ift"),
        ("set-up O11 height much mm", "not a decimal number"),
        ("set-up O11 height 0 mm", "nothing is planted"),
        ("set-up O11 height 30 arcsec", "so many mm"),
        ("direction D1 30 mm", "so many arcsec"),
    ],
)
def test_what_is_missing_in_a_blunder_is_said(said, words):
    with pytest.raises(CommandError, match=words):
        read_blunder(said)


@pytest.fixture
def job(tmp_path, monkeypatch):
    """Return an example job; the present folder is in it."""
    folder = tmp_path / "job"
    assert main(["new", str(folder), "--example", "harbour", "--quiet"]) == 0
    monkeypatch.chdir(folder)
    return folder


def said_by(capsys, *words):
    capsys.readouterr()
    code = main([*words, "--quiet"])
    return code, capsys.readouterr().out


def test_the_command_lists_what_nothing_checks(job, capsys):
    """DUNE TRACK hangs on one vector by design of the example: both its ends."""
    before = sorted(path.name for path in job.iterdir())
    code, out = said_by(
        capsys, "reliability", "--by", "set-up", "--only", "unchecked", "--json"
    )
    assert code == 0
    found = json.loads(out)
    assert {one["name"] for one in found["causes"]} == {"L3-SHED", "L3-DUNE"}
    for one in found["causes"]:
        assert one["moves_by_any_amount"] == ["DUNE TRACK"]
        assert one["smallest_detectable_mm"] is None
    assert found["verdict"] == "unchecked"
    # Nothing is written.
    assert sorted(path.name for path in job.iterdir()) == before


def test_text_and_object_say_the_same_of_a_planted_blunder(job, capsys):
    words = ("reliability", "--plant", "set-up S2-BW2 height 60 mm")
    code, out = said_by(capsys, *words)
    assert code == 0
    assert "set-up S2-BW2 height booked 60 mm too large" in out
    assert "caught" in out
    code, text = said_by(capsys, *words, "--json")
    planted = json.loads(text)["planted"]
    assert planted["caught"]
    (own,) = [
        one
        for one in planted["tests"]
        if one["kind"] == "set-up height" and one["name"] == "S2-BW2"
    ]
    assert own["caught"]
    (mark,) = [m for m in planted["marks"] if m["station"] == "BREAKWATER 2"]
    up = mark["moved_enu_mm"][2]
    assert f"{abs(up):.1f}" in out
    assert up < 0


@pytest.mark.parametrize(
    "words",
    [
        ("--by", "set-ups"),
        ("--datum", "free"),
        ("--plant", "set-up S2-BW2 height 60 mm", "--by", "mark"),
        ("--plant", "set-up NONE height 60 mm"),
    ],
)
def test_a_wrong_line_is_refused(job, words):
    assert main(["reliability", *words, "--quiet"]) == 2


def test_a_blunder_of_any_size_is_answered_in_words(job, capsys):
    """100 m is caught; with 1 000 km sights do not settle, which is said (exit 4)."""
    code, out = said_by(capsys, "reliability", "--plant", "set-up S1-ICE height 100 m")
    assert code == 0
    assert "caught" in out
    assert (
        main(["reliability", "--plant", "set-up S1-ICE height 1000000 m", "--quiet"])
        == 4
    )
    assert "Traceback" not in "".join(capsys.readouterr())
