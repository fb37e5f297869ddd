"""Three made-up networks with a fixed seed, as outlines: no value is observed yet."""

from itertools import pairwise

import numpy as np
import pytest

from brasscap.networks import (
    GeodeticFrame,
    KnownMarks,
    Levels,
    LocalFrame,
    Marks,
    Network,
    Parameters,
    Positions,
    SetUps,
    Sights,
    Vectors,
)
from brasscap.networks.covariances import Batch, single

ARCSEC = np.pi / 180 / 3600
DIRECTION, ZENITH, SLOPE = "direction", "zenith angle", "slope distance"
NONE = np.zeros(0, dtype=np.int64)


def marks(names, places, rng):
    """Return marks thought to be some centimetres from where they are."""
    blank = ("",) * len(names)
    off = rng.normal(0, 0.05, np.shape(places))
    return Marks(tuple(names), places + off, blank, blank, np.arange(len(names)) + 2)


def set_ups(rows):
    """Return set-ups from rows of name, mark, height, sd of centring and height, mm."""
    names, over, height, centring, up = zip(*rows, strict=True) if rows else ((),) * 5
    blank = ("",) * len(names)
    return SetUps(
        names, np.array(over, dtype=np.int64), ("tripod",) * len(names),
        np.full(len(names), -1), np.array(height, dtype=float),
        np.zeros((len(names), 2)), np.array(centring) * 1e-3, np.array(up) * 1e-3,
        blank, blank, blank, np.arange(len(names)) + 2,
    )  # fmt: skip


def correlated(rng, size, sd):
    """Return a well-conditioned covariance, (size, size)."""
    mix = rng.normal(size=(size, 2 * size))
    return sd**2 * (mix @ mix.T / (2 * size) + 0.2 * np.eye(size))


def vectors(rng, sessions, height, parameter):
    """Return vectors from the first node of each session to its others, correlated."""
    ends = [(s[0], to, k) for k, s in enumerate(sessions) for to in s[1:]]
    start, end, session = np.array(ends, dtype=np.int64).reshape(-1, 3).T
    batches = tuple(
        Batch(
            np.flatnonzero(session == k)[None],
            correlated(rng, 3 * (len(s) - 1), 4e-3)[None],
        )
        for k, s in enumerate(sessions)
    )
    count = len(start)
    return Vectors(
        tuple(f"B{i}" for i in range(count)), start, end, np.zeros((count, 3)),
        height[start], height[end], batches, session, np.full(count, -1),
        np.ones(count, dtype=bool), np.arange(count) + 2, parameter,
    )  # fmt: skip


def no_vectors():
    none = np.zeros((0, 3))
    empty = np.zeros(0)
    return Vectors(
        (), NONE, NONE, none, empty, empty, (), NONE, NONE, empty.astype(bool), NONE
    )


def no_positions():
    none = np.zeros((0, 3))
    empty = np.zeros(0)
    return Positions(
        (), NONE, none, empty, none.astype(bool), (), NONE, empty.astype(bool), NONE
    )


def position(rng, node, offset):
    """Return one position of all three components, correlated."""
    one = np.zeros(1, dtype=np.int64)
    return Positions(
        ("R0",), one + node, np.zeros((1, 3)), np.array([offset]),
        np.ones((1, 3), dtype=bool), single(correlated(rng, 3, 6e-3)[None]),
        one - 1, np.ones(1, dtype=bool), one + 2,
    )  # fmt: skip


def sights(kind, rows, sd, height):
    """Return sights from rows of instrument, target, back target and parameters."""
    at, to, back, first, second = np.array(rows, dtype=np.int64).T
    count = len(rows)
    return Sights(
        kind, tuple(f"{kind} {i}" for i in range(count)), at, to, back,
        height[at], height[to], np.where(back >= 0, height[back], 0.0),
        np.zeros(count), np.full(count, sd), np.stack([first, second], axis=1),
        np.full(count, 0.13), np.ones(count, dtype=bool), np.arange(count) + 2,
    )  # fmt: skip


def in_rounds(lines, circle):
    """Return rows of directions, each with the orientation of its round."""
    return [(*line, -1, o, -1) for line, o in zip(lines, circle, strict=True)]


def levels(rows, sd, parameter=None, undulation=0.0):
    start, end = np.array(rows, dtype=np.int64).T
    count = len(rows)
    fixed = np.full(count, undulation)
    number = np.full((count, 2), -1) if parameter is None else parameter
    return Levels(
        tuple(f"L{i}" for i in range(count)), start, end, np.zeros(count),
        np.full(count, sd) * np.linspace(0.8, 1.3, count), fixed, fixed, number,
        np.ones(count, dtype=bool), np.arange(count) + 2,
    )  # fmt: skip


def known(mark, xyz, components, plan, height, covariances):
    n = len(mark)
    return KnownMarks(
        np.array(mark), xyz, np.array(components), plan, height, covariances,
        ("made up",) * n, np.ones(n, dtype=bool), np.arange(n) + 2,
    )  # fmt: skip


def height_only(variance):
    """Return a covariance of which the height alone is stated."""
    made = np.full((3, 3), np.nan)
    made[2, 2] = variance
    return made


MIXED = [
    (0, 0, 500), (900, 150, 525), (1300, 800, 490), (500, 1100, 540), (-300, 700, 560),
    (350, 520, 515), (800, 600, 505), (600, 300, 508),
]  # fmt: skip


@pytest.fixture(scope="module")
def mixed():
    """Return GNSS with set-ups, total station and levels on undulations, and the truth.

    Eight marks: 0 to 4 with GNSS (two sessions, one position) and levels, 5 and 6
    under instruments, 7 a free station. Refraction, distance scale, scale and turn of
    one session and four undulations are unknown with a prior.
    """
    rng = np.random.default_rng(408)
    frame = GeodeticFrame(6319, 2010.0)
    origin = frame.cartesian(np.array([[47.0, 8.0, 0.0]]))
    places = origin + np.array(MIXED, dtype=float) @ frame.axes(origin)[0]
    rows = [(f"G{i}", m, 1.3 + 0.05 * i, 1.0, 1.5) for i, m in enumerate("01232340")]
    rows += [("TS5", 5, 1.55, 1.0, 1.2), ("TS6", 6, 1.62, 1.0, 1.2)]
    rows += [("TS7", 7, 0.0, 0.0, 0.0)]
    targets = [(8, 0), (8, 3), (8, 4), (8, 6), (9, 1), (9, 2), (9, 5), (9, 3)]
    targets += [(10, 0), (10, 1), (10, 6), (10, 5)]
    rows += [(f"T{k}", m, 1.4 + 0.03 * k, 1.0, 1.0) for k, (_, m) in enumerate(targets)]
    stood = set_ups([(n, int(m), h, c, u) for n, m, h, c, u in rows])
    height = np.concatenate([np.zeros(8), stood.height])
    names = ["o5a", "o5b", "o6", "o7", "refraction", "scale", "vscale", "vturn"]
    kinds = ["orientation"] * 4 + ["refraction", "distance scale"]
    kinds += ["vector scale", "vector turn"] + ["undulation"] * 4
    names += [f"N{m}" for m in (1, 2, 3, 4)]
    start = np.array([np.nan] * 4 + [0.13, 0.0, 0.0, 0.0] + [47.1, 47.15, 47.12, 47.2])
    sd = np.array([np.nan] * 4 + [0.1, 3e-6, 1e-6, 5e-6] + [0.006] * 4)
    parameters = Parameters(tuple(names), tuple(kinds), start, sd)
    of_session = np.full((5, 2), -1)
    of_session[3:] = [6, 7]
    lines = [(8 + at, 8 + 11 + k) for k, (at, _) in enumerate(targets)]
    circle = [0] * 4 + [2] * 4 + [3] * 4
    round_2 = [(*line, -1, 1, -1) for line in lines[:4]]
    undulated = {1: 8, 2: 9, 3: 10, 4: 11}
    runs = [(0, 1), (1, 2), (2, 3), (3, 0), (3, 4), (4, 0)]
    numbers = np.array([[undulated.get(m, -1) for m in run] for run in runs])
    xyz = places[[0, 2, 4]]
    covariance = np.full((3, 3, 3), np.nan)
    covariance[1], covariance[2] = correlated(rng, 3, 5e-3), height_only(8e-3**2)
    network = Network(
        frame,
        marks([f"M{i}" for i in range(8)], places, rng),
        stood,
        vectors(rng, [(8, 9, 10, 11), (12, 13, 14)], height, of_session),
        position(rng, 15, height[15]),
        known(
            [0, 2, 4], xyz, [[True] * 3, [True] * 3, [False, False, True]],
            ("held", "weighted", ""), ("held", "weighted", "weighted"),
            single(covariance),
        ),
        sights=tuple(
            sights(kind, rows, sd, height)
            for kind, rows, sd in (
                (DIRECTION, in_rounds(lines, circle) + round_2, 3 * ARCSEC),
                (ZENITH, [(*line, -1, 4, -1) for line in lines], 5 * ARCSEC),
                (SLOPE, [(*line, -1, -1, 5) for line in lines], 2e-3),
                ("angle", [(*lines[5], lines[4][1], -1, -1)], 4 * ARCSEC),
                ("azimuth", [(*lines[0], -1, -1, -1)], 6 * ARCSEC),
                ("horizontal distance", [(*lines[9], -1, -1, 5)], 3e-3),
            )
        ),
        levels=levels(runs, 1e-3, numbers, 47.0),
        parameters=parameters,
    )  # fmt: skip
    return network, places


SITE = [
    (1000, 2000, 50), (1400, 2050, 54), (1080, 2120, 51), (1210, 2060, 52.5),
    (1320, 2150, 53), (1250, 2200, 55),
]  # fmt: skip


@pytest.fixture(scope="module")
def site():
    """Return a traverse between two known marks, a free station and levels.

    Tripods stay where they stand: instrument and target of a traverse point are one
    set-up.
    """
    rng = np.random.default_rng(61)
    places = np.array(SITE, dtype=float)
    rows = [(f"S{m}", m, 1.5 + 0.04 * m, 1.0, 1.0) for m in range(5)]
    stood = set_ups([*rows, ("free", 5, 0.0, 0.0, 0.0)])
    height = np.concatenate([np.zeros(6), stood.height])
    lines = [(6 + a, 6 + b) for a, b in pairwise((0, 2, 3, 4, 1))]
    lines += [(b, a) for a, b in lines]
    lines += [(11, 6 + m) for m in (1, 2, 3, 4)]
    rounds = {node: k for k, node in enumerate(sorted({at for at, _ in lines}))}
    circle = [rounds[at] for at, _ in lines]
    constant = len(rounds)
    kinds = ("orientation",) * constant + ("distance constant",)
    start = np.array([np.nan] * constant + [0.0])
    sd = np.array([np.nan] * constant + [2e-3])
    network = Network(
        LocalFrame(),
        marks(["K1", "K2", "P1", "P2", "P3", "F"], places, rng),
        stood,
        no_vectors(),
        no_positions(),
        known(
            [0, 1], places[:2], [[True] * 3] * 2, ("held", "held"),
            ("held", "weighted"),
            single(np.stack([np.full((3, 3), np.nan), height_only(3e-3**2)])),
        ),
        sights=(
            sights(DIRECTION, in_rounds(lines, circle), 3 * ARCSEC, height),
            sights(ZENITH, [(*line, -1, -1, -1) for line in lines], 6 * ARCSEC, height),
            sights(SLOPE, [(*line, -1, constant, -1) for line in lines], 2e-3, height),
        ),
        levels=levels([(0, 2), (2, 3), (3, 4), (4, 1), (1, 0)], 1e-3),
        parameters=Parameters(kinds, kinds, start, sd),
    )  # fmt: skip
    return network, places


@pytest.fixture(scope="module")
def heights():
    """Return levels alone: one height held, two weighted and correlated."""
    rng = np.random.default_rng(7)
    places = np.zeros((7, 3))
    places[:, 2] = rng.uniform(80, 120, 7)
    runs = [(0, 1), (1, 2), (2, 3), (3, 4), (4, 5), (5, 6), (6, 0), (1, 5), (2, 4)]
    together = np.full((6, 6), np.nan)
    together[np.ix_([2, 5], [2, 5])] = [[4e-6, 3e-6], [3e-6, 9e-6]]
    alone = np.full((1, 3, 3), np.nan)
    covariances = (
        Batch(np.array([[0]]), alone), Batch(np.array([[1, 2]]), together[None])
    )  # fmt: skip
    network = Network(
        LocalFrame(),
        marks([f"H{i}" for i in range(7)], places, rng),
        set_ups([]),
        no_vectors(),
        no_positions(),
        known(
            [0, 3, 6], places[[0, 3, 6]], [[False, False, True]] * 3, ("",) * 3,
            ("held", "weighted", "weighted"), covariances,
        ),
        dimension="height",
        levels=levels(runs, 1.5e-3),
    )  # fmt: skip
    return network, places


@pytest.fixture(scope="module", params=["mixed", "site", "heights"])
def outline(request):
    """Return each network in turn, with the true places of its marks."""
    return request.getfixturevalue(request.param)
