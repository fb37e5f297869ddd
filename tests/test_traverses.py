"""Traverses: misclosures of a figure that can be drawn on squared paper."""

from pathlib import Path

import numpy as np
import pytest

from brasscap.io.tables.load import load
from brasscap.networks import (
    KnownMarks,
    LocalFrame,
    Marks,
    Network,
    Positions,
    SetUps,
    Sights,
    Vectors,
)
from brasscap.networks.covariances import single
from brasscap.networks.traverses import find_traverses

ARCSEC = np.pi / 180 / 3600
# Back mark due south of the start, P and Q between, onward mark due east of the end.
PLACES = {
    "BACK": (0.0, -200.0, 0.0),
    "START": (0.0, 0.0, 0.0),
    "P": (0.0, 100.0, 0.0),
    "Q": (100.0, 100.0, 0.0),
    "END": (100.0, 200.0, 0.0),
    "ON": (300.0, 200.0, 0.0),
}
NAMES = tuple(PLACES)
NUMBER = {name: i for i, name in enumerate(NAMES)}
XYZ = np.array(list(PLACES.values()))


def ints(*values):
    return np.array(values, dtype=np.int64)


def sights(kind, rows, parameter=-1):
    """Return sights of rows (at, to, back, value, sd), the marks by name."""
    n = len(rows)
    numbers = [[NUMBER.get(name, -1) for name in row[:3]] for row in rows]
    parameters = np.full((n, 2), -1)
    if kind == "direction":
        parameters[:, 0] = [NUMBER[row[0]] for row in rows]
    return Sights(
        kind, tuple(f"{kind} {i}" for i in range(n)), ints(*(r[0] for r in numbers)),
        ints(*(r[1] for r in numbers)), ints(*(r[2] for r in numbers)), np.zeros(n),
        np.zeros(n), np.zeros(n), np.array([row[3] for row in rows], dtype=float),
        np.array([row[4] for row in rows], dtype=float), parameters,
        np.full(n, 0.13), np.ones(n, dtype=bool), np.arange(n) + 2,
    )  # fmt: skip


def network_of(*some, known=("BACK", "START", "END", "ON")):
    none, k = np.zeros(0), len(known)
    rows = ints(*(NUMBER[name] for name in known))
    blank = ("",) * len(NAMES)
    return Network(
        LocalFrame(),
        Marks(NAMES, np.full((6, 3), np.nan), blank, blank, np.arange(6)),
        SetUps(
            (), ints(), (), ints(), none, np.zeros((0, 2)), none, none, (), (), (),
            ints(),
        ),
        Vectors(
            (), ints(), ints(), np.zeros((0, 3)), none, none, (), ints(), ints(),
            np.zeros(0, dtype=bool), ints(),
        ),
        Positions(
            (), ints(), np.zeros((0, 3)), none, np.zeros((0, 3), dtype=bool), (),
            ints(), np.zeros(0, dtype=bool), ints(),
        ),
        KnownMarks(
            rows, XYZ[rows], np.ones((k, 3), dtype=bool), ("held",) * k, ("held",) * k,
            single(np.full((k, 3, 3), np.nan)), ("",) * k, np.ones(k, dtype=bool),
            np.arange(k) + 2,
        ),
        sights=tuple(some),
    )  # fmt: skip


def angles(*errors):
    """Return the four angles, clockwise from the back sight, each with 3 arcsec."""
    turns = [
        ("START", "P", "BACK", 180.0),
        ("P", "Q", "START", 270.0),
        ("Q", "END", "P", 90.0),
        ("END", "ON", "Q", 270.0),
    ]
    return sights(
        "angle",
        [
            (at, to, back, np.radians(turn) + error * ARCSEC, 3 * ARCSEC)
            for (at, to, back, turn), error in zip(turns, errors, strict=True)
        ],
    )


def distances(*errors, kind="horizontal distance", factor=1.0):
    """Return the three sides of 100 m, errors in m."""
    sides = [("START", "P"), ("Q", "P"), ("Q", "END")]
    return sights(
        kind,
        [
            (at, to, "", factor * (100 + error), 0.002)
            for (at, to), error in zip(sides, errors, strict=True)
        ],
    )


def test_without_errors_it_closes():
    (found,) = find_traverses(network_of(angles(0, 0, 0, 0), distances(0, 0, 0)))
    assert [NAMES[m] for m in found.marks] == ["START", "P", "Q", "END"]
    assert (NAMES[found.back], NAMES[found.onward]) == ("BACK", "ON")
    assert found.angular == pytest.approx(0, abs=1e-14)
    assert found.linear == pytest.approx(0, abs=1e-10)
    assert found.length == pytest.approx(300)
    # Four angles of 3 arcsec: √4 · 3.
    assert found.sd_angular == pytest.approx(6 * ARCSEC)


def test_misclosures_by_hand():
    """The middle side 20 mm too long: east 20 mm, 1 : 15 001.

    The angles add up to +4 − 1 + 2 + 7 = 12 arcsec, 6 for each √N of four: third
    order class I allows 10, second order class II 4.5 (FGCC 1984, from memory).
    """
    (found,) = find_traverses(network_of(angles(0, 0, 0, 0), distances(0, 0.020, 0)))
    assert found.east == pytest.approx(0.020, abs=1e-10)
    assert found.north == pytest.approx(0, abs=1e-10)
    assert found.ratio == pytest.approx(300.020 / 0.020, rel=1e-6)
    (found,) = find_traverses(network_of(angles(4, -1, 2, 7), distances(0, 0, 0)))
    assert found.angular == pytest.approx(12 * ARCSEC, rel=1e-9)
    assert (found.angles, found.angular_class) == (4, "third I")


def test_a_first_angle_too_large_swings_all_that_follows():
    """10 arcsec about the start: 200 m north of it, east by 200 m · 10 arcsec."""
    (found,) = find_traverses(network_of(angles(10, 0, 0, 0), distances(0, 0, 0)))
    assert found.east == pytest.approx(200 * 10 * ARCSEC, rel=1e-4)
    assert found.north == pytest.approx(-100 * 10 * ARCSEC, rel=1e-4)


def test_directions_and_slopes_give_the_same():
    """Circles set anyhow; slopes with a zenith angle of 60°, sin 60° = √3 / 2."""
    turned = {"START": 0.7, "P": 6.1, "Q": 3.0, "END": 2.0}
    circles = []
    for at, zero in turned.items():
        for to in NAMES:
            east, north, _ = XYZ[NUMBER[to]] - XYZ[NUMBER[at]]
            if to != at and abs(east * north) < 1 and np.hypot(east, north) < 201:
                value = np.arctan2(east, north) - zero
                circles.append((at, to, "", value % (2 * np.pi), 3 * ARCSEC))
    slopes = distances(0, 0.020, 0, kind="slope distance", factor=2 / np.sqrt(3))
    zenith = sights(
        "zenith angle",
        [
            (at, to, "", np.pi / 3, 3 * ARCSEC)
            for at, to in (("START", "P"), ("Q", "P"), ("Q", "END"))
        ],
    )
    (found,) = find_traverses(network_of(sights("direction", circles), slopes, zenith))
    assert found.angular == pytest.approx(0, abs=1e-12)
    assert found.east == pytest.approx(0.020, abs=1e-9)


def test_without_a_sight_onward_there_is_no_angular_check():
    known = ("BACK", "START", "END")
    (found,) = find_traverses(
        network_of(angles(0, 0, 0, 0), distances(0, 0, 0), known=known)
    )
    assert np.isnan(found.angular)
    assert found.angular_class == ""
    assert found.onward == -1
    assert found.linear == pytest.approx(0, abs=1e-10)


def test_without_a_sight_back_or_an_angle_there_is_no_traverse():
    whole = angles(0, 0, 0, 0)
    sides = distances(0, 0, 0)
    assert find_traverses(network_of(whole, sides, known=("START", "END"))) == ()
    assert find_traverses(network_of(sides)) == ()
    assert find_traverses(network_of(whole)) == ()


def test_a_textbook_traverse():
    """240°00′00″, 150°00′00″, 240°01′00″ from azimuth 180° to azimuth 90°.

    180° + 240° + 150° − 180° + 240°01′ − 180° = 450°01′, that is 90°01′ (the figure
    of the textbook case in tests/cases/traverse_one_station_mixed.json).
    """
    folder = Path(__file__).parent / "jobs" / "traverse_one_station_mixed"
    network = load(folder).network
    (found,) = find_traverses(network)
    assert [network.marks.name[m] for m in found.marks] == ["R", "U", "S"]
    assert found.angular == pytest.approx(60 * ARCSEC, abs=0.5 * ARCSEC)
    # 60 / √3 = 34.6 arcsec: beyond every class.
    assert found.angular_class == "none"
