"""The start of the iteration: places found from what was observed, without any given.

Published networks are put in without their approximate coordinates; made-up ones,
seeded, must come back to the places that they were made from.
"""

from dataclasses import replace
from time import perf_counter

import numpy as np
import pytest

from brasscap.adjust import estimate
from brasscap.adjust.nodes import nodes_at
from brasscap.adjust.start import starting_positions
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
    Vectors,
)
from brasscap.networks.covariances import single

GEODETIC = GeodeticFrame(7912, 2020.0)
FRAMES = pytest.mark.parametrize(
    "frame", [LocalFrame(), GEODETIC], ids=["flat", "geodetic"]
)
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
            kind, tuple(f"{kind} {r}" for r in rows), np.array(at), np.array(to),
            np.array(back), zero, zero, zero, np.array(value), np.array(sd), numbers,
            zero, np.ones(n, dtype=bool), rows,
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
    """Return cartesian places of (east, north, height), near 46° N in a geodetic frame."""
    local = np.array(east_north_up, dtype=float)
    if isinstance(frame, LocalFrame):
        return local
    origin = frame.cartesian(np.array([[46.0, 9.0, 0.0]]))
    flat = origin + local @ frame.axes(origin)[0]
    up = frame.axes(flat)[:, 2]
    return flat + (local[:, 2] - frame.heights(flat))[:, None] * up



PLANE = (
    "directions_resection_orientation_unknown",
    "resection_three_angles",
    "traverse_one_station_mixed",
    "traverse_two_stations_azimuths",
    "triangulation_quadrilateral",
    "trilateration_one_station",
)
CASE_KINDS = {"distance": "horizontal distance", "slope_distance": "slope distance"}
CASE_KINDS["zenith_angle"] = "zenith angle"


def observe_case(site, observations):
    for seen in observations:
        kind = CASE_KINDS.get(seen["type"], seen["type"])
        angle = not kind.endswith("distance")
        value = np.radians(seen["value_deg"]) if angle else seen["value"]
        sd = seen["sigma_sec"] * ARCSEC if angle else seen["sigma"]
        at = seen.get("at") or seen["from"]
        to = seen.get("foresight") or seen["to"]
        site.observe(kind, at, to, value, sd, seen.get("backsight"), seen.get("set"))


@pytest.mark.parametrize("name", PLANE)
def test_a_published_plane_network_starts_by_itself(case, name):
    """The source is in the case's own ``source``; its 12 digits, relative 1e-6."""
    problem = case(name)
    stations = problem["stations"]
    site = Site(stations)
    for station, known in stations.items():
        if known.get("fixed"):
            site.hold(station, [known["E"], known["N"], 0.0], (True, True, False))
    observe_case(site, problem["observations"])
    made = estimate(site.network("plan"))
    for station, plan in problem["computed"]["coordinates"].items():
        found = made.nodes.xyz[site.names.index(station), :2]
        np.testing.assert_allclose(found, plan, rtol=0, atol=1e-5)


def test_a_free_station_in_space_starts_by_itself(case):
    """Two independent solvers: the case's ``source``. a micrometre of their place."""
    problem = case("terrestrial_3d_free_station")
    stations = problem["stations"]
    site = Site(stations, GEODETIC)
    for station, known in stations.items():
        if known.get("fixed"):
            booked = [[known["lat_deg"], known["lon_deg"], known["h"]]]
            site.hold(station, GEODETIC.cartesian(np.array(booked))[0])
    observe_case(site, problem["observations"])
    network = site.network()
    seen = {kind: [] for kind in KINDS}
    for row in problem["observations"]:
        seen[CASE_KINDS.get(row["type"], row["type"])].append((row["hi"], row["ht"]))
    sights = []
    for some in network.sights:
        over, above = np.array(seen[some.kind]).T
        sights.append(replace(some, at_height=over, to_height=above))
    made = estimate(replace(network, sights=tuple(sights)))
    found = made.nodes.xyz[site.names.index("P")]
    np.testing.assert_allclose(
        found, problem["computed"]["xyz"]["P"], rtol=0, atol=1e-6
    )
