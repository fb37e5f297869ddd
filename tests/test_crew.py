"""A crew's day by hand, and the best order against all orders."""

from itertools import permutations

import numpy as np
import pytest

from brasscap.adjust.design.crew import Crew, Task
from brasscap.adjust.design.day import day
from brasscap.adjust.design.day_order import best_order

# Four marks on a road, ten minutes from each to the next.
ROAD = 10.0 * np.abs(np.subtract.outer(np.arange(4), np.arange(4)))


def test_two_teams_and_one_vector_by_hand():
    """From mark 0 at 14:00: 10 and 20 min to drive, 15 to set up, 45 to log.

    The far team stands at 14:35, both log to 15:20, take down in 7.5 min and drive
    back 20 min: 15:47.5.
    """
    crew = Crew(2, 2, 840, 1080, home=0)
    made = day([Task((1, 2), 45)], crew, ROAD)
    assert made.finished == (920.0,)
    assert made.back == 947.5
    assert {(v.mark, v.arrive, v.ready, v.begin) for v in made.visits} == {
        (1, 850.0, 865.0, 875.0),
        (2, 860.0, 875.0, 875.0),
    }


def test_one_person_leaves_a_receiver_and_picks_it_up():
    """One team: 10 + 15 at mark 1, 10 + 15 at mark 2 (890), log to 935, down 942.5,
    back 10 min to mark 1, down 960, home 970.
    """
    made = day([Task((1, 2), 45)], Crew(2, 1, 840, 1080, home=0), ROAD)
    assert made.finished == (935.0,)
    assert {(v.mark, v.down) for v in made.visits} == {(2, 942.5), (1, 960.0)}
    assert made.back == 970.0


@pytest.mark.parametrize(
    "change",
    [
        {"end": 969.0},
        {"gate": 969.0},
        {"sunset": 959.0},
        {"receivers": 1},
    ],
)
def test_what_cannot_be_done_is_not_done(change):
    given = {"receivers": 2, "teams": 1, "start": 840.0, "end": 970.0, "home": 0}
    assert day([Task((1, 2), 45)], Crew(**given), ROAD) is not None
    assert day([Task((1, 2), 45)], Crew(**given | change), ROAD) is None


def test_windows_are_kept():
    crew = Crew(2, 2, 840, 1080, home=0)
    waits = day([Task((1, 2), 45, earliest=900)], crew, ROAD)
    assert waits.finished == (945.0,)
    assert day([Task((1, 2), 45, latest=915)], crew, ROAD) is None


def test_a_levelling_run_keeps_everybody_together():
    """10 min to mark 1, a run of an hour to mark 3, 30 min home."""
    made = day([Task((1, 3), 60, run=True)], Crew(2, 2, 840, 1080, home=0), ROAD)
    assert made.finished == (910.0,)
    assert made.back == 940.0
    assert len(made.visits) == 2


def test_the_worth_more_goes_first_unless_it_is_far():
    crew = Crew(2, 2, 840, 1080, home=0)
    near, far = Task((0, 1), 20), Task((2, 3), 20)
    (order, _) = best_order([near, far], [1.0, 100.0], crew, ROAD)
    assert order == (1, 0)
    (order, _) = best_order([near, far], [1.0, 1.0], crew, ROAD)
    assert order == (0, 1)


def test_more_tasks_than_are_tried_exactly_come_near_all_orders():
    """Seven tasks: moves and turns against 5 040 orders."""
    random = np.random.default_rng(2)
    places = random.uniform(0, 30, (8, 2))
    drive = np.linalg.norm(places[:, None] - places, axis=2)
    crew = Crew(2, 2, 0, 900, home=0, set_up=5)
    tasks = [
        Task(tuple(random.choice(8, 2, replace=False).tolist()), 10) for _ in range(7)
    ]
    worth = random.uniform(1, 5, 7).tolist()

    def value(order):
        made = day([tasks[k] for k in order], crew, drive)
        if made is None:
            return 0.0
        done = zip(order, made.finished, strict=True)
        return sum(worth[k] * (crew.end - at) for k, at in done)

    order, _ = best_order(tasks, worth, crew, drive)
    best = max(value(p) for p in permutations(range(7)))
    assert value(order) >= 0.97 * best


def test_who_sets_up_the_instrument_stays_with_it():
    """One team, targets on marks 1 and 2, instrument on 0: it is set up last.

    Home at 0; 10 minutes between any two marks, 10 to set up: at 1 ready at 20, at 2
    at 40, at 0 at 60.
    """
    road = np.full((3, 3), 10.0)
    crew = Crew(1, 1, 0, 900, home=0, set_up=10)
    made = day([Task((0, 1, 2), 30, sighted=True)], crew, road)
    ready = {visit.mark: visit.ready for visit in made.visits}
    assert ready == {1: 20.0, 2: 40.0, 0: 60.0}
    assert made.visits[0].begin == 60.0
    down = {visit.mark: visit.down for visit in made.visits}
    assert down[0] == min(down.values()) == 95.0
