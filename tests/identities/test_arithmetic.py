"""Identity: dense and sparse arithmetic, and any order of the marks, say the same.

Networks are drawn: vectors alone and in correlated sessions, with set-ups and without,
sights with circles and constants, levels, known marks held and weighted, positions.
"""

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from brasscap.adjust import estimate
from brasscap.adjust.judge import blunder_tests, checked_marks
from brasscap.networks import (
    CommandError,
    GeodeticFrame,
    KnownMarks,
    Levels,
    LocalFrame,
    Marks,
    Network,
    NoSolution,
    Parameters,
    Positions,
    SetUps,
    Sights,
    Vectors,
)
from brasscap.networks.covariances import Batch, single
from brasscap.networks.simulate import simulate

ARCSEC = np.pi / 180 / 3600


def covariance(rng, rows, sd):
    mix = rng.normal(size=(rows, 2 * rows))
    return sd**2 * (mix @ mix.T / (2 * rows) + 0.2 * np.eye(rows))


def drawn(seed, wide=False):
    """Return a network of a kind that the seed decides."""
    rng = np.random.default_rng(seed)
    count = int(rng.integers(4, 13))
    curved = rng.random() < 0.5
    places = np.column_stack(
        [rng.uniform(0, 2000, (count, 2)), rng.uniform(400, 450, count)]
    )
    frame = LocalFrame("site")
    if curved:
        frame = GeodeticFrame(4979, 2020.0)
        origin = frame.cartesian(np.array([[47.0, 8.0, 0.0]]))
        places = origin + places @ frame.axes(origin)[0]
    marks = Marks(
        tuple(f"M{i}" for i in range(count)), places, ("",) * count, ("",) * count,
        np.arange(count),
    )  # fmt: skip
    set_ups = make_set_ups(rng, count)
    vectors, sessions = make_vectors(rng, count, set_ups, wide)
    sights, parameters = make_sights(rng, count, set_ups)
    levels = make_levels(rng, count) if rng.random() < 0.4 else None
    network = Network(
        frame, marks, set_ups, vectors, make_positions(rng, count),
        make_known(rng, places), sessions, sights=sights, levels=levels,
        parameters=parameters,
    )  # fmt: skip
    return simulate(network, seed=seed)


def make_set_ups(rng, marks):
    count = int(rng.integers(0, 3 * marks)) if rng.random() < 0.7 else 0
    blank = ("",) * count
    # Some are exact, in place or in height or in both.
    centring = rng.choice([0.0, 1e-3, 1e-3, 2e-3], count)
    height = rng.choice([0.0, 1.5e-3, 1.5e-3], count)
    return SetUps(
        tuple(f"O{i}" for i in range(count)), rng.integers(0, marks, count),
        ("tripod",) * count, rng.integers(0, 4, count), rng.uniform(1.2, 1.8, count),
        np.zeros((count, 2)), centring, height, blank, blank, blank, np.arange(count),
    )  # fmt: skip


def pairs(rng, marks, set_ups, count):
    """Return ends of observations that are over different marks."""
    nodes = marks + len(set_ups)
    of = np.concatenate([np.arange(marks), set_ups.mark])
    start, end = rng.integers(0, nodes, (2, count))
    apart = of[start] != of[end]
    return start[apart], end[apart]


def raised(rng, marks, set_ups, nodes):
    return np.concatenate([np.zeros(marks), set_ups.height])[nodes]


def make_vectors(rng, marks, set_ups, wide):
    first, second = pairs(rng, marks, set_ups, int(rng.integers(0, 8)))
    chain = np.arange(marks - 1)
    start = np.concatenate([chain, first])
    end = np.concatenate([chain + 1, second])
    count = len(start)
    size = rng.integers(1, 4, count)
    first = np.cumsum(size) - size
    batches = []
    for number in (1, 2, 3):
        some = [
            np.arange(a, a + number)
            for a, s in zip(first, size, strict=True)
            if s == number and a + number <= count
        ]
        if some:
            sd = 10 ** rng.uniform(-4, 1) if wide else 3e-3
            matrix = [covariance(rng, 3 * number, sd) for _ in some]
            batches.append(Batch(np.array(some), np.array(matrix)))
    covered = np.zeros(count, dtype=bool)
    for batch in batches:
        covered[batch.members] = True
    rest = np.flatnonzero(~covered)
    if len(rest):
        matrix = np.array([covariance(rng, 3, 3e-3) for _ in rest])
        batches.append(Batch(rest[:, None], matrix))
    vectors = Vectors(
        tuple(f"B{i}" for i in range(count)), start, end, np.zeros((count, 3)),
        raised(rng, marks, set_ups, start), raised(rng, marks, set_ups, end),
        tuple(batches), np.full(count, -1), np.full(count, -1),
        np.ones(count, dtype=bool), np.arange(count),
    )  # fmt: skip
    return vectors, ("S0", "S1", "S2", "S3")


def make_sights(rng, marks, set_ups):
    if rng.random() < 0.5:
        return (), Parameters((), (), np.zeros(0), np.zeros(0))
    made = []
    rounds = int(rng.integers(1, 5))
    for kind, sd in (
        ("slope distance", 2e-3),
        ("direction", 3 * ARCSEC),
        ("zenith angle", 4 * ARCSEC),
    ):
        at, to = pairs(rng, marks, set_ups, int(rng.integers(6, 20)))
        count = len(at)
        parameter = np.full((count, 2), -1)
        if kind == "direction":
            parameter[:, 0] = at % rounds
        elif kind == "slope distance" and rng.random() < 0.5:
            parameter[:, 0] = rounds
        elif kind == "zenith angle" and rng.random() < 0.5:
            parameter[:, 0] = rounds + 1
        made.append(
            Sights(
                kind, tuple(f"{kind[0]}{i}" for i in range(count)), at, to,
                np.full(count, -1), raised(rng, marks, set_ups, at),
                raised(rng, marks, set_ups, to), np.zeros(count), np.zeros(count),
                np.full(count, sd), parameter, np.full(count, 0.13),
                np.ones(count, dtype=bool), np.arange(count),
            )
        )  # fmt: skip
    names = (*(f"circle {i}" for i in range(rounds)), "constant", "refraction")
    kinds = ("orientation",) * rounds + ("distance constant", "refraction")
    start = np.array([np.nan] * rounds + [0.0, 0.13])
    sd = np.array([np.nan] * rounds + [np.nan, 0.1])
    return tuple(made), Parameters(names, kinds, start, sd)


def make_levels(rng, marks):
    count = int(rng.integers(2, 9))
    start = rng.integers(0, marks, count)
    end = (start + rng.integers(1, marks, count)) % marks
    none = np.zeros(count)
    return Levels(
        tuple(f"L{i}" for i in range(count)), start, end, none, np.full(count, 1e-3),
        none, none, np.full((count, 2), -1), np.ones(count, dtype=bool),
        np.arange(count),
    )  # fmt: skip


def make_positions(rng, marks):
    count = int(rng.integers(0, 3))
    matrix = np.array([covariance(rng, 3, 0.01) for _ in range(count)])
    components = np.ones((count, 3), dtype=bool)
    # Of the first all: the earth's curve alone would carry a height, by rounding.
    components[1:, 2] = rng.random(max(count - 1, 0)) < 0.7
    return Positions(
        tuple(f"P{i}" for i in range(count)), rng.integers(0, marks, count),
        np.zeros((count, 3)), np.zeros(count), components,
        single(matrix.reshape(count, 3, 3)), np.full(count, -1),
        np.ones(count, dtype=bool), np.arange(count),
    )  # fmt: skip


def make_known(rng, places):
    count = int(rng.integers(1, 4))
    mark = rng.choice(len(places), count, replace=False)
    uses = np.array(["held", "weighted", "check-only"])
    plan, height = uses[rng.integers(0, 3, (2, count))]
    plan[0] = height[0] = uses[rng.integers(0, 2)]
    matrix = np.array([covariance(rng, 3, 0.01) for _ in range(count)])
    return KnownMarks(
        mark, places[mark], np.ones((count, 3), dtype=bool), tuple(plan),
        tuple(height), single(matrix), ("",) * count, np.ones(count, dtype=bool),
        np.arange(count),
    )  # fmt: skip


def both(network, mode):
    """Return the network adjusted either way; None where it has no solution."""
    made = []
    for arithmetic in ("dense", "sparse"):
        try:
            made.append(estimate(network, mode, arithmetic=arithmetic))
        except (NoSolution, CommandError) as error:
            made.append(error)
    return made


def assert_same(dense, sparse):
    count = len(dense.network.marks)
    every = np.arange(len(dense.columns))
    own, other = (one.covariance(every, every) for one in (dense, sparse))
    sds = np.sqrt(np.einsum("nii->ni", own))
    scale = np.maximum(sds[:, :, None] * sds[:, None, :], 1e-30)
    # What double precision allows at the condition of the matrix; 1e-9 mostly.
    close = max(1e-9, 1e-14 / dense.reciprocal_condition)
    assert np.abs((other - own) / scale)[own != 0].max(initial=0) < close
    moved = np.abs(sparse.nodes.xyz - dense.nodes.xyz).max(axis=1)
    least = np.maximum(sds[: len(moved)].max(axis=1), 1e-9)
    # A position on the earth is rounded to a nanometre before it is compared.
    assert (np.maximum(moved - 3e-9, 0) / least).max() < close
    assert sparse.vtpv == pytest.approx(dense.vtpv, rel=1e-6, abs=1e-9)
    far = np.arange(count), np.arange(count)[::-1]
    size = sds[far[0]][:, :, None] * sds[far[1]][:, None, :]
    off = sparse.covariance(*far) - dense.covariance(*far)
    assert (np.abs(off) <= close * size + 1e-30).all()


def assert_tests_same(dense, sparse):
    tests, others = blunder_tests(dense), blunder_tests(sparse)
    assert tests.kind == others.kind
    assert tests.name == others.name
    assert tests.verdict == others.verdict
    for one, other in (
        (tests.redundancy, others.redundancy),
        (tests.basis.test, others.basis.test),
        (tests.tests.smallest_detectable, others.tests.smallest_detectable),
    ):
        np.testing.assert_allclose(other, one, rtol=1e-5, atol=1e-7)
    assert np.nansum(others.redundancy) == pytest.approx(
        sparse.degrees_of_freedom, abs=1e-6
    )
    same = checked_marks(dense, tests) == checked_marks(sparse, others)
    assert same.all()


SLOW = settings(
    max_examples=200,
    deadline=None,
    derandomize=True,
    suppress_health_check=list(HealthCheck),
)


@SLOW
@given(st.integers(0, 10**6), st.sampled_from(["constrained", "minimal", "free"]))
def test_dense_and_sparse_are_the_same(seed, mode):
    dense, sparse = both(drawn(seed), mode)
    if isinstance(dense, Exception):
        assert type(sparse) is type(dense)
        assert str(sparse) == str(dense)
        return
    assert_same(dense, sparse)
    assert_tests_same(dense, sparse)
