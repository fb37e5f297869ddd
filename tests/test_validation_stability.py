"""The count of false alarms and of movements found, on a few pairs."""

import runpy
from pathlib import Path

import pytest

MADE = runpy.run_path(str(Path(__file__).parent / "validation" / "stability.py"))


def test_intervals_are_exact():
    """Of 0 in 10 the upper end is 1 − 0.025^(1/10); and, by symmetry, of all in 10."""
    low, high = MADE["interval"](0, 10)
    assert (low, high) == pytest.approx((0, 1 - 0.025**0.1))
    assert MADE["interval"](10, 10) == pytest.approx((1 - high, 1))


@pytest.mark.parametrize(
    ("claimed", "hits", "of", "said"),
    [
        (0.05, 101, 2000, "agrees"),
        (0.05, 125, 2000, "DIFFERS"),
        (0.05, 14, 200, "agrees, too few pairs to say ± 1 %"),
        (0.05, 60, 200, "DIFFERS"),
        (0.80, 1600, 2000, "agrees"),
        (0.80, 1400, 2000, "DIFFERS"),
        (None, 3, 4, "no claim"),
    ],
)
def test_a_share_is_held_to_its_claim(claimed, hits, of, said):
    assert MADE["word"](claimed, hits, of) == said


def test_a_few_pairs_of_the_smallest_example_are_counted():
    made = MADE["lines"]("tramway", 4)
    assert [(what.split(":")[0], of) for what, _, _, of in made[:2]] == [
        ("height", 4),
        ("height", 4),
    ]
    assert {claimed for _, claimed, _, _ in made} == {0.05, 0.80, None}
    assert "| height: nothing moved" in MADE["table"]("tramway", 4, made)
