"""Sessions and trivial vectors: counts, by-hand groups, and the R/2 identity."""

import json
import shutil
from dataclasses import replace
from itertools import combinations
from pathlib import Path

import jsonschema
import numpy as np
import pytest

from brasscap.__main__ import main
from brasscap.adjust import estimate
from brasscap.adjust.judge.trivial import (
    full_covariance,
    half_weighted,
    independent,
    trivial_treatments,
)
from brasscap.json_schemas import schema_of
from brasscap.networks import LocalFrame, Marks, Network, Positions, SetUps, Vectors
from brasscap.networks.covariances import single
from brasscap.networks.observations import KnownMarks
from brasscap.networks.sessions import find_sessions

JOBS = Path(__file__).parent / "jobs"
RECEIVER = np.array([[9.0, 2, 1], [2, 4, -1], [1, -1, 25]]) * 1e-6
"""Variance of one receiver, m²; a vector has twice as much."""


def ints(*values):
    return np.array(values, dtype=np.int64)


def no_set_ups():
    none = np.zeros(0)
    return SetUps(
        (), ints(), (), ints(), none, np.zeros((0, 2)), none, none, (), (), (), ints()
    )


def network_of(pairs, deltas, covariance, session, marks, known=(0,)):
    """Return a flat network whose first marks are held at their own places."""
    n, k = len(pairs), len(known)
    blank = ("",) * len(marks)
    return Network(
        LocalFrame(),
        Marks(
            tuple(f"M{i}" for i in range(len(marks))), marks, blank, blank,
            ints(*range(len(marks))),
        ),
        no_set_ups(),
        Vectors(
            tuple(f"B{i + 1}" for i in range(n)),
            ints(*(a for a, _ in pairs)), ints(*(b for _, b in pairs)),
            np.asarray(deltas, dtype=float).reshape(n, 3), np.zeros(n), np.zeros(n),
            single(np.broadcast_to(covariance, (n, 3, 3)).copy()),
            ints(*session), np.full(n, -1), np.ones(n, dtype=bool),
            np.arange(n) + 2,
        ),
        Positions(
            (), ints(), np.zeros((0, 3)), np.zeros(0), np.zeros((0, 3), dtype=bool),
            (), ints(), np.zeros(0, dtype=bool), ints(),
        ),
        KnownMarks(
            ints(*known), marks[list(known)], np.ones((k, 3), dtype=bool),
            ("held",) * k, ("held",) * k, single(np.full((k, 3, 3), np.nan)),
            ("",) * k, np.ones(k, dtype=bool), np.arange(k) + 2,
        ),
        sessions=tuple(f"S{i}" for i in range(max(session, default=-1) + 1)),
    )  # fmt: skip


def whole_session(receivers, seed=3):
    """Return all R(R − 1)/2 vectors of one session: differences of R positions."""
    random = np.random.default_rng(seed)
    marks = random.uniform(-500, 500, (receivers, 3))
    observed = marks + random.normal(0, 0.003, (receivers, 3))
    pairs = list(combinations(range(receivers), 2))
    deltas = [observed[b] - observed[a] for a, b in pairs]
    return network_of(pairs, deltas, 2 * RECEIVER, [0] * len(pairs), marks)


@pytest.mark.parametrize("receivers", [2, 3, 4, 6])
def test_r_receivers_give_r_minus_1_independent_vectors(receivers):
    (session,) = find_sessions(whole_session(receivers))
    assert session.receivers == receivers
    assert len(session.independent) == receivers - 1
    assert session.surplus == (receivers - 1) * (receivers - 2) // 2
    assert session.complete
    assert set(session.trivial) | set(session.independent) == set(session.vectors)


def test_without_a_session_times_that_overlap_by_half_make_one():
    network = network_of(
        [(0, 1), (1, 2), (0, 2), (2, 3)], np.zeros((4, 3)), np.eye(3) * 1e-6,
        [-1] * 4, np.zeros((4, 3)),
    )  # fmt: skip
    # The first three share 50 of 60 minutes; the last begins as they end.
    minutes = np.array([[0, 60], [5, 65], [10, 70], [65, 125]])
    found = find_sessions(network, minutes * 60.0)
    assert [s.vectors for s in found] == [(0, 1, 2), (3,)]
    assert [s.found_from for s in found] == ["overlapping times", "alone"]
    assert found[0].name == "B1 … B3"
    # 29 of 60 minutes are not half; 30 are.
    for late, count in ((31, 2), (30, 1)):
        times = np.array([[0, 60], [late, late + 60], [0, 1], [0, 1]]) * 60.0
        times[2:] = np.nan
        first_two = replace(
            network,
            vectors=replace(network.vectors, used=np.array([True, True, False, False])),
        )
        assert len(find_sessions(first_two, times)) == count


def test_without_times_nothing_says_that_vectors_of_marks_belong_together():
    network = network_of(
        [(0, 1), (1, 2), (0, 2)], np.zeros((3, 3)), np.eye(3) * 1e-6, [-1] * 3,
        np.zeros((3, 3)),
    )  # fmt: skip
    found = find_sessions(network)
    assert [s.found_from for s in found] == ["alone"] * 3
    assert [s.surplus for s in found] == [0, 0, 0]


def test_vectors_of_the_same_set_ups_were_observed_together():
    network = network_of(
        [(3, 4), (4, 5), (3, 5)], np.zeros((3, 3)), np.eye(3) * 1e-6, [-1] * 3,
        np.zeros((3, 3)),
    )  # fmt: skip
    blank = ("",) * 3
    stood = SetUps(
        ("U0", "U1", "U2"), ints(0, 1, 2), blank, np.full(3, -1), np.zeros(3),
        np.zeros((3, 2)), np.zeros(3), np.zeros(3), blank, blank, blank, ints(2, 3, 4),
    )  # fmt: skip
    (session,) = find_sessions(replace(network, set_ups=stood))
    assert session.found_from == "shared set-ups"
    assert session.surplus == 1


def test_a_booked_session_that_does_not_hang_together_is_two():
    network = network_of(
        [(0, 1), (2, 3)], np.zeros((2, 3)), np.eye(3) * 1e-6, [0, 0], np.zeros((4, 3))
    )
    assert [s.vectors for s in find_sessions(network)] == [(0,), (1,)]


def test_a_vector_left_out_is_in_no_session():
    network = whole_session(3)
    used = np.array([True, False, True])
    less = replace(network, vectors=replace(network.vectors, used=used))
    (session,) = find_sessions(less)
    assert session.vectors == (0, 2)
    assert session.surplus == 0


@pytest.mark.parametrize("receivers", [3, 4, 5])
def test_all_times_half_r_is_the_r_minus_1_solution(receivers):
    """Craymer and Beck 1992, as reported by Rizos 1999; an identity."""
    network = whole_session(receivers)
    (session,) = find_sessions(network)
    few = estimate(independent(network, session))
    many = estimate(half_weighted(network, session))
    nodes = np.arange(receivers)
    truth = np.where((nodes > 0)[:, None, None], 2 * RECEIVER, 0.0)
    for made in (few, many):
        # From a held receiver, every other one has twice a receiver's variance.
        np.testing.assert_allclose(made.covariance(nodes, nodes), truth, atol=1e-16)
    between = few.covariance(nodes[1:2], nodes[2:3])
    np.testing.assert_allclose(between[0], RECEIVER, atol=1e-16)
    np.testing.assert_allclose(many.covariance(nodes[1:2], nodes[2:3]), between)
    np.testing.assert_allclose(few.nodes.xyz, many.nodes.xyz, atol=1e-9)
    surplus = 3 * (receivers - 1) * (receivers - 2) // 2
    assert many.degrees_of_freedom - few.degrees_of_freedom == surplus
    assert many.vtpv == pytest.approx(few.vtpv, abs=1e-12)


def test_the_treatments_side_by_side():
    """Two sessions of three receivers over three marks, one of them held.

    12 rows of R − 1 vectors less 6 unknowns: 6 degrees of freedom. As booked the
    two trivial vectors add 6 that are none, and the ellipses are √(2/3) as large:
    a whole session unscaled has 2/R of its variance.
    """
    random = np.random.default_rng(8)
    one = whole_session(3)
    marks = one.marks.approximate
    pairs = [(0, 1), (0, 2), (1, 2)] * 2
    seen = [marks + random.normal(0, 0.003, (3, 3)) for _ in range(2)]
    deltas = [seen[i // 3][b] - seen[i // 3][a] for i, (a, b) in enumerate(pairs)]
    network = network_of(pairs, deltas, 2 * RECEIVER, [0, 0, 0, 1, 1, 1], marks)
    found = trivial_treatments(network, find_sessions(network))
    by_name = {treatment.name: treatment for treatment in found}
    booked, few = by_name["as booked"], by_name["R − 1 independent"]
    many, full = by_name["all × R/2"], by_name["full covariance"]
    assert [t.lawful for t in found] == [False, True, True, True]
    assert booked.variance_factor.degrees_of_freedom == 12
    assert few.variance_factor.degrees_of_freedom == 6
    assert many.variance_factor.degrees_of_freedom == 6
    assert many.taken_off == 6
    assert (booked.vectors, few.vectors, many.vectors) == (6, 4, 6)
    assert many.variance_factor.value == pytest.approx(few.variance_factor.value)
    assert booked.semi_major / few.semi_major == pytest.approx(np.sqrt(2 / 3))
    assert full.variance_factor is None
    assert "no covariances between the vectors of S0" in full.reason


def test_a_session_with_its_covariance_keeps_it():
    network = whole_session(3)
    (session,) = find_sessions(network)
    shared = independent(network, session)
    (again,) = find_sessions(shared)
    assert again.correlated
    assert again.surplus == 0
    assert full_covariance(shared, again).vectors.used.sum() == 2
    assert trivial_treatments(shared, [again]) == ()


def test_half_r_is_refused_where_a_pair_is_missing():
    network = whole_session(4)
    used = np.ones(6, dtype=bool)
    used[0] = False
    less = replace(network, vectors=replace(network.vectors, used=used))
    (session,) = find_sessions(less)
    with pytest.raises(ValueError, match="all 6 of its 4 receivers"):
        half_weighted(less, session)


@pytest.fixture
def one_session(tmp_path):
    """A job of the textbook with B – D, F – D and F – B booked as one session."""
    folder = tmp_path / "job"
    shutil.copytree(JOBS / "gnss_textbook_two_control_13_vectors", folder)
    path = folder / "baselines.csv"
    text = path.read_text("utf-8")
    for name in ("v3", "v9", "v10"):
        text = text.replace(f"\n{name},{name},", f"\n{name},TOGETHER,")
    path.write_text(text, "utf-8")
    return folder


def test_the_command_shows_each_treatment(one_session, capsys):
    assert main(["loops", "--job", str(one_session), "--quiet", "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    jsonschema.Draft202012Validator(schema_of("loops")).validate(found)
    (together,) = [s for s in found["sessions"] if s["session"] == "TOGETHER"]
    assert (len(together["receivers"]), len(together["trivial"])) == (3, 1)
    by_name = {one["treatment"]: one for one in found["treatments"]}
    freedom = {
        name: one["variance_factor"] and one["variance_factor"]["degrees_of_freedom"]
        for name, one in by_name.items()
    }
    # 39 rows less 12 unknowns; the trivial vector's three are none.
    assert freedom == {
        "as booked": 27,
        "full covariance": None,
        "R − 1 independent": 24,
        "all × R/2": 24,
    }
    # Twelve independent vectors place five marks from the sixth.
    assert len(found["loops"]) == 12 - 5


def test_the_text_says_which_treatments_are_lawful(one_session, capsys):
    main(["loops", "--job", str(one_session), "--quiet", "--same-session"])
    text = capsys.readouterr().out
    said = " ".join(text.split())
    assert "lawful) " in said
    assert "cannot no covariances between the vectors of TOGETHER" in said
    assert "they close by construction and check nothing" in said
    assert "over R − 1:" in said
    # A command line is copied: it is never broken.
    lines = [line for line in text.splitlines() if "brasscap" not in line]
    assert max(map(len, lines)) <= 80
