"""Terrestrial observations and levels: partials, signs, what leaves them free."""

from dataclasses import replace

import numpy as np
import pytest

from brasscap.adjust import estimate
from brasscap.adjust.datum import datum
from brasscap.adjust.equations import equations
from brasscap.adjust.equations.known_marks import known_minus
from brasscap.adjust.judge import blunder_tests, known_minus_survey
from brasscap.adjust.nodes import nodes_at
from brasscap.networks import (
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
    Undulations,
    Vectors,
)
from brasscap.networks.covariances import single
from brasscap.networks.simulate import simulate
from brasscap.networks.simulate.field import field_of
from brasscap.networks.simulate.readings import levels_read, sights_read

GEODETIC = GeodeticFrame(7912, 2020.0)
KINDS = (
    "slope distance",
    "horizontal distance",
    "direction",
    "angle",
    "azimuth",
    "zenith angle",
)
ARCSEC = np.pi / 180 / 3600


def site(frame):
    """Return four marks a few hundred metres apart, (4, 3) cartesian."""
    if isinstance(frame, LocalFrame):
        return np.array(
            [[0.0, 0, 100], [300, 40, 112], [120, 400, 95], [-80, 210, 108]]
        )
    return frame.cartesian(
        np.array(
            [
                [46.0, 9.0, 400.0],
                [46.0004, 9.004, 430.0],
                [46.0036, 9.0015, 380.0],
                [46.0019, 8.999, 415.0],
            ]
        )
    )


def every_kind(frame, seed=1):
    """Return a network with one or more sights of every kind, values made up."""
    random = np.random.default_rng(seed)
    xyz = site(frame)
    kinds = tuple(sights(kind, random) for kind in KINDS)
    parameters = Parameters(
        (
            "orientation",
            "constant",
            "scale",
            "refraction",
            "N",
            "vectors 1",
            "vectors 2",
            "shift east",
            "shift north",
            "shift up",
        ),
        (
            "orientation",
            "distance constant",
            "distance scale",
            "refraction",
            "undulation",
            "vector scale",
            "vector turn",
            *["position shift"] * 3,
        ),
        np.array([0.3, 0.002, 4e-6, 0.13, 47.0, 3e-6, 0.4, 0.02, -0.03, 0.05]),
        np.array([np.nan, 0.002, 3e-6, 0.10, 0.005, 1e-6, 0.1, 0.01, 0.01, 0.01]),
    )
    four = np.arange(4)
    blank = ("",) * 4
    return Network(
        frame,
        Marks(("A", "B", "C", "D"), xyz, blank, blank, four),
        SetUps(
            ("T",),
            np.array([0]),
            ("tripod",),
            np.array([-1]),
            np.array([1.6]),
            np.array([[0.01, -0.02]]),
            np.array([0.001]),
            np.array([0.0015]),
            ("",),
            ("",),
            ("",),
            np.array([2]),
        ),
        vectors(),
        no_positions(),
        known(xyz, ("held", "held", "", "")),
        sights=kinds,
        levels=levels(),
        parameters=parameters,
    )


def sights(kind, random):
    # From the set-up over A (node 4) to B, C, D, and from B to A.
    at, to = np.array([4, 4, 4, 1]), np.array([1, 2, 3, 0])
    back = np.array([2, 3, 1, 3]) if kind == "angle" else np.full(4, -1)
    parameter = np.full((4, 2), -1)
    if kind == "direction":
        parameter[:3, 0] = 0
    elif kind.endswith("distance"):
        parameter[:] = [1, 2]
    elif kind == "zenith angle":
        parameter[:3, 0] = 3
    length = kind.endswith("distance")
    return Sights(
        kind, tuple(f"{kind} {i}" for i in range(4)), at, to, back,
        np.array([1.6, 1.6, 1.6, 1.5]), random.uniform(1.2, 2.0, 4),
        random.uniform(1.2, 2.0, 4),
        random.uniform(100, 400, 4) if length else random.uniform(0, 3, 4),
        np.full(4, 0.002 if length else 3 * ARCSEC), parameter, np.full(4, 0.13),
        # A direction from another mark has no part in this round.
        np.array([True, True, True, kind != "direction"]), np.arange(4) + 2,
    )  # fmt: skip


def levels():
    return Levels(
        ("L1", "L2"), np.array([0, 1]), np.array([1, 2]), np.array([12.0, -17.0]),
        np.array([0.001, 0.002]), np.array([47.0, 47.1]), np.array([47.1, 47.2]),
        np.array([[4, -1], [-1, -1]]), np.ones(2, dtype=bool), np.array([2, 3]),
    )  # fmt: skip


def vectors():
    """Return one vector of a group with a scale and a turn of its own."""
    return Vectors(
        ("V1",), np.array([4]), np.array([2]), np.array([[1.0, 2, 3]]),
        np.array([1.6]), np.array([0.4]), single(1e-4 * np.eye(3)[None]),
        np.array([-1]), np.array([-1]), np.ones(1, dtype=bool), np.array([2]),
        np.array([[5, 6]]),
    )  # fmt: skip


def no_vectors():
    some = vectors()
    return replace(some, used=np.zeros(1, dtype=bool))


def a_position(xyz):
    """Return one position over the set-up, of a group with a shift of its own."""
    return Positions(
        ("P1",), np.array([4]), xyz[:1] + np.array([0.1, 0.2, 1.7]), np.array([1.6]),
        np.ones((1, 3), dtype=bool), single(1e-4 * np.eye(3)[None]), np.array([0]),
        np.ones(1, dtype=bool), np.array([2]), np.array([[7, 8, 9]]),
    )  # fmt: skip


def no_positions():
    none = np.zeros(0, dtype=np.int64)
    return Positions(
        (), none, np.zeros((0, 3)), np.zeros(0), np.zeros((0, 3), dtype=bool), (),
        none, np.zeros(0, dtype=bool), none,
    )  # fmt: skip


def known(xyz, use, components=(True, True, True)):
    rows = np.flatnonzero([bool(u) for u in use])
    n = len(rows)
    return KnownMarks(
        rows, xyz[rows], np.tile(np.array(components), (n, 1)),
        tuple(use[i] for i in rows), tuple(use[i] for i in rows),
        single(np.full((n, 3, 3), np.nan)), ("",) * n, np.ones(n, dtype=bool), rows + 2,
    )  # fmt: skip


def moved(network, nodes, node, component, step):
    """Return the nodes with one component of one node moved, axes laid anew."""
    shift = np.zeros((len(nodes.xyz) + len(nodes.values), 3))
    shift[node, component] = step
    xyz, values = nodes.moved(shift)
    marks = len(network.marks)
    return nodes_at(network, xyz[:marks], xyz[marks:], values)


@pytest.mark.parametrize("frame", [LocalFrame(), GEODETIC], ids=["flat", "geodetic"])
def test_partials_equal_central_differences(frame):
    """Every kind that can be adjusted has a sample here, and its partials hold.

    A set-up has the axes of its mark, so a shift of the set-up alone turns nothing;
    its partials carry the turn all the same, as it never moves alone: the tolerance
    of its rows is the turn, its arm over the earth's radius.
    """
    network = every_kind(frame)
    network = replace(network, positions=a_position(network.marks.approximate))
    hold = datum(network, "constrained")
    nodes = nodes_at(network, network.marks.approximate)
    system = equations(network, hold, nodes)
    kinds = {some.kind for some in system}
    others = {"baseline", "position", "set-up", "level difference", "parameter"}
    assert kinds == {*KINDS, *others}
    for some in system:
        for edge in np.flatnonzero(some.used).tolist():
            for slot, node in enumerate(some.node[edge].tolist()):
                if node >= 0:
                    check(network, hold, nodes, some, edge, slot, node)


def check(network, hold, nodes, some, edge, slot, node):
    step = 0.01 if node < len(nodes.xyz) else 1e-3
    places = len(nodes.xyz)
    for component in range(3 if node < places else 1):
        found = []
        for sign in (1, -1):
            there = moved(network, nodes, node, component, sign * step)
            again = next(
                e for e in equations(network, hold, there) if e.kind == some.kind
            )
            found.append(-again.misclosure[edge])
        numeric = (found[0] - found[1]) / (2 * step)
        partial = some.design[edge, :, slot, component]
        scale = np.abs(some.design[edge]).max()
        alone = len(network.marks) <= node < places
        tolerance = 2e-4 if alone or some.kind == "set-up" else 2e-7
        if some.kind in ("baseline", "position") and alone:
            # The vertical of a set-up is its mark's: 1.6 m / 6,371 km.
            tolerance = 3e-7
        np.testing.assert_allclose(
            partial,
            numeric,
            rtol=0,
            atol=tolerance * scale,
            err_msg=f"{some.kind}, edge {edge}, node {node}, component {component}",
        )


def with_true_values(network):
    """Return the network with the values that its marks and parameters give."""
    nodes = nodes_at(network, network.marks.approximate)
    made = {
        some.kind: some
        for some in equations(network, datum(network, "constrained"), nodes)
    }
    sights = tuple(
        replace(some, value=some.value - made[some.kind].misclosure[:, 0])
        for some in network.sights
    )
    rises = replace(
        network.levels,
        rise=network.levels.rise - made["level difference"].misclosure[:, 0],
    )
    delta = network.vectors.delta - made["baseline"].misclosure
    return replace(
        network,
        sights=sights,
        levels=rises,
        vectors=replace(network.vectors, delta=delta),
    )


@pytest.mark.parametrize("frame", [LocalFrame(), GEODETIC], ids=["flat", "geodetic"])
def test_true_values_bring_the_marks_back(frame):
    """Started 2 m and 20 mm beside, the marks come back to their places."""
    network = with_true_values(every_kind(frame))
    beside = network.marks.approximate.copy()
    beside[2:] += [2.0, -1.0, 0.02]
    shifted = replace(network, marks=replace(network.marks, approximate=beside))
    made = estimate(shifted)
    np.testing.assert_allclose(
        made.nodes.xyz[:4], network.marks.approximate, rtol=0, atol=1e-7
    )
    assert made.vtpv < 1e-6


def sights_alone(known_use=("held", "held", "", "")):
    """Return directions, distances, zenith angles and levels on a flat site."""
    # An eccentric set-up would turn the plan by its own small arm.
    every = every_kind(LocalFrame())
    centred = replace(every.set_ups, eccentricity=np.zeros((1, 2)))
    network = with_true_values(replace(every, set_ups=centred))
    kept = ("slope distance", "direction", "zenith angle")
    return replace(
        network,
        vectors=no_vectors(),
        sights=tuple(some for some in network.sights if some.kind in kept),
        known=known(network.marks.approximate, known_use),
    )


def test_a_minimal_solution_of_sights_holds_one_mark_and_one_azimuth():
    network = sights_alone()
    minimal = estimate(network, "minimal")
    assert minimal.datum.text == "A and azimuth A – B held, all else free"
    np.testing.assert_allclose(
        minimal.nodes.xyz[:4], network.marks.approximate, rtol=0, atol=1e-7
    )
    # B moves along the held azimuth only.
    covariance = minimal.covariance(np.array([1]), np.array([1]))[0]
    line = network.marks.approximate[1] - network.marks.approximate[0]
    across = np.array([line[1], -line[0], 0.0])
    assert across @ covariance @ across < 1e-12 * np.trace(covariance) * (line @ line)


def test_free_and_minimal_solutions_of_sights_have_the_same_residuals():
    network = sights_alone()
    off = replace(
        network,
        sights=tuple(
            replace(some, value=some.value + 2 * some.sd * (-1) ** np.arange(4))
            for some in network.sights
        ),
    )
    minimal, free = estimate(off, "minimal"), estimate(off, "free", over="all")
    for kind, residuals in minimal.residuals.items():
        np.testing.assert_allclose(
            residuals, free.residuals[kind], rtol=0, atol=1e-10, err_msg=kind
        )
    assert minimal.degrees_of_freedom == free.degrees_of_freedom
    # Laid on its own marks, the sum of all variances is the least of all datums.
    four = np.arange(4)
    sums = [
        np.trace(made.covariance(four, four).sum(axis=0)) for made in (free, minimal)
    ]
    assert sums[0] < sums[1]


def test_one_known_mark_and_no_azimuth_leaves_a_turn():
    network = sights_alone(("held", "", "", ""))
    with pytest.raises(NoSolution) as caught:
        estimate(network)
    assert "turn about the vertical" in caught.value.freedoms


def test_a_wrong_distance_is_named_with_its_sign():
    network = sights_alone()
    slopes = network.sights[0]
    value = slopes.value.copy()
    value[0] += 0.030
    wrong = replace(network, sights=(replace(slopes, value=value), *network.sights[1:]))
    tests = blunder_tests(estimate(wrong))
    row = int(tests.order()[0])
    assert (tests.kind[row], tests.name[row]) == ("slope distance", "slope distance 0")
    assert tests.measure[row] == "m"
    assert tests.tests.shift[row, 0] == pytest.approx(0.030, abs=0.004)


@pytest.mark.parametrize("azimuth", [0.0, 40.0, 200.0])
def test_an_instrument_sees_from_its_plumb_line(azimuth):
    """Astronomic minus geodetic, in the closed forms of the geodesy texts.

    Zenith angle: −(ξ cos α + η sin α). Azimuth: η tan φ + (ξ sin α − η cos α) cot z.
    (Heiskanen and Moritz, Physical Geodesy, section 5; from memory.)
    """
    north, east = 8 * ARCSEC, -12 * ARCSEC
    network = every_kind(GEODETIC)
    alpha = np.radians(azimuth)
    axes = GEODETIC.axes(network.marks.approximate[:1])[0]
    way = np.array([np.sin(alpha), np.cos(alpha), 0.2])
    there = network.marks.approximate[0] + 500 * way @ axes
    marks = network.marks.approximate.copy()
    marks[1] = there
    plain = replace(network, marks=replace(network.marks, approximate=marks))
    leaning = np.tile([north, east], (4, 1))
    bent = replace(plain, marks=replace(plain.marks, deflection=leaning))
    difference = {}
    for kind in ("azimuth", "zenith angle"):
        values = []
        for some in (bent, plain):
            hold = datum(some, "constrained")
            nodes = nodes_at(some, some.marks.approximate)
            system = {e.kind: e for e in equations(some, hold, nodes)}
            values.append(-system[kind].misclosure[0, 0])
        difference[kind] = (values[0] - values[1]) / ARCSEC
    cot = 0.2
    latitude = np.radians(46.0)
    by_zenith = -(8 * np.cos(alpha) - 12 * np.sin(alpha))
    by_azimuth = -12 * np.tan(latitude)
    by_azimuth += (8 * np.sin(alpha) + 12 * np.cos(alpha)) * cot
    assert difference["zenith angle"] == pytest.approx(by_zenith, abs=0.1)
    assert difference["azimuth"] == pytest.approx(by_azimuth, abs=0.1)


def with_undulations(network):
    """Return the network with three benchmarks on a geoid that is shifted and tilted.

    The slopes are far steeper than any geoid's, so that their partials show.
    """
    xyz, count = network.marks.approximate, len(network.parameters)
    ways = network.frame.axes(xyz.mean(axis=0)[None])[0, :2]
    own = network.parameters
    parameters = Parameters(
        (*own.name, "shift", "tilt east", "tilt north"),
        (*own.kind, "undulation shift", "undulation tilt", "undulation tilt"),
        np.append(own.start, [0.7, 5e-3, -8e-3]),
        np.append(own.sd, [np.nan] * 3),
    )
    benchmarks = replace(
        known(xyz, ("held", "weighted", "weighted", "weighted")),
        covariances=single(np.tile(1e-4 * np.eye(3), (4, 1, 1))),
        orthometric=np.array([False, True, True, True]),
    )
    return replace(
        network,
        known=benchmarks,
        parameters=parameters,
        undulations=Undulations(
            np.full(4, 47.0),
            np.zeros(4),
            common=(count, count + 1, count + 2),
            middle=xyz.mean(axis=0),
            ways=ways,
        ),
    )


@pytest.mark.parametrize("frame", [LocalFrame(), GEODETIC], ids=["flat", "geodetic"])
def test_partials_with_undulations_that_tilt(frame):
    network = with_undulations(every_kind(frame))
    hold = datum(network, "constrained")
    nodes = nodes_at(network, network.marks.approximate)
    checked = 0
    for some in equations(network, hold, nodes):
        if some.kind in ("known mark", "level difference"):
            for edge in np.flatnonzero(some.used).tolist():
                for slot, node in enumerate(some.node[edge].tolist()):
                    if node >= 0:
                        checked += node >= len(nodes.xyz)
                        check(network, hold, nodes, some, edge, slot, node)
    # Three parameters of three benchmarks, two of two levels, an undulation of one.
    assert checked == 9 + 4 + 1


def with_first_value(network, kind, value):
    """Return the network with another value of the first sight of a kind."""
    changed = []
    for some in network.sights:
        booked = some.value.copy()
        if some.kind == kind:
            booked[0] = value
        changed.append(replace(some, value=booked))
    return replace(network, sights=tuple(changed))


@pytest.mark.parametrize("value", [np.nan, np.inf, 1e200])
@pytest.mark.parametrize("kind", ["slope distance", "zenith angle"])
def test_a_value_that_is_no_number_is_named(kind, value):
    wild = with_first_value(sights_alone(), kind, value)
    with pytest.raises(NoSolution, match=f"{kind} 0 has no value"):
        estimate(wild)


@pytest.mark.parametrize("frame", [LocalFrame(), GEODETIC], ids=["flat", "geodetic"])
@pytest.mark.parametrize("value", [1e6, 1e8])
def test_marks_thousands_of_kilometres_off_end_in_words(frame, value):
    """Whatever overflows on the way: no warning, which the tests make an error."""
    wild = with_first_value(
        with_true_values(every_kind(frame)), "slope distance", value
    )
    with pytest.raises(NoSolution, match="does not settle") as caught:
        estimate(wild)
    assert "slope distance 0" in str(caught.value)


@pytest.mark.parametrize("frame", [LocalFrame(), GEODETIC], ids=["flat", "geodetic"])
def test_plumb_lines_and_undulations_by_a_second_way(frame):
    """What is computed equals what the simulation reads, which is written apart.

    There the axes of the instrument are built from its zenith and the earth's pole,
    not turned by a small angle: they differ by squares of 1.2″, 3.4e-11 rad.
    """
    network = with_undulations(every_kind(frame))
    leaning = np.tile([0.8 * ARCSEC, -0.6 * ARCSEC], (4, 1))
    # Beside its mark an instrument would have a meridian of its own.
    centred = replace(network.set_ups, eccentricity=np.zeros((1, 2)))
    marks = replace(network.marks, deflection=leaning)
    network = replace(network, marks=marks, set_ups=centred)
    nodes = nodes_at(network, network.marks.approximate)
    nodes = replace(nodes, values=np.nan_to_num(nodes.values))
    field = field_of(network, nodes.xyz, nodes.values)
    system = {
        some.kind: some
        for some in equations(network, datum(network, "constrained"), nodes)
    }
    for some in network.sights:
        apart = (
            some.value - system[some.kind].misclosure[:, 0] - sights_read(field, some)
        )
        if not some.kind.endswith("distance"):
            apart = np.mod(apart + np.pi, 2 * np.pi) - np.pi
        size = 500 if some.kind.endswith("distance") else 1
        np.testing.assert_allclose(apart, 0, atol=2e-10 * size, err_msg=some.kind)
    rises = network.levels.rise - system["level difference"].misclosure[:, 0]
    np.testing.assert_allclose(
        rises, levels_read(field, network.levels), rtol=0, atol=1e-8
    )
    # A noise that is none: known heights above the geoid come back as they are.
    exact = replace(
        network, known=replace(network.known, covariances=single(np.zeros((4, 3, 3))))
    )
    again = simulate(exact, seed=1, truth=network.marks.approximate)
    here = known_minus(again, nodes)
    np.testing.assert_allclose(here[:, 2], 0, atol=1e-8)


def test_a_free_network_turned_onto_known_marks_keeps_its_residuals():
    """Known B is half a metre off across the line: a turn, and no growth."""
    network = sights_alone()
    xyz = network.known.xyz.copy()
    line = xyz[1] - xyz[0]
    xyz[1] += 0.5 * np.array([-line[1], line[0], 0.0]) / np.hypot(line[0], line[1])
    turned = replace(network, known=replace(network.known, xyz=xyz))
    free, minimal = estimate(turned, "free"), estimate(turned, "minimal")
    assert free.vtpv == pytest.approx(minimal.vtpv, abs=1e-6)


def test_a_free_network_on_unknown_marks_is_not_compared_with_known_ones():
    network = sights_alone()
    assert not known_minus_survey(estimate(network, "free", over="all")).station
    assert known_minus_survey(estimate(network, "free", over="known")).station


def test_the_held_azimuth_is_held_where_the_plumb_line_leans():
    every = every_kind(GEODETIC)
    centred = replace(every.set_ups, eccentricity=np.zeros((1, 2)))
    leaning = np.tile([8 * ARCSEC, -12 * ARCSEC], (4, 1))
    marks = replace(every.marks, deflection=leaning)
    network = with_true_values(replace(every, set_ups=centred, marks=marks))
    kept = ("slope distance", "direction", "zenith angle")
    alone = replace(
        network,
        vectors=no_vectors(),
        sights=tuple(some for some in network.sights if some.kind in kept),
    )
    made = estimate(alone, "minimal")
    np.testing.assert_allclose(
        made.nodes.xyz[:4], network.marks.approximate, rtol=0, atol=1e-6
    )
