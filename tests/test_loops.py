"""Repeats and loops: sums by hand, independence, and what a blunder does to them."""

import json
from dataclasses import replace
from pathlib import Path

import networkx as nx
import numpy as np
import pytest

from brasscap.__main__ import main
from brasscap.adjust import estimate
from brasscap.adjust.judge.closures import closures
from brasscap.adjust.judge.loop_tests import loop_tests
from brasscap.io.tables.load import load
from brasscap.networks import (
    GeodeticFrame,
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
from brasscap.networks.covariances import Batch, single
from brasscap.networks.cycles import independent_cycles
from brasscap.networks.level_loops import level_loops
from brasscap.networks.loops import find_loops, same_session_loops
from brasscap.networks.sessions import find_sessions

MM = 1e-3
SITE = np.array([[0.0, 0, 0], [300, 0, 10], [0, 400, 20], [250, 350, 5]])


def ints(*values):
    return np.array(values, dtype=np.int64)


def network_of(vectors, *, session=None, set_ups=(), marks=SITE, frame=None, sd=None):
    """Return a network of vectors (start, end, delta); set-ups (mark, sds, ecc, h)."""
    n, s, m = len(vectors), len(set_ups), len(marks)
    sds = np.full((n, 3), 5 * MM) if sd is None else np.asarray(sd, dtype=float)
    blank = ("",) * m
    stood = ("",) * s
    return Network(
        frame or LocalFrame(),
        Marks(tuple("ABCDEFGH"[:m]), marks, blank, blank, np.arange(m)),
        SetUps(
            tuple(f"U{i}" for i in range(s)), ints(*(u[0] for u in set_ups)), stood,
            np.full(s, -1), np.array([u[3] for u in set_ups], dtype=float),
            np.array([u[2] for u in set_ups], dtype=float).reshape(s, 2),
            np.array([u[1][0] for u in set_ups], dtype=float),
            np.array([u[1][1] for u in set_ups], dtype=float), stood, stood, stood,
            np.arange(s),
        ),
        Vectors(
            tuple(f"B{i + 1}" for i in range(n)), ints(*(v[0] for v in vectors)),
            ints(*(v[1] for v in vectors)),
            np.array([v[2] for v in vectors], dtype=float).reshape(n, 3), np.zeros(n),
            np.zeros(n), single(sds[:, :, None] ** 2 * np.eye(3)),
            ints(*(session or [-1] * n)), np.full(n, -1), np.ones(n, dtype=bool),
            np.arange(n) + 2,
        ),
        Positions(
            (), ints(), np.zeros((0, 3)), np.zeros(0), np.zeros((0, 3), dtype=bool),
            (), ints(), np.zeros(0, dtype=bool), ints(),
        ),
        KnownMarks(
            ints(0), marks[:1], np.ones((1, 3), dtype=bool), ("held",), ("held",),
            single(np.full((1, 3, 3), np.nan)), ("",), np.ones(1, dtype=bool), ints(2),
        ),
    )  # fmt: skip


def between(a, b, error=(0.0, 0.0, 0.0), marks=SITE):
    return a, b, marks[b] - marks[a] + np.asarray(error) * MM


def loops_of(network):
    return find_loops(network, find_sessions(network), network.marks.approximate)


# Sums by hand


def test_a_repeat_is_the_difference_and_the_sum_of_the_covariances():
    network = network_of(
        [between(0, 1, (3, -1, 8)), between(0, 1, (1, 1, -4))],
        sd=np.array([[3, 4, 12], [4, 3, 5]]) * MM,
    )
    (loop,) = loops_of(network)
    assert loop.kind == "repeat"
    assert (loop.members, loop.signs, loop.marks) == ((0, 1), (1, -1), (0, 1))
    np.testing.assert_allclose(loop.misclosure, np.array([2, -2, 12]) * MM)
    np.testing.assert_allclose(loop.covariance, np.diag([25, 25, 169]) * MM**2)
    tests = loop_tests([loop], Options())
    # 4/25 + 4/25 + 144/169; K of three components 12.63 (B-method, α 0.1 %, 80 %)
    assert tests.statistic[0] == pytest.approx(0.32 + 144 / 169)
    assert tests.limit[0] == pytest.approx(12.63, abs=0.005)
    assert tests.test[0] == pytest.approx(np.sqrt(tests.statistic[0] / tests.limit[0]))
    # 3.2905 is the two-sided 0.1 % limit of a normal variable.
    np.testing.assert_allclose(
        tests.limit_enu[0], 3.2905 * np.array([5, 5, 13]) * MM, rtol=1e-4
    )
    assert tests.verdict == ("meets",)


def test_a_repeat_booked_the_other_way_is_added():
    network = network_of([between(0, 1, (3, 0, 0)), between(1, 0, (2, 0, 0))])
    (loop,) = loops_of(network)
    assert loop.signs == (1, 1)
    np.testing.assert_allclose(loop.misclosure, [5 * MM, 0, 0], atol=1e-12)


def test_a_triangle_across_sessions():
    network = network_of(
        [between(0, 1, (1, 2, 3)), between(1, 2, (1, 0, 40)), between(0, 2, (0, 1, 3))]
    )
    (loop,) = loops_of(network)
    assert loop.kind == "loop"
    assert loop.signs == (1, 1, -1)
    np.testing.assert_allclose(loop.misclosure, np.array([2, 1, 40]) * MM)
    np.testing.assert_allclose(loop.covariance, 75 * np.eye(3) * MM**2)
    sides = [np.linalg.norm(v[2]) for v in (between(0, 1), between(1, 2))]
    assert loop.length == pytest.approx(sum(sides) + np.hypot(400, 20), abs=0.1)
    # (4 + 1 + 1600) / 75 = 21.4 is over 12.63.
    tests = loop_tests([loop], Options())
    assert tests.statistic[0] == pytest.approx(1605 / 75)
    assert tests.verdict == ("query",)


def test_the_noise_of_a_set_up_enters_where_another_stood_there_and_only_there():
    own = (1 * MM, 2 * MM)
    still = [(m, own, (0, 0), 1.5) for m in (0, 1, 2, 0)]
    # Nodes: marks 0 to 3, set-ups 4 to 7; U3 is a second set-up over A.
    three = [(4, 5, between(0, 1)[2]), (5, 6, between(1, 2)[2])]
    same = network_of([*three, (6, 4, between(2, 0)[2])], set_ups=still)
    other = network_of([*three, (6, 7, between(2, 0)[2])], set_ups=still)
    sessions = find_sessions(same)
    (closed,) = same_session_loops(same, sessions, SITE)
    assert closed.set_ups == ()
    np.testing.assert_allclose(closed.covariance, 75 * np.eye(3) * MM**2)
    (loop,) = loops_of(other)
    assert loop.set_ups == (0, 3)
    extra = np.diag([2 * 1, 2 * 1, 2 * 4]) * MM**2
    np.testing.assert_allclose(loop.covariance, 75 * np.eye(3) * MM**2 + extra)


def test_heights_and_eccentricities_are_taken_off():
    """Antennas 1.6 m over A and 1.9 m over B, there 20 mm east of the mark."""
    stood = [(0, (0, 0), (0, 0), 1.6), (1, (0, 0), (0.020, 0), 1.9)]
    delta = SITE[1] - SITE[0] + [0.020, 0, 0.3]
    network = network_of([(4, 5, delta), between(0, 1)], set_ups=stood)
    network = replace(
        network,
        vectors=replace(
            network.vectors,
            start_offset=np.array([1.6, 0]),
            end_offset=np.array([1.9, 0]),
        ),
    )
    (loop,) = loops_of(network)
    np.testing.assert_allclose(loop.misclosure, np.zeros(3), atol=1e-12)


def test_what_two_vectors_of_a_session_share_is_taken_off():
    """From base A to B and C with 16 mm² in common; B to C once more by itself.

    25 + 25 − 2 · 16 + 25 = 43 mm² in each component.
    """
    network = network_of(
        [between(0, 1), between(0, 2), between(1, 2)], session=[0, 0, 1]
    )
    shared = np.kron([[25, 16], [16, 25]], np.eye(3)) * MM**2
    alone = 25 * np.eye(3)[None] * MM**2
    covariances = (
        Batch(ints(2)[:, None], alone),
        Batch(ints(0, 1)[None], shared[None]),
    )
    network = replace(
        network,
        sessions=("S1", "S2"),
        vectors=replace(network.vectors, covariances=covariances),
    )
    (loop,) = loops_of(network)
    np.testing.assert_allclose(loop.covariance, 43 * np.eye(3) * MM**2)


def test_a_misclosure_is_in_the_east_north_and_up_of_its_first_mark():
    frame = GeodeticFrame(7912, 2020.0)
    places = np.array([[46.0, 9.0, 400.0], [46.003, 9.004, 430.0]])
    marks = frame.cartesian(places)
    up = frame.axes(marks)[0][2]
    vectors = [(0, 1, marks[1] - marks[0] + 0.05 * up), (0, 1, marks[1] - marks[0])]
    (loop,) = loops_of(network_of(vectors, marks=marks, frame=frame))
    np.testing.assert_allclose(loop.misclosure, [0, 0, 0.05], atol=1e-8)


def test_the_repeats_of_a_textbook():
    """F – A and A – F, F – B and B – F: sums of the printed components.

    Ghilani and Wolf, Adjustment Computations, the 13 vectors of its GNSS chapter
    (from memory): 5.4, −5.7, 17.9 mm and 0.1, −10.7, 11.0 mm.
    """
    job = Path(__file__).parent / "jobs" / "gnss_textbook_two_control_13_vectors"
    found = closures(load(job).network)
    repeats = {
        frozenset(found.network.vectors.name[v] for v in loop.members): loop
        for loop in found.loops
        if loop.kind == "repeat"
    }
    for names, sums in (
        ({"v6", "v12"}, [0.0054, -0.0057, 0.0179]),
        ({"v10", "v11"}, [0.0001, -0.0107, 0.0110]),
    ):
        size = np.linalg.norm(repeats[frozenset(names)].misclosure)
        assert size == pytest.approx(np.linalg.norm(sums), abs=1e-7)


# Which loops


def test_inside_one_session_a_loop_closes_by_construction():
    network = network_of(
        [between(0, 1), between(1, 2), between(0, 2)], session=[0, 0, 0]
    )
    network = replace(network, sessions=("S1",))
    assert loops_of(network) == ()
    (loop,) = same_session_loops(network, find_sessions(network), SITE)
    assert loop.kind == "same session"
    found = closures(network, same_session=True)
    assert found.tests.verdict == ("unchecked",)
    assert found.verdict == "unchecked"


@pytest.mark.parametrize("seed", range(6))
def test_the_loops_are_all_the_checks_there_are(seed):
    """Conditions and unknowns give the same vᵀPv: wᵀ(BQBᵀ)⁻¹w, any textbook.

    Were a loop missing or one the sum of others, the two would differ or the matrix
    be singular.
    """
    random = np.random.default_rng(seed)
    count = 7
    marks = np.array([0, 0, 50.0]) + random.uniform(-500, 500, (count, 3))
    vectors, session = [], []
    for number in range(6):
        stood = random.choice(count, 3, replace=False)
        for end in stood[1:]:
            error = random.normal(0, 5, 3)
            vectors.append(between(int(stood[0]), int(end), error, marks))
            session.append(number)
    sd = random.uniform(3, 9, (len(vectors), 3)) * MM
    network = network_of(vectors, session=session, marks=marks, sd=sd)
    network = replace(network, sessions=tuple(f"S{i}" for i in range(6)))
    reached = nx.Graph([v[:2] for v in vectors])
    loops = loops_of(network)
    pieces = nx.number_connected_components(reached)
    assert len(loops) == len(vectors) - len(reached) + pieces
    conditions = np.zeros((len(loops), len(vectors)))
    for row, loop in enumerate(loops):
        conditions[row, list(loop.members)] += loop.signs
    misclosures = np.concatenate([loop.misclosure for loop in loops])
    spread = np.kron(conditions, np.eye(3)) * sd.ravel()
    conditioned = misclosures @ np.linalg.solve(spread @ spread.T, misclosures)
    if pieces == 1 and 0 in reached:
        adjusted = estimate(network)
        assert adjusted.degrees_of_freedom == 3 * len(loops)
        assert adjusted.vtpv == pytest.approx(conditioned, rel=1e-7)


@pytest.mark.parametrize("seed", range(8))
def test_the_cycles_are_as_short_as_networkx_finds_them(seed):
    random = np.random.default_rng(seed)
    graph = nx.gnm_random_graph(9, 17, seed=seed)
    for a, b in graph.edges:
        graph.edges[a, b]["weight"] = float(random.integers(1, 9))

    def total(cycles):
        sides = [zip(c, [*c[1:], c[0]], strict=True) for c in cycles]
        return sum(graph.edges[edge]["weight"] for some in sides for edge in some)

    ours = independent_cycles(graph)
    theirs = nx.minimum_cycle_basis(graph, weight="weight")
    assert len(ours) == len(theirs)
    # Theirs come as sets of nodes in order of the walk since networkx 3.3.
    assert total(ours) == total(theirs)


def test_a_left_out_vector_closes_nothing():
    network = network_of([between(0, 1), between(0, 1)])
    used = np.array([True, False])
    less = replace(network, vectors=replace(network.vectors, used=used))
    assert loops_of(less) == ()


# Levels


def levelled(*runs):
    """Return a network of levelled runs (start, end, rise, sd), m."""
    n = len(runs)
    zero = np.zeros(n)
    network = network_of([], marks=SITE)
    return replace(
        network,
        levels=Levels(
            tuple(f"L{i + 1}" for i in range(n)), ints(*(r[0] for r in runs)),
            ints(*(r[1] for r in runs)), np.array([r[2] for r in runs]),
            np.array([r[3] for r in runs]), zero, zero, np.full((n, 2), -1),
            np.ones(n, dtype=bool), np.arange(n) + 2,
        ),
    )  # fmt: skip


def test_a_double_run_out_and_back():
    network = levelled((0, 1, 1.2500, 2 * MM), (1, 0, -1.2530, 1.5 * MM))
    (loop,) = level_loops(network, np.array([800.0, 820.0]))
    assert loop.kind == "double run"
    np.testing.assert_allclose(loop.misclosure, [-3 * MM], atol=1e-12)
    np.testing.assert_allclose(loop.covariance, [[6.25 * MM**2]])
    assert loop.length == 810.0
    # 9 / 6.25 against 10.83, α 0.1 %
    tests = loop_tests([loop], Options())
    assert tests.statistic[0] == pytest.approx(1.44)
    assert tests.limit[0] == pytest.approx(10.83, abs=0.005)
    assert np.isnan(tests.limit_enu[0, :2]).all()


def test_two_runs_the_same_way_are_subtracted():
    (loop,) = level_loops(levelled((1, 0, 2.0, MM), (1, 0, 1.998, MM)))
    assert loop.signs == (1, -1)
    np.testing.assert_allclose(loop.misclosure, [2 * MM], atol=1e-12)
    assert np.isnan(loop.length)


def test_a_levelling_loop_of_means():
    """A–B 1.000 and (back) −1.002: mean 1.001; B–C 2.000; C–A −2.990: +11 mm."""
    network = levelled(
        (0, 1, 1.000, MM), (1, 0, -1.002, MM), (1, 2, 2.000, MM), (2, 0, -2.990, MM)
    )
    double, loop = level_loops(network)
    assert loop.kind == "levelling loop"
    assert loop.members == (0, 1, 2, 3)
    assert loop.signs == (1, -1, 1, 1)
    np.testing.assert_allclose(double.misclosure, [-2 * MM], atol=1e-12)
    np.testing.assert_allclose(loop.misclosure, [11 * MM], atol=1e-12)
    np.testing.assert_allclose(loop.covariance, [[2.5 * MM**2]])
    assert closures(network).verdict == "query"


# The hint, and the command


@pytest.fixture
def job(tmp_path: Path) -> Path:
    folder = tmp_path / "job"
    assert main(["new", str(folder), "--example", "harbour", "--quiet"]) == 0
    return folder


def test_the_planted_height_is_what_most_spoiled_loops_share(job):
    """The example's S3-ICE is booked 54 mm too high: 1.671 m for 5.305 ift."""
    network = load(job).network
    found = closures(network)
    (hint,) = found.hints
    assert (hint.kind, hint.name) == ("set-up", "S3-ICE")
    for loop, verdict in zip(found.loops, found.tests.verdict, strict=True):
        if verdict == "query":
            assert network.set_ups.name.index("S3-ICE") in loop.set_ups
    number = network.set_ups.name.index("S3-ICE") + len(network.marks)
    offset = network.vectors.start_offset.copy()
    offset[network.vectors.start == number] -= 0.054
    mended = replace(network, vectors=replace(network.vectors, start_offset=offset))
    assert closures(mended).verdict == "meets"
    assert closures(mended).hints == ()


def test_one_spoiled_loop_names_nothing():
    network = network_of([between(0, 1, (0, 0, 90)), between(0, 1)])
    found = closures(network)
    assert found.verdict == "query"
    assert found.hints == ()


def test_what_a_good_loop_holds_too_is_no_hint():
    """Four vectors of one pair, two of them 90 mm high: the first is in all loops."""
    high = (0, 0, 90)
    vectors = [between(0, 1), between(0, 1), between(0, 1, high), between(0, 1, high)]
    found = closures(network_of(vectors))
    assert sorted(found.tests.verdict) == ["meets", "query", "query"]
    assert found.hints == ()


def test_the_command_says_verdict_evidence_numbers_and_next_step(job, capsys):
    assert main(["loops", "--job", str(job), "--quiet"]) == 0
    said = capsys.readouterr().out
    assert "query" in said.splitlines()[2]
    assert "a hint, not a verdict" in " ".join(said.split())
    assert said.splitlines()[-1] == f"next: brasscap --job {job} show set-up S3-ICE"
    # A command line is copied: it is never broken.
    lines = [line for line in said.splitlines() if "brasscap" not in line]
    assert max(map(len, lines)) <= 80
    assert main(["loops", "--job", str(job), "--quiet", "--strict"]) == 1


def test_longer_loops_are_counted_not_listed(job, capsys):
    main(["loops", "--job", str(job), "--quiet", "--json"])
    whole = json.loads(capsys.readouterr().out)
    main(["loops", "--job", str(job), "--quiet", "--max-sides", "3", "--json"])
    found = json.loads(capsys.readouterr().out)
    short = [loop for loop in whole["loops"] if len(loop["members"]) <= 3]
    assert found["loops"] == short
    assert found["loops_count"] == len(whole["loops"]) > len(short)
    main(["loops", "--job", str(job), "--quiet", "--max-sides", "3"])
    assert "of more than 3 sides not shown" in capsys.readouterr().out


@pytest.mark.parametrize("given", ["1", "x", "-3", "2.5", "²"])
def test_a_wrong_number_of_sides_is_told(job, capsys, given):
    assert main(["loops", "--job", str(job), f"--max-sides={given}"]) == 2
    assert "a whole number from 2 on" in " ".join(capsys.readouterr().err.split())
