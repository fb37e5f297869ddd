"""Four families of invented plans of 8 to 40 marks: a seed gives one network."""

import numpy as np
from parts import (
    ARCSEC,
    Read,
    Stood,
    known_at,
    levels_over,
    positions_at,
    sessions_over,
    vectors_over,
)

from brasscap.adjust.causes import Labels
from brasscap.networks import LocalFrame, Marks, Network
from brasscap.networks.errors import NoSolution

FAMILIES = ("vectors", "total station", "levels", "mixed")
SEEN, ROUNDS = 5, 2


def plan(family, seed):
    """Return a network to be simulated, and the names that it does not keep.

    Parameters
    ----------
    family : str
        One of ``FAMILIES``.
    seed : int
    """
    random = np.random.default_rng([FAMILIES.index(family), seed, 77])
    # Small jobs are more frequent than large ones, as they are in practice.
    marks = 8 + int(33 * random.uniform() ** 2)
    return _PLANS[family](random, marks)


def network_of(xyz, stood, vectors, positions, known, **more):
    marks = len(xyz)
    words, none = ("",) * marks, np.zeros(marks, dtype=np.int64)
    count = max(stood.session, default=-1) + 1
    return Network(
        LocalFrame(),
        Marks(tuple(f"M{i}" for i in range(marks)), xyz, words, words, none),
        stood.columns(),
        vectors,
        positions,
        known,
        sessions=tuple(f"D{i}" for i in range(count)),
        groups=("static",),
        **more,
    )


def spread(random, marks, side):
    """Return marks in a square, no two closer than a fifth of their usual distance."""
    least, places = 0.2 * side / np.sqrt(marks), []
    while len(places) < marks:
        place = random.uniform(0, side, 2)
        if all(np.hypot(*(place - other)) > least for other in places):
            places.append(place)
    # Out from the origin, as site grids are, so that a wrong foot is seen.
    plan = np.add(places, (1000.0, 5000.0))
    return np.column_stack([plan, random.uniform(50, 90, marks)])


def use_of(random):
    return "held" if random.random() < 0.5 else "weighted"


def vectors_plan(random, marks):
    xyz, stood = spread(random, marks, 3000), Stood(marks)
    vectors = vectors_over(random, stood, sessions_over(random, marks, 2))
    chosen = random.permutation(marks)
    known = known_at(chosen[: random.integers(3, 6)], xyz, use_of(random))
    # Seven in ten jobs have positions, so that these are surveyed often enough.
    some = chosen[-4:] if random.random() < 0.7 else chosen[:0]
    positions = positions_at(some, xyz)
    return network_of(xyz, stood, vectors, positions, known), Labels()


def levels_plan(random, marks):
    xyz, stood = spread(random, marks, 2000), Stood(marks)
    levels = levels_over(random, random.permutation(marks), max(2, marks // 3), 0.001)
    chosen = random.permutation(marks)[: random.integers(2, 5)]
    known = known_at(chosen, xyz, use_of(random), (False, False, True))
    vectors, positions = vectors_over(random, stood, []), positions_at(chosen[:0], xyz)
    network = network_of(xyz, stood, vectors, positions, known, levels=levels)
    pair = {name: f"S{k % 2}" for k, name in enumerate(levels.name)}
    return network, Labels(staff=pair)


def sights_plan(random, marks):
    xyz, stood = spread(random, marks, 120 * np.sqrt(marks)), Stood(marks)
    read, labels = Read(), Labels({}, {}, {})
    _occupied(random, xyz, stood, read, labels, np.full(marks, 2))
    known = known_at(
        random.permutation(marks)[: random.integers(3, 6)], xyz, use_of(random)
    )
    none = np.zeros(0, dtype=np.int64)
    vectors, positions = vectors_over(random, stood, []), positions_at(none, xyz)
    more = {"sights": read.sights(), "parameters": read.parameters()}
    return network_of(xyz, stood, vectors, positions, known, **more), labels


def mixed_plan(random, marks):
    xyz, stood = spread(random, marks, 120 * np.sqrt(marks)), Stood(marks)
    sessions = sessions_over(random, marks, 1)
    vectors = vectors_over(random, stood, sessions)
    read, labels = Read(), Labels({}, {}, {})
    left = np.where(random.random(marks) < 0.6, 1, 0)
    _occupied(random, xyz, stood, read, labels, left)
    levels = levels_over(random, random.permutation(marks)[: max(5, marks // 2)])
    known = known_at(random.permutation(marks)[:3], xyz, use_of(random))
    none = np.zeros(0, dtype=np.int64)
    more = {
        "sights": read.sights(), "parameters": read.parameters(), "levels": levels,
    }  # fmt: skip
    positions = positions_at(none, xyz)
    return network_of(xyz, stood, vectors, positions, known, **more), labels


def _occupied(random, xyz, stood, read, labels, left):
    """Occupy stations until every mark is sighted as often as is wanted.

    Four in ten marks carry one target on a tripod that all stations sight; in some of
    these the instrument takes the target's place. Elsewhere each station has a target
    of its own there.
    """
    far = np.linalg.norm(xyz[:, None] - xyz, axis=2)
    standing, been = {}, set()
    while (left > 0).any():
        need = random.choice(np.flatnonzero(left > 0))
        near = [k for k in np.argsort(far[need])[:5].tolist() if k not in been]
        if not near:
            left[need] = 0
            continue
        at = int(random.choice(near))
        been.add(at)
        seen = random.permutation(np.argsort(far[at])[1 : SEEN + 1])
        left[seen] -= 1
        left[at] -= 1
        _station(random, at, seen, far[at], stood, read, labels, standing)


def _station(random, at, seen, far, stood, read, labels, standing):
    name, instrument = f"S{at}", f"TS{random.integers(2)}"
    shared = standing.get(at)
    height = random.uniform(1.4, 1.7)
    node = shared if shared else stood.add(name, at, height)
    targets = [_target(random, name, int(mark), stood, standing) for mark in seen]
    mode = random.choice(["direction", "azimuth", "angle"], p=[0.7, 0.15, 0.15])
    for number in range(ROUNDS):
        zero = -1
        if mode == "direction":
            zero = read.zero(f"{name}, round {number}")
        for k, (to, tall, prism) in enumerate(targets):
            said = f"{name}-{number}-{k}"
            labels.instrument[said], labels.prism[said] = instrument, prism
            ends = (said, node, to, (height, tall))
            read.add("slope distance", *ends, 0.001 + 1.5e-6 * far[seen[k]])
            read.add("zenith angle", *ends, 3 * ARCSEC)
            if mode == "angle" and k:
                back = (targets[0][0], targets[0][1])
                read.add("angle", *ends, 2 * np.sqrt(2) * ARCSEC, back)
            elif mode != "angle":
                read.add(mode, *ends, 2 * ARCSEC, zero=zero)


def _target(random, station, mark, stood, standing):
    """Return the node of a target, its height and its prism."""
    prism = f"P{random.integers(3)}"
    if mark in standing:
        return standing[mark], 1.5, "P0"
    if random.random() < 0.4:
        standing[mark] = stood.add(f"P-M{mark}", mark, 1.5)
        return standing[mark], 1.5, "P0"
    tall = random.uniform(1.3, 1.8)
    return stood.add(f"target M{mark} from {station}", mark, tall), tall, prism


_PLANS = {
    "vectors": vectors_plan,
    "total station": sights_plan,
    "levels": levels_plan,
    "mixed": mixed_plan,
}

__all__ = ["FAMILIES", "NoSolution", "plan"]
