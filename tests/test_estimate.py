"""What an estimate promises: by-hand sums on a flat site, and words where none is."""

import numpy as np
import pytest

from brasscap.adjust import estimate
from brasscap.adjust.judge import (
    blunder_tests,
    checked_marks,
    known_minus_survey,
    variance_factor_test,
)
from brasscap.adjust.precision import mark_precision, multipliers, pair
from brasscap.networks import (
    GeodeticFrame,
    KnownMarks,
    LocalFrame,
    Marks,
    Network,
    NoSolution,
    Options,
    Positions,
    SetUps,
    Vectors,
)
from brasscap.networks.covariances import single

SD = 0.010


def network_of(
    vectors,
    known,
    *,
    set_ups=(),
    positions=(),
    approximate=None,
    frame=None,
    options=None,
):
    """Return a network: vectors (start, end, delta), known (mark, xyz, plan, height).

    A name in ``set_ups`` (name, mark, sd_centring, sd_height) may stand for a mark at
    an end of a vector.
    """
    over = {s[0]: s[1] for s in set_ups}
    ends = [name for v in vectors for name in v[:2]] + [p[0] for p in positions]
    names = list(dict.fromkeys([k[0] for k in known] + [over.get(e, e) for e in ends]))
    number = {name: i for i, name in enumerate(names)}
    number |= {s[0]: len(names) + i for i, s in enumerate(set_ups)}
    approx = np.full((len(names), 3), np.nan)
    for name, xyz in (approximate or {}).items():
        approx[number[name]] = xyz
    return Network(
        frame or LocalFrame(),
        Marks(
            tuple(names), approx, ("",) * len(names), ("",) * len(names), ints(names)
        ),
        make_set_ups(set_ups, number),
        make_vectors(vectors, number),
        make_positions(positions, number),
        make_known(known, number),
        options=options or Options(),
    )


def ints(things):
    return np.zeros(len(things), dtype=np.int64)


def make_set_ups(given, number):
    n, blank = len(given), ("",) * len(given)
    return SetUps(
        name=tuple(s[0] for s in given),
        mark=np.array([number[s[1]] for s in given], dtype=np.int64),
        support=blank,
        session=ints(given) - 1,
        height=np.full(n, 1.5),
        eccentricity=np.zeros((n, 2)),
        sd_centring=np.array([s[2] for s in given], dtype=float),
        sd_height=np.array([s[3] for s in given], dtype=float),
        reduction=blank,
        antenna=blank,
        tripod=blank,
        row=ints(given),
    )


def make_vectors(given, number):
    n = len(given)
    sds = np.array([v[3] if len(v) > 3 else SD for v in given], dtype=float)
    return Vectors(
        name=tuple(f"B{i + 1}" for i in range(n)),
        start=np.array([number[v[0]] for v in given], dtype=np.int64),
        end=np.array([number[v[1]] for v in given], dtype=np.int64),
        delta=np.array([v[2] for v in given], dtype=float).reshape(n, 3),
        start_offset=np.zeros(n),
        end_offset=np.zeros(n),
        covariances=single(sds[:, None, None] ** 2 * np.eye(3)),
        session=ints(given) - 1,
        group=ints(given) - 1,
        used=np.ones(n, dtype=bool),
        row=np.arange(n) + 2,
    )


def make_positions(given, number):
    n = len(given)
    return Positions(
        name=tuple(f"P{i + 1}" for i in range(n)),
        node=np.array([number[p[0]] for p in given], dtype=np.int64),
        xyz=np.array([p[1] for p in given], dtype=float).reshape(n, 3),
        offset=np.zeros(n),
        components=np.ones((n, 3), dtype=bool),
        covariances=single(np.broadcast_to(SD**2 * np.eye(3), (n, 3, 3)).copy()),
        group=ints(given) - 1,
        used=np.ones(n, dtype=bool),
        row=np.arange(n) + 2,
    )


def make_known(given, number):
    n = len(given)
    components = np.array(
        [[bool(k[2]), bool(k[2]), bool(k[3])] for k in given], dtype=bool
    ).reshape(n, 3)
    sds = np.array([k[4] if len(k) > 4 else np.nan for k in given], dtype=float)
    return KnownMarks(
        mark=np.array([number[k[0]] for k in given], dtype=np.int64),
        xyz=np.array([k[1] for k in given], dtype=float).reshape(n, 3),
        components=components,
        use_plan=tuple(k[2] for k in given),
        use_height=tuple(k[3] for k in given),
        covariances=single(sds[:, None, None] ** 2 * np.eye(3)),
        source=("",) * n,
        used=np.ones(n, dtype=bool),
        row=np.arange(n) + 2,
    )


A = ("A", (0, 0, 10), "held", "held")


def test_a_loop_shares_its_misclosure_equally():
    """3 mm of height over three equal vectors: 1 mm each, by hand."""
    loop = [
        ("A", "B", (100, 0, 1.001)),
        ("B", "C", (0, 100, 1.001)),
        ("C", "A", (-100, -100, -1.999)),
    ]
    made = estimate(network_of(loop, [A]))
    np.testing.assert_allclose(
        made.residuals["baseline"][:, 2], [-0.001] * 3, rtol=0, atol=1e-12
    )
    assert made.degrees_of_freedom == 3
    assert made.nodes.xyz[1, 2] == pytest.approx(11.0, abs=1e-12)


def test_a_held_mark_is_exact_and_has_no_covariance():
    made = estimate(network_of([("A", "B", (1, 2, 3))], [A]))
    assert made.nodes.xyz[0].tolist() == [0, 0, 10]
    assert not made.covariance(np.array([0]), np.array([0])).any()


def test_plan_of_one_mark_and_height_of_another_are_a_datum():
    known = [("A", (5, 6, 99), "held", ""), ("B", (0, 0, 20), "", "held")]
    made = estimate(network_of([("A", "B", (1, 2, 3))], known))
    assert made.nodes.xyz.tolist() == [[5, 6, 17], [6, 8, 20]]


def test_a_weighted_mark_moves_by_its_share():
    """Held A, vector 10 mm, known B 10 mm and 20 mm off: half each, by hand."""
    known = [A, ("B", (100.02, 0, 10), "weighted", "weighted", SD)]
    made = estimate(network_of([("A", "B", (100, 0, 0))], known))
    assert made.nodes.xyz[1, 0] == pytest.approx(100.01, abs=1e-12)
    assert made.vtpv == pytest.approx(2.0, abs=1e-9)


def test_a_position_is_an_observation():
    known = [("A", (0, 0, 10), "", "")]
    made = estimate(
        network_of([("A", "B", (100, 0, 0))], known, positions=[("A", (1, 2, 3))])
    )
    assert made.nodes.xyz[0].tolist() == [1, 2, 3]
    assert made.datum.text == "no known mark held; the positions give the datum"


def test_pieces_that_float_are_named_with_their_freedoms():
    vectors = [("A", "B", (100, 0, 0)), ("X", "Y", (0, 50, 0))]
    with pytest.raises(NoSolution) as caught:
        estimate(network_of(vectors, [A]))
    assert caught.value.marks == ("X", "Y")
    assert caught.value.freedoms == (
        "shift in east",
        "shift in north",
        "shift in height",
    )
    assert caught.value.exit_code == 4
    assert "X, Y" in caught.value.mend


def test_a_network_without_height_says_so():
    known = [("A", (0, 0, 10), "held", "")]
    with pytest.raises(NoSolution) as caught:
        estimate(network_of([("A", "B", (100, 0, 0))], known))
    assert caught.value.freedoms == ("shift in height",)


def test_minimal_holds_the_mark_that_the_job_names():
    known = [A, ("B", (100, 0, 10), "held", "held")]
    network = network_of([("A", "B", (100.01, 0, 0))], known)
    assert estimate(network, "minimal").datum.held == ("A",)
    from dataclasses import replace

    named = replace(network, minimal_station="B")
    assert estimate(named, "minimal").datum.held == ("B",)


def test_known_minus_survey_has_the_sign_it_says():
    """Known B is 50 mm east of where the survey puts it."""
    known = [A, ("B", (100.05, 0, 10), "held", "held")]
    made = estimate(network_of([("A", "B", (100, 0, 0))], known), "minimal")
    found = known_minus_survey(made)
    assert found.station == ("B",)
    np.testing.assert_allclose(found.difference, [[0.05, 0, 0]], rtol=0, atol=1e-12)
    assert found.verdict == ("fails",)


BRACED = [
    ("S1A", "S1B", (100, 0, 0)),
    ("S2A", "S2C", (0, 100, 0)),
    ("S3B", "S3C", (-100, 100, 0)),
    ("S4A", "S4B", (100, 0, 0)),
    ("S5A", "S5C", (0, 100, 0)),
]


def braced(height_error=0.0, sd=(0.001, 0.0015)):
    """Return a triangle with set-ups; S3B's antenna stood lower than booked."""
    vectors = list(BRACED)
    # Booked too large by e: the antenna was e lower, so C − B comes out e higher.
    vectors[2] = ("S3B", "S3C", (-100, 100, height_error))
    set_ups = [(e, e[2], *sd) for v in vectors for e in v[:2]]
    return network_of(vectors, [A], set_ups=set_ups)


@pytest.mark.parametrize("sd", [(0.001, 0.0015), (0.0, 0.0), (0.0, 0.0015)])
def test_a_height_blunder_is_found_at_its_set_up_with_its_sign(sd):
    """Whether or not the set-up is an unknown of its own."""
    tests = blunder_tests(estimate(braced(0.100, sd)))
    at = [
        i
        for i in range(len(tests))
        if tests.kind[i] == "set-up height" and tests.name[i] == "S3B"
    ]
    if sd == (0.0, 0.0):
        at = [at[0]]
    (row,) = at
    assert tests.basis.test[row] == pytest.approx(np.nanmax(tests.basis.test), rel=1e-6)
    assert tests.tests.shift[row, 2] > 0.05
    assert tests.verdict[row] == "fails"


def test_set_ups_count_in_neither_of_the_printed_numbers():
    with_nodes, without = estimate(braced()), estimate(braced(sd=(0.0, 0.0)))
    assert with_nodes.observations_count == without.observations_count == 15
    assert with_nodes.unknowns_count == without.unknowns_count == 6
    assert with_nodes.degrees_of_freedom == without.degrees_of_freedom == 9


def test_a_mark_on_one_vector_is_unchecked_and_so_is_what_places_it():
    vectors = [*BRACED, ("A", "D", (0, 0, 5))]
    set_ups = [(e, e[2], 0.001, 0.0015) for v in BRACED for e in v[:2]]
    made = estimate(network_of(vectors, [A], set_ups=set_ups), "minimal")
    tests = blunder_tests(made)
    row = tests.name.index("B6")
    assert tests.verdict[row] == "unchecked"
    assert np.isnan(tests.basis.test[row])
    assert tests.tests.directions[row] == "nothing checks it"
    checked = checked_marks(made, tests)
    by_name = dict(zip(made.network.marks.name, checked.tolist(), strict=True))
    assert by_name["D"] == [False, False]
    assert by_name["C"] == [True, True]


def test_one_vector_alone_has_no_freedom_and_is_unchecked():
    made = estimate(network_of([("A", "B", (1, 2, 3))], [A]))
    test = variance_factor_test(made)
    assert (test.verdict, test.degrees_of_freedom) == ("unchecked", 0)
    assert np.isnan(test.value)
    assert blunder_tests(made).verdict[0] == "unchecked"


def test_a_height_known_far_from_where_its_mark_was_thought_stays_exact():
    """The plan was booked 3 km off; the held height is the height at the true plan."""
    frame = GeodeticFrame(4979, 2020.0)
    true = frame.cartesian(np.array([[47.0, 8.0, 400.0], [47.03, 8.04, 500.0]]))
    thought = frame.cartesian(np.array([[47.05, 8.01, 500.0]]))[0]
    known = [
        ("A", true[0], "held", ""),
        ("B", thought, "", "held"),
    ]
    network = network_of([("A", "B", true[1] - true[0])], known, frame=frame)
    made = estimate(network)
    np.testing.assert_allclose(made.nodes.xyz, true, rtol=0, atol=2e-6)
    assert frame.heights(made.nodes.xyz)[1] == pytest.approx(500.0, abs=2e-9)


def test_ellipses_and_pairs_of_a_repeated_vector():
    """Two vectors of 10 mm an axis: 7.07 mm, times 2.4477 (χ² 95 %, 2)."""
    options = Options(ellipses_from="stated")
    twice = [("A", "B", (300, 400, 0))] * 2
    made = estimate(network_of(twice, [A], options=options))
    marks = mark_precision(made)
    assert marks.semi_major[1] == pytest.approx(SD / np.sqrt(2) * 2.44775, rel=1e-5)
    assert marks.height_limit[1] == pytest.approx(SD / np.sqrt(2) * 1.95996, rel=1e-5)
    seen = pair(made, "A", "B")
    assert seen.slope_distance == pytest.approx(500.0, abs=1e-9)
    assert np.degrees(seen.azimuth) == pytest.approx(36.8699, abs=1e-4)
    assert seen.sd_distance == pytest.approx(SD / np.sqrt(2), rel=1e-9)


def test_wide_weights_are_not_taken_for_a_freedom():
    """0.1 mm beside 10 m; the same answer as by hand: the fine vector decides."""
    vectors = [("A", "B", (100, 0, 0), 1e-4), ("A", "B", (103, 0, 0), 10.0)]
    made = estimate(network_of(vectors, [A]))
    assert made.nodes.xyz[1, 0] == pytest.approx(100 + 3e-10, abs=1e-11)


def test_a_mark_held_at_two_places_is_refused():
    known = [A, ("A", (0.05, 0, 10), "held", "held")]
    with pytest.raises(NoSolution, match=r"A: held at two places, 50\.0 mm apart"):
        estimate(network_of([("A", "B", (100, 0, 0))], known))


def test_larger_is_larger_in_height_too():
    """At 10 degrees of freedom, s0 0.856: s0·t 1.907 stays under the normal 1.960."""
    made = multipliers(Options(), 0.856**2, 10)
    assert made.ellipse == pytest.approx(2.4522, abs=1e-3)
    assert made.height == pytest.approx(1.9600, abs=1e-4)
