"""Circles wrongly oriented and numbers in the wrong unit, each named for what it is.

Foot 0.3048 m exactly (1959 agreement), US survey foot 1200/3937 m (Mendenhall order).
"""

import runpy
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from brasscap.adjust import estimate
from brasscap.adjust.causes import suspects
from brasscap.networks import Sights
from brasscap.networks.simulate import Blunder, simulate
from brasscap.reports.rounding import Units
from brasscap.reports.words_cause_size import size_text
from brasscap.reports.words_suspects_next import suspects_next

MAKERS = runpy.run_path(str(Path(__file__).parent / "make_examples"))
FOOT, SURVEY = 0.3048, 1200 / 3937
TURN = np.radians(60 / 3600)


@pytest.fixture(scope="module")
def plans():
    return {name: MAKERS["planned"](name) for name in ("harbour", "mill", "tramway")}


def first_group(network):
    found = suspects(estimate(network))
    members = found.groups[0].members
    return found, [(found.kind[m], found.about[m]) for m in members]


def test_a_height_in_feet_is_named_before_a_height_of_any_size(plans):
    feet = Blunder("set-up height in feet", "S3-ICE")
    found, group = first_group(simulate(plans["harbour"], seed=3, blunders=[feet]))
    assert group == [("unit", ("S3-ICE",)), ("set-up height", ("S3-ICE",))]
    assert found.words[0].endswith("a number in feet booked as metres")
    assert abs(found.size[0][0] - (1 - FOOT)) < 2.6 * found.sd_size[0][0]
    said = size_text(found.measure[0], found.size[0], found.sd_size[0], Units())
    assert said.startswith("to be × 0.3")
    assert suspects_next(found) == "brasscap show set-up S3-ICE"


def test_a_height_that_is_off_by_a_third_is_in_no_unit(plans):
    plan = plans["harbour"]
    height = plan.set_ups.height[plan.set_ups.name.index("S3-ICE")]
    off = Blunder("set-up height", "S3-ICE", (0.0, 0.0, height / 3))
    found, group = first_group(simulate(plan, seed=3, blunders=[off]))
    assert group == [("set-up height", ("S3-ICE",))]
    assert "unit" not in found.kind


def test_a_target_in_feet_though_lines_of_sight_bend(plans):
    """A metre of height over tens of metres bends by millimetres: twice their sd."""
    target = "target LOADING DOCK from T4"
    feet = Blunder("set-up height in feet", target)
    _, group = first_group(simulate(plans["mill"], seed=3, blunders=[feet]))
    assert group == [("unit", (target,)), ("target height", (target,))]


def test_a_target_on_another_mark_though_lines_of_sight_turn(plans):
    target = "target LOADING DOCK from T4"
    wrong = Blunder("set-up on wrong mark", target, other="WEIR WALL")
    found, group = first_group(simulate(plans["mill"], seed=3, blunders=[wrong]))
    assert group[0] == ("set-up on wrong mark", (target,))
    assert "on WEIR WALL in place of LOADING DOCK" in found.words[0]
    assert found.variance_factor_without[0] < 2


@pytest.mark.parametrize("name", ["harbour", "mill", "tramway"])
def test_nothing_is_in_another_unit_where_nothing_is(plans, name):
    found = suspects(estimate(simulate(plans[name], seed=4)))
    assert "unit" not in {cause.kind for cause in found.made.causes}


def test_one_foot_for_the_other_at_a_known_mark(plans):
    """2 ppm of the grid coordinates: one amount, simpler than a shift in plan.

    International feet taken as survey feet are too long by SURVEY / FOOT − 1 = 2.0e-6:
    at grid coordinates of hundreds of kilometres, more than a metre.
    """
    network = simulate(plans["harbour"], seed=3)
    known, frame = network.known, network.frame
    row = 1
    north, east, height = frame.grid(known.xyz[row : row + 1])[0]
    ratio = SURVEY / FOOT
    booked = frame.place(
        *(np.array([v]) for v in (north * ratio, east * ratio, height))
    )
    xyz = known.xyz.copy()
    xyz[row] = booked[0]
    found, group = first_group(replace(network, known=replace(known, xyz=xyz)))
    mark = network.marks.name[known.mark[row]]
    assert group[0] == ("unit", (mark,))
    assert "international feet converted as US survey feet" in found.words[0]
    assert found.size[0][0] == pytest.approx(1 - 1 / ratio, abs=3 * found.sd_size[0][0])
    said = size_text(found.measure[0], found.size[0], found.sd_size[0], Units())
    assert "ppm" in said


def test_a_session_of_vectors_in_feet(plans):
    network = simulate(plans["harbour"], seed=3)
    # Over kilometres lines of sight would have nothing to start from.
    network = replace(network, sights=())
    vectors = network.vectors
    session = network.sessions.index("S5")
    wrong = (vectors.session == session)[:, None]
    delta = np.where(wrong, vectors.delta / FOOT, vectors.delta)
    found, group = first_group(replace(network, vectors=replace(vectors, delta=delta)))
    assert group[0] == ("unit", ("S5",))
    assert found.size[0][0] == pytest.approx(1 - FOOT, abs=1e-4)


def test_a_levelled_section_in_feet(plans):
    network = simulate(plans["tramway"], seed=3)
    levels = network.levels
    wrong = np.array([name.split(" ")[0] == "T2" for name in levels.name])
    rise = np.where(wrong, levels.rise / FOOT, levels.rise)
    _, group = first_group(replace(network, levels=replace(levels, rise=rise)))
    assert ("unit", ("T2",)) in group


def turned(network, kind, pairs):
    """Return the network with some readings turned, given by instrument and target."""
    made = []
    for some in network.sights:
        value = some.value.copy()
        for i in range(len(some)):
            nodes = (network.node_name(some.at[i]), network.node_name(some.to[i]))
            if some.kind == kind and nodes in pairs:
                value[i] += TURN
        made.append(replace(some, value=value))
    return replace(network, sights=tuple(made))


def test_a_back_sight_to_a_wrong_mark_in_both_rounds(plans):
    network = simulate(plans["mill"], seed=3)
    pair = ("YARD 1 tripod", "P-CHIM")
    found, group = first_group(turned(network, "direction", {pair}))
    assert group[0] == ("circle orientation", pair)
    assert found.size[0][0] == pytest.approx(TURN, abs=4 * found.sd_size[0][0])


def as_angles(network, at, kind):
    """Return the network with the directions of a set-up read as azimuths or angles.

    Angles are from the first target of each round. Simulated again, they are read
    from the same geometry.
    """
    made = []
    for some in network.sights:
        if some.kind != "direction":
            made.append(some)
            continue
        mine = some.at == at
        rest = {name: getattr(some, name)[~mine] for name in _COLUMNS if name != "name"}
        keep = np.flatnonzero(~mine).tolist()
        names = tuple(some.name[i] for i in keep)
        made.append(Sights("direction", names, **rest))
        made.append(other_kind(some, np.flatnonzero(mine), kind))
    return replace(network, sights=tuple(made))


_COLUMNS = tuple(name for name in Sights.__dataclass_fields__ if name != "kind")


def other_kind(some, edges, kind):
    columns = {name: getattr(some, name)[edges] for name in _COLUMNS if name != "name"}
    columns["parameter"] = np.full((len(edges), 2), -1)
    back = columns["to"][0]
    if kind == "angle":
        keep = columns["to"] != back
        columns = {name: column[keep] for name, column in columns.items()}
        edges = edges[keep]
        columns["back"] = np.full(len(edges), back)
    return Sights(kind, tuple(some.name[i] for i in edges), **columns)


@pytest.mark.parametrize("kind", ["azimuth", "angle"])
def test_all_that_hangs_on_one_sight_turned(plans, kind):
    plan = plans["mill"]
    at = len(plan.marks) + plan.set_ups.name.index("YARD 1 tripod")
    network = simulate(as_angles(plan, at, kind), seed=3)
    made = []
    for some in network.sights:
        off = TURN if some.kind == kind else 0.0
        made.append(replace(some, value=some.value + off))
    found, group = first_group(replace(network, sights=tuple(made)))
    assert group[0][0] == "circle orientation"
    assert group[0][1][0] == "YARD 1 tripod"
    assert found.size[0][0] == pytest.approx(TURN, abs=4 * found.sd_size[0][0])


def test_a_round_turned_as_a_whole_is_no_error(plans):
    """Its circle zero is an unknown: by identity nothing changes but that."""
    network = simulate(plans["mill"], seed=3)
    name = network.parameters.name[0]
    first = network.parameters.kind.index("orientation")
    made = [
        replace(some, value=some.value + TURN * (some.parameter[:, 0] == first))
        if some.kind == "direction"
        else some
        for some in network.sights
    ]
    before = estimate(network)
    after = estimate(replace(network, sights=tuple(made)))
    assert after.vtpv == pytest.approx(before.vtpv, rel=1e-6), name
