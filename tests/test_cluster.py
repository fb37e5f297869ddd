"""A network in parts: an identity, the same as in one process, for any division."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from brasscap.adjust import estimate
from brasscap.adjust.cluster import InMemory, InProcess, estimate_in_parts
from brasscap.adjust.cluster.covariances import Covariances
from brasscap.adjust.cluster.dividing import divide
from brasscap.adjust.cluster.touched import touched
from brasscap.adjust.datum import datum
from brasscap.adjust.judge import blunder_tests, set_up_tests
from brasscap.io.tables.load import load
from brasscap.networks import CommandError, NoSolution
from brasscap.networks.simulate import simulate
from brasscap.networks.simulate.country import country
from brasscap.reports.judged import judge

EQUAL = 1e-9
"""Of a standard deviation, or of the product of two."""
ROOT = Path(__file__).parents[1]
EXAMPLES = ROOT / "networks" / "examples"
JOBS = {
    "vectors": ROOT / "tests" / "jobs" / "gnss_textbook_two_control_13_vectors",
    "levels": EXAMPLES / "tramway",
    "sights": EXAMPLES / "mill",
    "mixed": ROOT / "tests" / "jobs" / "mixed_nine_marks",
    "all kinds": EXAMPLES / "harbour",
}


def at_random(seed):
    """Return a division that leaves nothing together but correlated observations."""

    def divide(network, kinds, places, levels):
        rng = np.random.default_rng(seed)
        return [
            np.where(
                kind.cluster < 0,
                -1,
                rng.integers(0, 1 << levels, len(kind.cluster))[kind.cluster],
            )
            for kind in kinds
        ]

    return divide


def in_parts(network, mode="constrained", workers=None, **more):
    who = InProcess() if workers is None else workers
    return estimate_in_parts(network, mode, workers=who, store=InMemory(), **more)


def agree(one, two):
    """Compare positions, parameters, covariances and what is solved for."""
    assert np.array_equal(one.columns, two.columns)
    node = np.arange(len(one.columns))
    expected = one.covariance(node, node)
    sd = np.sqrt(np.einsum("nii->ni", expected))
    sd = np.where(sd > 0, sd, 1.0)
    off = np.abs(two.covariance(node, node) - expected) / sd[:, :, None] / sd[:, None]
    assert off.max() < EQUAL
    places = len(one.nodes.xyz)
    moved = np.einsum("nij,nj->ni", one.nodes.axes, two.nodes.xyz - one.nodes.xyz)
    # A position cannot be told apart below the last digit of a metre from the
    # earth's centre: 1e-9 m.
    assert (np.abs(moved) <= EQUAL * sd[:places] + 2e-9).all()
    values = np.abs(two.nodes.values - one.nodes.values)
    assert (values <= EQUAL * sd[places:, 0]).all()
    for a, b in zip(one.whitened, two.whitened, strict=True):
        # A position's last digit is a part in 10⁵ of a standard deviation of 0.1 mm.
        np.testing.assert_allclose(a.misclosure, b.misclosure, atol=1e-4)
    right = np.random.default_rng(1).normal(size=(int(one.columns.max()) + 1, 2))
    solved = one.factor.solve(right)
    size = np.abs(solved).max()
    np.testing.assert_allclose(two.factor.solve(right), solved, atol=EQUAL * size)
    # No observation joins these: solved for.
    far = np.flatnonzero((one.columns >= 0).any(axis=1))[[0, -1]]
    cross = one.covariance(far[:1], far[1:])
    off = np.abs(two.covariance(far[:1], far[1:]) - cross)[0]
    assert (off <= EQUAL * sd[far[0]][:, None] * sd[far[1]]).all()
    assert one.iterations == two.iterations


@pytest.mark.parametrize("domains", [2, 8])
@pytest.mark.parametrize("job", JOBS)
def test_any_division_gives_the_same(job, domains):
    """Set-ups, circle zeros, undulations and constants lie in several domains."""
    network = load(JOBS[job]).network
    one = estimate(network, arithmetic="sparse")
    two = in_parts(network, domains=domains, division=at_random(domains))
    agree(one, two)
    assert (two.factor.passes.tree.owner >= 0).any()


@pytest.mark.parametrize("mode", ["minimal", "free"])
def test_other_datums_are_the_same(mode):
    network = load(EXAMPLES / "harbour").network
    one = estimate(network, mode, arithmetic="sparse")
    two = in_parts(network, mode, domains=4, division=at_random(3))
    agree(one, two)


@pytest.mark.parametrize(
    ("kind", "set_ups"), [("uniform", False), ("clustered", False), ("uniform", True)]
)
def test_a_country_is_the_same_in_parts(kind, set_ups):
    network = simulate(country(250, kind, set_ups=set_ups), seed=1)
    one = estimate(network, arithmetic="sparse")
    two = in_parts(network, domains=8)
    agree(one, two)
    owner = two.factor.passes.tree.owner
    assert len(two.factor.stages) == 8
    # Most of a country is inside of some domain; of set-ups nearly all are.
    assert (owner < 0).mean() > (0.9 if set_ups else 0.7)


def test_one_domain_is_the_whole():
    network = load(JOBS["mixed"]).network
    two = in_parts(network, domains=1)
    agree(estimate(network, arithmetic="sparse"), two)
    assert (two.factor.passes.tree.owner < 0).all()


def assert_same_files(one, two):
    """Covariances, tests and all else that the domains left, to the bit."""
    assert one.numbers == two.numbers
    for number in one.numbers:
        left, right = one.store.kept(number), two.store.kept(number)
        assert left.keys() == right.keys()
        for name in left:
            np.testing.assert_array_equal(left[name], right[name], err_msg=name)


class Forgetful:
    """Workers that lose what they made, again and again, and make it again."""

    count = 3

    def __init__(self, seed):
        self.chance = np.random.default_rng(seed)
        self.made, self.calls = {}, 0

    def submit(self, function, *arguments, share=0.0):
        ticket = Ticket(function, arguments)
        self._value(ticket)
        return ticket

    def gather(self, tickets, tell=None):
        return [self._value(ticket) for ticket in tickets]

    def _value(self, ticket):
        if id(ticket) in self.made and self.chance.random() < 0.2:
            del self.made[id(ticket)]
        if id(ticket) not in self.made:
            given = [
                self._value(a) if isinstance(a, Ticket) else a for a in ticket.arguments
            ]
            self.calls += 1
            self.made[id(ticket)] = ticket, ticket.function(*given)
        return self.made[id(ticket)][1]


class Ticket:
    def __init__(self, function, arguments):
        self.function, self.arguments = function, arguments


def test_what_is_lost_is_made_again():
    """A fifth of all tasks and more is done twice; nothing else changes, to the bit."""
    network = load(JOBS["mixed"]).network
    lossy = Forgetful(7)
    one = in_parts(network, domains=4, division=at_random(4))
    two = in_parts(network, workers=lossy, domains=4, division=at_random(4))
    assert lossy.calls > 1.2 * len(lossy.made)
    assert np.array_equal(one.nodes.xyz, two.nodes.xyz)
    assert_same_files(one, two)


def cut_off(network, marks):
    """Return the network without the vectors and known marks that tie some marks."""
    vectors, known = network.vectors, network.known
    inside = np.isin(vectors.start, marks) != np.isin(vectors.end, marks)
    return replace(
        network,
        vectors=replace(vectors, used=vectors.used & ~inside),
        known=replace(known, used=known.used & ~np.isin(known.mark, marks)),
    )


@pytest.mark.parametrize("marks", [3, 60])
def test_a_piece_that_floats_is_named(marks):
    """Three marks lie within one domain, sixty in several that only join it."""
    network = simulate(country(250, seed=2), seed=1)
    xyz = network.marks.approximate
    near = np.argsort(np.linalg.norm(xyz - xyz[0], axis=1))[:marks]
    network = cut_off(network, near)
    with pytest.raises(NoSolution) as expected:
        estimate(network, arithmetic="sparse")
    with pytest.raises(NoSolution) as found:
        in_parts(network, domains=8)
    assert set(found.value.marks) == set(expected.value.marks)
    assert found.value.freedoms == expected.value.freedoms
    assert {network.marks.name[mark] for mark in near} == set(found.value.marks)


def test_a_country_that_nothing_holds_is_named_whole():
    network = simulate(country(150), seed=1)
    known = replace(network.known, used=np.zeros(len(network.known), dtype=bool))
    with pytest.raises(NoSolution) as found:
        in_parts(replace(network, known=known), domains=4)
    assert set(found.value.marks) == set(network.marks.name)


def test_what_is_not_divided_is_said():
    network = load(EXAMPLES / "mill").network
    with pytest.raises(CommandError, match="azimuth"):
        in_parts(network, "minimal")


@pytest.mark.parametrize("job", ["mixed", "all kinds"])
def test_workers_test_the_observations_they_hold(job):
    """As in one process; the redundancies sum to the degrees of freedom."""
    network = load(JOBS[job]).network
    store = InMemory()
    estimate_in_parts(
        network, workers=InProcess(), store=store, domains=4, division=at_random(2)
    )
    one = estimate(network, arithmetic="sparse")
    tests = blunder_tests(one)
    total = 0.0
    for kind in {some.kind for some in one.equations}:
        parts = [store.kept(number) for number in range(4)]
        parts = [part for part in parts if f"{kind}: number" in part]
        order = np.argsort(np.concatenate([part[f"{kind}: number"] for part in parts]))

        def column(name, kind=kind, parts=parts, order=order):
            return np.concatenate([part[f"{kind}: {name}"] for part in parts])[order]

        total += np.nansum(column("redundancy"))
        if kind in ("set-up", "known mark"):
            continue
        rows = np.flatnonzero(np.array(tests.kind) == kind)
        assert np.array_equal(column("number"), tests.edge[rows])
        found = {
            "redundancy": tests.redundancy,
            "shift": tests.tests.shift,
            "smallest detectable": tests.tests.smallest_detectable,
            "test, stated": tests.tests.stated.test,
            "test, estimated": tests.tests.estimated.test,
        }
        for name, expected in found.items():
            np.testing.assert_allclose(
                column(name), expected[rows], rtol=1e-5, atol=1e-9, err_msg=name
            )
    assert total == pytest.approx(one.degrees_of_freedom, abs=1e-6)


@pytest.mark.parametrize(
    ("job", "mode"), [*((job, "constrained") for job in JOBS), ("all kinds", "free")]
)
def test_tests_that_workers_left_are_those_of_one_process(job, mode):
    """Figures to 1e-9 of their size, what nothing checks, and every verdict.

    A figure that is the rest of a cancellation is off by as much as its terms: it is
    compared with the largest of its column.
    """
    network = load(JOBS[job]).network
    one = blunder_tests(estimate(network, mode, arithmetic="sparse"))
    parted = in_parts(network, mode, domains=4, division=at_random(5))
    two = blunder_tests(parted)
    left = [some.kind for some in parted.equations if some.used.any()]
    assert all(parted.tests_left(kind) is not None for kind in left)
    assert_same_tests(one, two)


def assert_same_tests(one, two):
    assert (one.kind, one.name, one.verdict) == (two.kind, two.name, two.verdict)
    assert one.tests.directions == two.tests.directions
    for name in ("components", "unchecked"):
        assert np.array_equal(getattr(one.tests, name), getattr(two.tests, name))
    for a, b in zip(one.tests.null, two.tests.null, strict=True):
        assert a.shape == b.shape
    for name in ("sd_shift", "smallest_detectable", "smallest_detectable_enu"):
        a, b = getattr(one.tests, name), getattr(two.tests, name)
        np.testing.assert_allclose(a, b, rtol=1e-9, err_msg=name)
    np.testing.assert_allclose(one.redundancy, two.redundancy, rtol=1e-9, atol=1e-9)


@pytest.mark.parametrize("wide", [90, 6])
def test_workers_test_the_set_ups_that_they_alone_have(monkeypatch, wide):
    """Nearly all of a country; those that more unknowns see are left to who asks."""
    monkeypatch.setattr(set_up_tests, "WIDE", wide)
    network = simulate(country(250, set_ups=True), seed=1)
    parted = in_parts(network, domains=4)
    share = len(parted.tests_left(set_up_tests.PLACE).edges) / len(network.set_ups)
    assert share > 0.9 if wide == 90 else 0 < share < 0.9
    assert_same_tests(blunder_tests(estimate(network)), blunder_tests(parted))


def test_the_driver_asks_for_no_covariance_of_an_observation(monkeypatch):
    """Of 250 marks with 690 vectors: each mark's own nine, and the known ones'."""
    network = simulate(country(250), seed=1)
    made = in_parts(network, domains=4)
    asked = []
    find = Covariances.find
    monkeypatch.setattr(
        Covariances,
        "find",
        lambda self, a, b: (asked.append(len(a)), find(self, a, b))[1],
    )
    judge(made)
    known = len(network.known) * 9
    assert 0 < sum(asked) <= 9 * len(network.marks) + 2 * known


@pytest.mark.parametrize("places", ["true", "misleading", "unknown"])
def test_a_country_is_divided_where_little_joins_it(places):
    """Of 2 000 marks three cuts take √n · (1 + √2 + 2) = 200 or so, anywhere."""
    network = simulate(country(2000), seed=1)
    xyz = network.marks.approximate
    if places == "misleading":
        xyz = np.random.default_rng(1).permutation(xyz)
    if places == "unknown":
        xyz = np.full_like(xyz, np.nan)
    kinds = touched(network, datum(network, "constrained"))
    (vectors, *_) = divide(network, kinds, xyz, 3)
    several = [
        np.unique(vectors[(network.vectors.start == m) | (network.vectors.end == m)])
        for m in range(2000)
    ]
    sizes = np.bincount(vectors[vectors >= 0])
    assert sum(len(some) > 1 for some in several) < 1.5 * 200
    assert len(sizes) == 8
    assert sizes.max() < 1.5 * sizes.mean()
