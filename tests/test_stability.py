"""Two epochs compared: a case by hand, identities, chance, and what is refused.

By hand: three benchmarks, levelled each to each, every run ± 1 mm, twice. In mm, with A
held, the normal matrix of (B, C) is [[2, −1], [−1, 2]], its inverse
1/3 [[2, 1], [1, 2]], and the covariance of the movements, of two epochs, is
Q = 2/3 [[2, 1], [1, 2]].

The second time C is 6 mm lower. T = dᵀQ⁻¹d with Q⁻¹ = 1/2 [[2, −1], [−1, 2]] and
d = (0, −6): T = 36, of 2 degrees of freedom; the limit is 5.991 (chi-square, 5 %).
Of A and B alone T = 0; of B and C, or A and C, whose difference has the variance
2/3 (2 + 2 − 2) = 4/3: T = 36 / (4/3) = 27. So C moved. In the datum of A and B it
moved by −6 − (0 + 0)/2 with the variance 4/3 + 1/4 · 4/3 − 2/3 = 1: −6.0 ± 1.96 mm.
The least movement of C that the three would show is √λ0 with λ0 = 9.634 (5 %, 80 %,
two degrees of freedom): 3.10 mm; of C against A and B alone 2.80 mm. Both multiples of
σ are those of any table of detectable displacements.
"""

import json
import shutil
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from jsonschema import Draft202012Validator

from brasscap.__main__ import main
from brasscap.adjust import estimate
from brasscap.adjust.follow.congruency import (
    Movements,
    Scale,
    carried,
    congruency,
    contribution,
)
from brasscap.adjust.follow.epochs import incomparable, movements, scale_of
from brasscap.adjust.follow.stability import judge_movements, stability
from brasscap.io.tables.load import load
from brasscap.json_schemas import schema_of
from brasscap.networks import example_jobs
from brasscap.networks.simulate import simulate

EXAMPLES = Path(example_jobs.__file__).parent / "examples"
STATED = Scale("stated", 1.0, 0)
AT = ("--dated", "2026-05-04T14:30:00Z", "--quiet")

JOB = """schema = 1
[job]
title = "three benchmarks"
who = "AB"
[frame]
kind = "local"
height_datum = "works"
"""


def three(drop: float, names: str = "ABC") -> Movements:
    covariance = 2e-6 / 3 * np.array([[0, 0, 0], [0, 2, 1], [0, 1, 2.0]])
    return Movements(
        tuple(names),
        np.array([[0.0], [0.0], [-drop]]),
        covariance.reshape(3, 1, 3, 1),
        np.ones((3, 1, 1)),
    )


def written(folder: Path, rises: list[float], year: str) -> Path:
    folder.mkdir()
    (folder / "job.toml").write_text(JOB)
    (folder / "control.csv").write_text(
        "station,use_height,height_m,source\nA,held,1.000,invented\n"
    )
    head = "section,from_station,to_station,rise_m,run,sd_mm\n"
    ends = (("A", "B"), ("B", "C"), ("A", "C"))
    rows = [
        f"{year}-{a}{b},{a},{b},{rise},single,1.0\n"
        for (a, b), rise in zip(ends, rises, strict=True)
    ]
    (folder / "levels.csv").write_text(head + "".join(rows))
    assert main(["record", "issue", "--with-open", "--job", str(folder), *AT]) == 0
    return folder


@pytest.fixture(scope="module")
def epochs(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Path]:
    home = tmp_path_factory.mktemp("epochs")
    return (
        written(home / "old", [1.0, 1.0, 2.0], "2025"),
        written(home / "new", [1.0, 0.994, 1.994], "2026"),
    )


@pytest.fixture
def ask(capsys):
    def asked(*words: str):
        capsys.readouterr()
        code = main([*words, "--json", *AT])
        found = json.loads(capsys.readouterr().out)
        Draft202012Validator(schema_of("stability")).validate(found)
        return code, found

    return asked


def test_three_benchmarks_by_hand():
    found = judge_movements(three(0.006), STATED)
    assert found.together.statistic == pytest.approx(36.0)
    assert found.together.degrees_of_freedom == 2
    assert found.together.limit == pytest.approx(5.991, abs=5e-4)
    falls = [contribution(found.together, (k,))[0] for k in range(3)]
    assert falls == pytest.approx([36 - 27, 36 - 27, 36.0])
    (step,) = found.steps
    assert (step.station, step.twins) == ("C", ())
    assert found.after.statistic == pytest.approx(0.0)
    c = found.marks[2]
    assert (c.role, c.verdict) == ("moved", "fails")
    assert 1000 * c.move == pytest.approx([-6.0])
    assert 1e6 * c.covariance == pytest.approx(np.array([[1.0]]))
    assert 1000 * c.limit == pytest.approx([1.96], abs=5e-3)
    assert 1000 * c.least == pytest.approx(2.80, abs=5e-3)
    unmoved = judge_movements(three(0.0), STATED)
    assert [1000 * mark.least for mark in unmoved.marks] == pytest.approx(
        [3.10] * 3, abs=5e-3
    )
    assert unmoved.verdict == "meets"


def test_three_benchmarks_through_records(ask, epochs):
    old, new = epochs
    code, found = ask("stability", "1", str(new / "records/1"), "--job", str(old))
    assert (code, found["verdict"], found["notes"]) == (1, "fails", [])
    (part,) = found["parts"]
    assert part["part"] == "height"
    assert part["together"]["statistic"] == pytest.approx(36.0, abs=1e-6)
    roles = {mark["station"]: mark["role"] for mark in part["marks"]}
    assert roles == {"A": "stable", "B": "stable", "C": "moved"}
    c = part["marks"][2]
    assert (c["up_mm"], c["limit_up_mm"]) == (pytest.approx(-6.0), pytest.approx(1.96))


def test_two_marks_cannot_tell_which_moved():
    both = three(0.006)
    some = np.array([False, True, True])
    found = judge_movements(both, STATED, presumed=("B", "C"))
    assert congruency(both, some, STATED, 0.95).statistic == pytest.approx(27.0)
    assert found.steps == ()
    assert "nobody can tell which of B, C" in found.words
    assert [mark.verdict for mark in found.marks[1:]] == ["query", "query"]


def test_one_mark_in_common_is_unchecked():
    found = judge_movements(three(0.006), STATED, presumed=("B",))
    assert found.verdict == "unchecked"
    assert found.together.verdict == "unchecked"


def test_a_mark_not_presumed_stable_is_judged_alone():
    """T = 36 against 3.841 of one degree of freedom; 1.5 mm is 1.5 σ, in the limits."""
    found = judge_movements(three(0.006), STATED, presumed=("A", "B"))
    assert (found.marks[2].role, found.marks[2].verdict) == ("watched", "fails")
    assert found.marks[2].test == pytest.approx(np.sqrt(36 / 3.841), abs=1e-3)
    small = judge_movements(three(0.0015), STATED, presumed=("A", "B"))
    assert (small.marks[2].verdict, small.verdict) == ("meets", "meets")


def test_marks_that_explain_as_much_are_named_together():
    """3.5 mm: T = 12.25 > 5.991, but B and C alone, or A and C, have 9.19 > 6.63.

    2.8 mm: T = 7.84 fails too, while 27/36 of it, 5.88, is no longer significant at
    1 %: then C cannot be told from A or B.
    """
    assert judge_movements(three(0.0035), STATED).steps[0].twins == ()
    found = judge_movements(three(0.0028), STATED)
    assert found.together.verdict == "fails"
    assert "nobody can tell which of A, B, C" in found.words


def surveys(name: str, seeds: tuple[int, int]):
    plan = load(EXAMPLES / name).network
    plan = replace(plan, marks=replace(plan.marks, approximate=settled(plan)))
    return [estimate(simulate(plan, seed=seed), "minimal") for seed in seeds]


def settled(plan):
    return estimate(plan, "constrained").nodes.xyz[: len(plan.marks)]


@pytest.fixture(scope="module")
def mill():
    return surveys("mill", (11, 12))


def test_the_datum_of_either_epoch_does_not_matter(mill):
    """An identity: shift and turn of all alike, and errors of those, change nothing."""
    moves, why = movements(*mill, "plan")
    assert not why
    rng = np.random.default_rng(5)
    free = moves.freedoms.reshape(moves.difference.size, -1)
    size = np.linalg.norm(free, axis=0)
    free = free[:, size > 0] / size[size > 0]
    amount = rng.normal(size=free.shape[1])
    spread = rng.normal(size=(free.shape[1],) * 2)
    extra = free @ (spread @ spread.T) @ free.T
    bent = Movements(
        moves.station,
        moves.difference + (1e-3 * free @ amount).reshape(moves.difference.shape),
        moves.covariance + 1e-6 * extra.reshape(moves.covariance.shape),
        moves.freedoms,
    )
    every = np.ones(len(moves.station), dtype=bool)
    one, other = (congruency(some, every, STATED, 0.95) for some in (moves, bent))
    assert other.statistic == pytest.approx(one.statistic, rel=1e-6)
    assert other.degrees_of_freedom == one.degrees_of_freedom
    first, second = carried(moves, every), carried(bent, every)
    np.testing.assert_allclose(first.difference, second.difference, atol=1e-9)
    np.testing.assert_allclose(first.covariance, second.covariance, atol=1e-12)


def test_it_equals_the_pseudo_inverse_after_the_s_transformation(mill):
    """A second way, by numpy: T = dᵀQ⁺d, of the rank of Q."""
    moves, _ = movements(*mill, "plan")
    every = np.ones(len(moves.station), dtype=bool)
    test = congruency(moves, every, STATED, 0.95)
    laid = carried(moves, every)
    rows = laid.difference.size
    covariance = laid.covariance.reshape(rows, rows)
    inverse = np.linalg.pinv(covariance, rcond=1e-9, hermitian=True)
    d = laid.difference.reshape(rows)
    assert d @ inverse @ d == pytest.approx(test.statistic, rel=1e-6)
    rank = np.linalg.matrix_rank(covariance, tol=1e-9 * np.abs(covariance).max())
    assert rank == test.degrees_of_freedom


def test_leaving_a_mark_out_lowers_t_by_what_it_explains(mill):
    """An identity of least squares: a shift of a mark as an unknown takes it out."""
    moves, _ = movements(*mill, "plan")
    every = np.ones(len(moves.station), dtype=bool)
    test = congruency(moves, every, STATED, 0.95)
    for k in range(len(every)):
        fewer = every.copy()
        fewer[k] = False
        less = congruency(moves, fewer, STATED, 0.95)
        fall, freedom = contribution(test, (k,))
        assert test.statistic - fall == pytest.approx(less.statistic, abs=1e-6)
        assert test.degrees_of_freedom - freedom == less.degrees_of_freedom


def test_chance_agrees_with_alarm_and_power(mill):
    """20,000 draws: 5 % false alarms and 80 % found, to 1 %: over 3 σ of chance."""
    moves, _ = movements(*mill, "plan")
    every = np.ones(len(moves.station), dtype=bool)
    found = judge_movements(
        replace(moves, difference=np.zeros_like(moves.difference)), STATED, part="plan"
    )
    test, rows = found.together, moves.difference.size
    values, ways = np.linalg.eigh(moves.covariance.reshape(rows, rows))
    root = ways * np.sqrt(np.clip(values, 0, None))
    draws = np.random.default_rng(3).normal(size=(20_000, rows)) @ root.T

    def share(shift):
        d = draws + shift
        t = np.einsum("ni,ij,nj->n", d, test.weight.reshape(rows, rows), d)
        return np.mean(t > test.limit)

    assert share(0.0) == pytest.approx(0.05, abs=0.01)
    for k in (1, 4):
        hiding = np.linalg.eigh(test.weight[k, :, k])[1][:, 0]
        shift = np.zeros((len(every), 2))
        shift[k] = found.marks[k].least * hiding
        assert share(shift.reshape(rows)) == pytest.approx(0.80, abs=0.01)


def test_pooled_only_if_the_two_are_equally_good():
    first, second = surveys("tramway", (1, 2))
    options = replace(first.network.options, tests_from="estimated")
    one, other = (
        replace(some, network=some.network.with_options(options))
        for some in (first, second)
    )
    scale, words = scale_of(one, other)
    total = one.degrees_of_freedom + other.degrees_of_freedom
    assert scale.kind == "pooled"
    assert scale.variance == pytest.approx((one.vtpv + other.vtpv) / total)
    assert scale.degrees_of_freedom == total
    assert words.startswith("pooled")
    levels = other.network.levels
    poor = replace(levels, rise=levels.rise + 0.05 * np.arange(len(levels.rise)) ** 2)
    worse = estimate(replace(other.network, levels=poor), "minimal")
    scale, words = scale_of(one, worse)
    assert scale.kind == "none"
    assert "not equal" in words
    found = stability(one, worse)
    assert {part.verdict for part in found.parts} == {"unchecked"}


def test_records_that_share_observations_are_unchecked(ask, epochs):
    old, _ = epochs
    code, found = ask("stability", "1", "1", "--job", str(old))
    assert (code, found["verdict"]) == (0, "unchecked")
    assert "3 observations are in both" in found["notes"][0]["text"]


def test_a_damaged_record_is_refused(ask, epochs, tmp_path):
    old, new = epochs
    copy = shutil.copytree(new / "records" / "1", tmp_path / "copy")
    path = copy / "input" / "levels.csv"
    path.write_bytes(path.read_bytes().replace(b"1.994", b"1.995"))
    code, found = ask("stability", "1", str(copy), "--job", str(old))
    assert code == 5
    assert "input/levels.csv" in found["error"]


def test_another_frame_is_refused_in_words(ask, epochs, tmp_path):
    old, _ = epochs
    job = tmp_path / "harbour"
    main(["new", str(job), "--example", "harbour", *AT])
    words = ["record", "issue", "--who", "AB", "--with-open", *AT]
    assert main([*words, "--job", str(job)]) == 0
    code, found = ask("stability", "1", str(job / "records/1"), "--job", str(old))
    assert code == 2
    assert "different kinds of frame" in found["error"]


def test_other_datums_and_epochs_are_refused_in_words():
    network = load(EXAMPLES / "harbour").network
    later = replace(network.frame, epoch=network.frame.epoch + 1)
    other = replace(network.frame, geographic_epsg=7912)
    assert "different epochs, 1.000 year" in incomparable(
        network, replace(network, frame=later)
    )
    assert "different frames" in incomparable(network, replace(network, frame=other))
    assert incomparable(network, network) == ""


def test_heights_of_another_datum_are_not_compared(ask, epochs, tmp_path):
    old, new = epochs
    other = tmp_path / "job"
    shutil.copytree(new, other, ignore=shutil.ignore_patterns("records", "results"))
    (other / "job.toml").write_text(JOB.replace("works", "state"))
    assert main(["record", "issue", "--with-open", "--job", str(other), *AT]) == 0
    code, found = ask("stability", "1", str(other / "records/1"), "--job", str(old))
    assert (code, found["verdict"]) == (0, "unchecked")
    assert "different datums" in found["parts"][0]["refused"]


def test_a_mark_that_is_not_in_both_cannot_be_presumed_stable(ask, epochs):
    old, new = epochs
    words = ("stability", "1", str(new / "records/1"), "--stable", "A,Z")
    code, found = ask(*words, "--job", str(old))
    assert code == 2
    assert "Z is not a mark of both" in found["error"]
