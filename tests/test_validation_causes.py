"""The validation of causes, a few networks of it: it runs, and counts what it says.

The long run is `python tests/validation/causes`; its page is CAUSES.md there.
"""

import sys
from importlib import import_module
from pathlib import Path

import numpy as np
import pytest

FOLDER = str(Path(__file__).parent / "validation" / "causes")
sys.path.insert(0, FOLDER)
design, faults, counted, plans, tallies, printed, shares, surveys = (
    import_module(name)
    for name in (
        "design",
        "faults",
        "page",
        "plans",
        "tally",
        "printed",
        "shares",
        "surveys",
    )
)
sys.path.remove(FOLDER)


@pytest.fixture(scope="module")
def tally():
    made = tallies.Tally()
    for number in range(len(plans.FAMILIES)):
        made.add(tallies.surveyed(number))
    return made


def test_every_kind_is_planted_in_some_family(tally):
    kinds = {kind for kind, _ in tally.one}
    assert kinds >= {
        "baseline", "reading", "pointing", "levelled reading", "levelled run",
        "set-up height", "target height", "set-up on wrong mark", "session", "tripod",
        "antenna", "prism constant", "instrument scale", "direction set broken",
        "circle orientation", "staff scale", "group", "known mark", "known mark plan",
        "known mark height",
    }  # fmt: skip
    assert all(tally.networks[family] == 1 for family in plans.FAMILIES)


def test_a_fault_of_three_times_the_detectable_size_is_named(tally):
    """14 standard deviations: what stands beside the truth on the screen is chance."""
    large = [one for (_, size), seen in tally.one.items() if size == 3 for one in seen]
    assert len(large) > 40
    assert all(one["power"] and one["found"] for one in large)
    assert np.mean([one["named"] for one in large]) > 0.95
    assert np.mean([one["alike"] for one in large]) > 0.85


def test_the_same_seeds_give_the_same_counts(tally):
    again = tallies.surveyed(2)
    for key, seen in again.one.items():
        assert all(one in tally.one[key] for one in seen)


def test_a_fault_has_the_size_that_is_said_of_it():
    """√λ of its own test is the multiple of √17.075 (Baarda 1968)."""
    some = design.Design(*plans.plan("levels", 2), 2)
    random = np.random.default_rng(1)
    for kind, causes in some.kinds.items():
        rows, amounts = faults.fault(some, random, causes[0], 1.5, kind)
        joint = some.made.joint(rows)
        statistic, _ = joint.statistics()
        assert statistic[causes[0]] == pytest.approx(1.5**2 * faults.UNIT, rel=1e-9)
        told, _ = some.made.amounts(joint, causes[0])
        assert told == pytest.approx(amounts, rel=1e-9)
    assert round(faults.UNIT, 3) == 17.075


@pytest.mark.parametrize("number", range(4))
def test_the_printed_size_is_that_of_the_test_that_must_find_it(number):
    """λ of a blunder of the size that `reliability` prints is 17.075, in every axis.

    That size comes from local covariances, λ from the residuals of the whole network.
    """
    family = plans.FAMILIES[number]
    some = design.Design(*plans.plan(family, number), number)
    kinds = {
        kind: ratio
        for kind, _, ratio in printed.at_printed_size(some, np.random.default_rng(3), 1)
    }
    assert len(kinds) >= 2
    assert list(kinds.values()) == pytest.approx([1.0] * len(kinds), rel=1e-4)


def test_two_faults_are_named_only_by_two_groups():
    """One group that holds both says that one thing is wrong, not two."""
    assert surveys._each_named([1, 2], [{1, 2}, {2, 3}])
    assert not surveys._each_named([1, 2], [{1, 2}, {3}])
    assert not surveys._each_named([1, 2], [{1, 2}])


def test_a_goal_is_met_by_the_whole_of_the_interval():
    """Of 400 in 400 the lower end is 0.025^(1/400) = 99.08 %; of 100, 96.4 %."""
    assert shares.meets([True] * 400, least=0.99) == "met"
    assert shares.meets([True] * 100, least=0.99) == "open"
    assert shares.meets([True, False] * 100, least=0.99) == "not met"
    assert shares.meets([], least=0.99) == "not measured"


def test_residuals_of_clean_surveys_have_the_degrees_of_freedom():
    """An adjustment of its own residuals takes nothing more; E(vᵀPv) is r."""
    some = design.Design(*plans.plan("vectors", 0), 0)
    drawn = some.noise(np.random.default_rng(2), 400)
    assert some.left(drawn) == pytest.approx(drawn, abs=1e-6)
    mean = (drawn**2).sum(axis=0).mean()
    # Four standard deviations of the mean of 400 chi-squares.
    allowed = 4 * np.sqrt(2 * some.freedom / 400)
    assert mean == pytest.approx(some.freedom, abs=allowed)


def test_intervals_are_exact():
    """Rule of three, exactly: of 0 in n the upper end is 1 − 0.025^(1/n)."""
    assert counted.interval(0, 30)[1] == pytest.approx(1 - 0.025 ** (1 / 30), rel=1e-9)
    assert counted.interval(30, 30)[0] == pytest.approx(0.025 ** (1 / 30), rel=1e-9)
    low, high = counted.interval(5, 10)
    assert low == pytest.approx(1 - high, rel=1e-9)


def test_the_page_says_how_faults_happen(tally):
    text = counted.page(tally, 4, 1, 1.0, faults.WAYS, (3, 3, 3))
    assert "beside its mark in plan" in text
    assert "| all | 1.5× |" in text
    assert "Two faults at 3×" in text
    assert "3 of 3" in text
    # Four networks are too few for any number of surveys: the page says so itself.
    assert "300 surveys of every kind at least, 2,000 in all | 1 of" in text
    assert "| not met |" in text
    assert "| 4 on 1 in 1 s | not measured |" in text
