"""Site networks under construction, and what they must come back to."""

from dataclasses import replace

import numpy as np
import pytest

from brasscap.adjust import estimate
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
from brasscap.networks.covariances import single

GEODETIC = GeodeticFrame(7912, 2020.0)
ARCSEC = np.pi / 180 / 3600
KINDS = (
    "slope distance",
    "horizontal distance",
    "direction",
    "angle",
    "azimuth",
    "zenith angle",
)
NONE = np.zeros(0, dtype=np.int64)


class Site:
    """A network under construction: marks, then what was observed between them.

    ``observe`` takes a value, or leaves it to ``measured``, which fills in what the
    true places give.
    """

    def __init__(self, names, frame=None):
        self.names, self.frame = tuple(names), frame or LocalFrame()
        self.rows = {kind: [] for kind in KINDS}
        self.levels, self.vectors, self.circles = [], [], []
        self.known, self.components = {}, {}
        self.approximate = np.full((len(self.names), 3), np.nan)

    def hold(self, name, xyz, components=(True, True, True)):
        self.known[self.names.index(name)] = np.asarray(xyz, dtype=float)
        self.components[self.names.index(name)] = components

    def observe(self, kind, at, to, value=np.nan, sd=None, back=None, circle=None):
        if circle is not None and circle not in self.circles:
            self.circles.append(circle)
        at, to = self.names.index(at), self.names.index(to)
        back = -1 if back is None else self.names.index(back)
        sd = sd or (0.002 if kind.endswith("distance") else 3 * ARCSEC)
        self.rows[kind].append((at, to, back, value, sd, circle))

    def polar(self, at, targets, kinds=("direction", "slope distance", "zenith angle")):
        for target in targets:
            for kind in kinds:
                circle = f"circle at {at}" if kind == "direction" else None
                self.observe(kind, at, target, circle=circle)

    def level(self, start, end):
        self.levels.append((self.names.index(start), self.names.index(end)))

    def vector(self, start, end):
        self.vectors.append((self.names.index(start), self.names.index(end)))

    def network(self, dimension=""):
        marks, blank = len(self.names), ("",) * len(self.names)
        circles = len(self.circles)
        return Network(
            self.frame,
            Marks(self.names, self.approximate, blank, blank, np.arange(marks) + 2),
            no_set_ups(),
            self._vectors(),
            no_positions(),
            self._known(),
            dimension=dimension,
            sights=tuple(self._sights(kind) for kind in KINDS if self.rows[kind]),
            levels=self._levels() if self.levels else None,
            parameters=Parameters(
                tuple(f"orientation of {circle}" for circle in self.circles),
                ("orientation",) * circles,
                np.full(circles, np.nan),
                np.full(circles, np.nan),
            ),
        )

    def measured(self, places, seed=None, dimension=""):
        """Return the network with the values that the places give, with errors."""
        return measured(self.network(dimension), places, seed)

    def _known(self):
        marks = np.array(sorted(self.known), dtype=np.int64)
        n = len(marks)
        return KnownMarks(
            marks, np.array([self.known[m] for m in marks]).reshape(n, 3),
            np.array([self.components[m] for m in marks], dtype=bool).reshape(n, 3),
            ("held",) * n, ("held",) * n, single(np.full((n, 3, 3), np.nan)),
            ("",) * n, np.ones(n, dtype=bool), np.arange(n) + 2,
        )  # fmt: skip

    def _sights(self, kind):
        at, to, back, value, sd, circle = zip(*self.rows[kind], strict=True)
        n, numbers = len(at), np.full((len(at), 2), -1)
        numbers[:, 0] = [-1 if c is None else self.circles.index(c) for c in circle]
        rows, zero = np.arange(n) + 2, np.zeros(n)
        return Sights(
            kind, tuple(f"{kind[0].upper()}{r}" for r in rows), np.array(at),
            np.array(to), np.array(back), zero, zero, zero, np.array(value),
            np.array(sd), numbers, zero, np.ones(n, dtype=bool), rows,
        )  # fmt: skip

    def _levels(self):
        start, end = np.array(self.levels).T
        n = len(start)
        return Levels(
            tuple(f"L{i}" for i in range(n)), start, end, np.full(n, np.nan),
            np.full(n, 0.001), np.zeros(n), np.zeros(n), np.full((n, 2), -1),
            np.ones(n, dtype=bool), np.arange(n) + 2,
        )  # fmt: skip

    def _vectors(self):
        start, end = np.array(self.vectors, dtype=np.int64).reshape(-1, 2).T
        n = len(start)
        return Vectors(
            tuple(f"V{i}" for i in range(n)), start, end, np.full((n, 3), np.nan),
            np.zeros(n), np.zeros(n), single(np.tile(25e-6 * np.eye(3), (n, 1, 1))),
            np.full(n, -1), np.full(n, -1), np.ones(n, dtype=bool), np.arange(n) + 2,
        )  # fmt: skip


def no_set_ups():
    zero, words = np.zeros(0), ()
    return SetUps(
        words, NONE, words, NONE, zero, np.zeros((0, 2)), zero, zero, words, words,
        words, NONE,
    )  # fmt: skip


def no_positions():
    return Positions(
        (), NONE, np.zeros((0, 3)), np.zeros(0), np.zeros((0, 3), dtype=bool), (),
        NONE, np.zeros(0, dtype=bool), NONE,
    )  # fmt: skip


def measured(network, places, seed):
    """Return the network with values from the places, by plain geometry.

    The sums here share nothing with the equations under test but the axes of the
    frame, which tests of the frames hold.
    """
    random = np.random.default_rng(seed)
    axes = network.frame.axes(places)

    def line(at, to):
        return np.einsum("nij,nj->ni", axes[at], places[to] - places[at])

    def value(some):
        east, north, up = line(some.at, some.to).T
        if some.kind == "slope distance":
            return np.sqrt(east**2 + north**2 + up**2)
        if some.kind == "horizontal distance":
            return np.hypot(east, north)
        if some.kind == "zenith angle":
            return np.arctan2(np.hypot(east, north), up)
        azimuth = np.arctan2(east, north)
        if some.kind == "angle":
            back_east, back_north, _ = line(some.at, some.back).T
            return np.mod(azimuth - np.arctan2(back_east, back_north), 2 * np.pi)
        if some.kind == "direction":
            azimuth = azimuth - 0.7 * (1 + some.parameter[:, 0])
        return np.mod(azimuth, 2 * np.pi)

    def noise(sd):
        return 0.0 if seed is None else sd * random.standard_normal(len(sd))

    sights = tuple(replace(s, value=value(s) + noise(s.sd)) for s in network.sights)
    levels, vectors = network.levels, network.vectors
    if levels is not None:
        heights = network.frame.heights(places)
        rise = heights[levels.end] - heights[levels.start] + noise(levels.sd)
        levels = replace(levels, rise=rise)
    delta = places[vectors.end] - places[vectors.start]
    vectors = replace(vectors, delta=delta)
    return replace(network, sights=sights, levels=levels, vectors=vectors)


def places_of(frame, east_north_up):
    """Return cartesian places of (east, north, height); near 46° N if geodetic."""
    local = np.array(east_north_up, dtype=float)
    if frame.kind == "local":
        return frame.place(local[:, 1], local[:, 0], local[:, 2])
    origin = frame.cartesian(np.array([[46.0, 9.0, 0.0]]))
    flat = origin + local @ frame.axes(origin)[0]
    up = frame.axes(flat)[:, 2]
    return flat + (local[:, 2] - frame.heights(flat))[:, None] * up


SITE = [
    ("BASE", 1000.0, 2000.0, 50.0),
    ("GATE", 1260.0, 2040.0, 57.0),
    ("P1", 1120.0, 2210.0, 53.0),
    ("P2", 1330.0, 2380.0, 61.0),
    ("P3", 1540.0, 2310.0, 66.0),
    ("EAST", 1700.0, 2150.0, 63.0),
    ("FAR", 1880.0, 2290.0, 70.0),
    ("FREE", 1410.0, 2180.0, 58.0),
    ("SPIRE", 1450.0, 2700.0, 95.0),
    ("NAIL", 1180.0, 2100.0, 51.0),
]
NAMES = tuple(row[0] for row in SITE)


def site(frame, held=("BASE", "GATE")):
    """Return an empty site of the marks above, and their true places."""
    places = places_of(frame, [row[1:] for row in SITE])
    made = Site(NAMES, frame)
    for name in held:
        made.hold(name, places[NAMES.index(name)])
    return made, places


def traverse(made):
    """Observe from GATE over P1, P2, P3 to EAST: directions, distances, zeniths."""
    route = ["BASE", "GATE", "P1", "P2", "P3", "EAST", "FAR"]
    for before, at, after in zip(route, route[1:], route[2:], strict=False):
        made.polar(at, (before, after))


def comes_back(network, places, marks, seed=None):
    """Check that the estimate finds the places, in truth's own precision."""
    assert not np.isfinite(network.marks.approximate).any()
    made = estimate(network)
    rows = [NAMES.index(name) for name in marks]
    # Without errors to a micrometre; with errors within 50 mm: hundreds of metres,
    # seconds of arc and millimetres leave no more than that.
    allowed = 1e-6 if seed is None else 0.05
    np.testing.assert_allclose(made.nodes.xyz[rows], places[rows], rtol=0, atol=allowed)
    return made


@pytest.fixture(name="new_site")
def _new_site():
    """Return the class of networks under construction."""
    return Site


@pytest.fixture(name="site")
def _site():
    return site


@pytest.fixture(name="traverse")
def _traverse():
    return traverse


@pytest.fixture(name="comes_back")
def _comes_back():
    return comes_back


@pytest.fixture(name="row")
def _row():
    """Return the number of a mark of the site by its name."""
    return NAMES.index
