"""What would part two causes: rounds and second set-ups, against the equations.

A candidate must do what the same observation does once it is made: the rows of a
fresh round are those of the adjustment's own equations (identity), and a height that
one set-up alone carries is parted from a known height by setting up anew.
"""

import runpy
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from brasscap.adjust import estimate
from brasscap.adjust.causes.fresh import (
    SET_UP,
    Candidate,
    again_from,
    candidates_near,
    whitened_rows,
)
from brasscap.adjust.causes.parting import best_parting
from brasscap.adjust.causes.screening import causes_made
from brasscap.networks.simulate import Blunder, simulate

MAKERS = runpy.run_path(str(Path(__file__).parent / "make_examples"))
ANGLES = (1e-5, 2e-5)


@pytest.fixture(scope="module")
def mill():
    return estimate(simulate(MAKERS["planned"]("mill"), seed=3))


@pytest.fixture(scope="module")
def harbour():
    return estimate(simulate(MAKERS["planned"]("harbour"), seed=3))


def differences(adjustment, marks):
    """Return partials of distance, azimuth, zenith angle from mark to mark."""
    nodes, step = adjustment.nodes, 0.01

    def read(places):
        rows = []
        for end in marks[1:]:
            line = nodes.axes[marks[0]] @ (places[end] - places[marks[0]])
            level = np.hypot(line[0], line[1])
            rows += [
                np.linalg.norm(line),
                np.arctan2(line[0], line[1]),
                np.arctan2(level, line[2]),
            ]
        return np.array(rows)

    made = np.zeros((3 * (len(marks) - 1), len(marks), 3))
    for k, mark in enumerate(marks):
        for way in range(3):
            moved = [nodes.xyz.copy(), nodes.xyz.copy()]
            for sign, places in zip((1, -1), moved, strict=True):
                places[mark] += sign * step * nodes.axes[mark, way]
            turn = read(moved[0]) - read(moved[1])
            made[:, k, way] = turn / (2 * step)
    return made


def test_a_round_is_whitened_as_its_own_noise_says(mill):
    """Rᵀ R of the rows is Aᵀ C⁻¹ A with the fresh set-ups and the circle in C."""
    marks = (0, 1, 3)
    one = Candidate(
        "", "total-station round", 0, 1, 0.002, np.nan, np.nan, (3,), ANGLES
    )
    partials = differences(mill, marks)
    noise = np.diag(np.tile(np.square([0.002, *ANGLES]), 2))
    for k in range(3):
        node = partials[:, k] * [SET_UP[0], SET_UP[0], SET_UP[1]]
        noise += node @ node.T
    circle = np.tile([0.0, 1.0, 0.0], 2)
    noise += np.outer(circle, circle)
    flat = partials.reshape(6, -1)
    theirs = flat.T @ np.linalg.inv(noise) @ flat
    mine = whitened_rows(mill, one).reshape(6, -1)
    scale = np.abs(theirs).max()
    assert mine.T @ mine == pytest.approx(theirs, abs=1e-5 * scale)


def test_a_turn_of_all_targets_is_not_seen_by_a_round(mill):
    """Its circle zero is free: turned about the instrument, targets look the same."""
    one = Candidate(
        "", "total-station round", 0, 1, 0.002, np.nan, np.nan, (3,), ANGLES
    )
    nodes, turn = mill.nodes, np.zeros((3, 3))
    for k, mark in enumerate((1, 3), start=1):
        line = nodes.axes[0] @ (nodes.xyz[mark] - nodes.xyz[0])
        turn[k] = [line[1], -line[0], 0.0]
    seen = np.einsum("rki,ki->r", whitened_rows(mill, one), turn)
    # One radian of turn against a circle known to one radian.
    assert np.linalg.norm(seen) == pytest.approx(1.0, rel=1e-3)


def test_a_levelled_run_sees_heights_alone(mill):
    rows = whitened_rows(mill, Candidate("", "levelled run", 0, 1, np.nan, 0.002))
    assert rows.tolist() == [[[0, 0, -500], [0, 0, 500]]]


def test_a_second_set_up_is_its_vectors_with_one_start(harbour):
    """Two vectors of one fresh tripod share its noise: less than two tripods see."""
    both = Candidate("", "second set-up", 0, 1, 0.003, 0.006, np.nan, (2,))
    singly = [Candidate("", "baseline", 0, k, 0.003, 0.006) for k in (1, 2)]
    flat = whitened_rows(harbour, both).reshape(6, -1)
    single = sum(
        np.linalg.norm(whitened_rows(harbour, one)[:, 0] @ [0, 0, 1]) ** 2
        for one in singly
    )
    joint = np.linalg.norm(flat[:, :3] @ [0, 0, 1]) ** 2
    start, end = SET_UP[1] ** 2, 0.006**2 + SET_UP[1] ** 2
    # By hand: 2 / (start + end) of two tripods, 2 / (2 start + end) of one.
    assert single == pytest.approx(2 / (start + end), rel=1e-4)
    assert joint == pytest.approx(2 / (2 * start + end), rel=1e-4)


def test_what_is_proposed_near_a_mark_is_what_the_job_can_do(mill, harbour):
    kinds = {one.kind for one in candidates_near(mill, [4])}
    assert kinds == {"levelled run", "total-station round", "second set-up"}
    kinds = {one.kind for one in candidates_near(harbour, [3])}
    assert kinds == {"baseline", "total-station round", "second set-up"}
    for one in again_from(mill, 4):
        assert len(set(one.marks)) == len(one.marks) > 2


def test_a_second_set_up_tells_its_height_from_that_of_the_mark():
    """What is observed so badly that it says nothing parts nothing."""
    plan = MAKERS["planned"]("harbour")
    wrong = Blunder("set-up height", "S2-PIL", (0.0, 0.0, 0.05))
    adjustment = estimate(simulate(plan, seed=3, blunders=[wrong]))
    made = causes_made(adjustment)
    both = [("set-up height", ("S2-PIL",)), ("known mark height", ("PILOT POINT",))]
    keys = [(cause.kind, cause.about) for cause in made.causes]
    pair = keys.index(both[0]), keys.index(both[1])
    joint = made.joint(made.rows.misclosure)
    again = again_from(adjustment, made.causes[pair[0]].marks[0])
    best = best_parting(adjustment, made, joint, pair, again)
    assert best is not None
    assert best.after > best.before + 0.1
    blind = [replace(one, sd_plan=1e3, sd_height=1e3) for one in again]
    assert best_parting(adjustment, made, joint, pair, blind) is None
