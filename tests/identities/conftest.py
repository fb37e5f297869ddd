"""A made-up survey with a fixed seed, for what holds for every network."""

import numpy as np
import pytest

from brasscap.networks import (
    GeodeticFrame,
    KnownMarks,
    Marks,
    Network,
    Options,
    Positions,
    SetUps,
    Vectors,
)
from brasscap.networks.covariances import Batch, single

FRAME = GeodeticFrame(4979, 2020.0)
MARKS = 7
# Session by session: the marks occupied, by one set-up each.
SESSIONS = [(0, 1, 2, 3), (2, 3, 4), (4, 5, 6, 0), (1, 5), (3, 6), (1, 5)]


def random_covariance(rng, rows, sd):
    """Return a well-conditioned covariance, sd in metres."""
    mix = rng.normal(size=(rows, 2 * rows))
    return sd**2 * (mix @ mix.T / (2 * rows) + 0.2 * np.eye(rows))


def make_marks(rng):
    latitude = 47.0 + rng.uniform(0, 0.03, MARKS)
    longitude = 8.0 + rng.uniform(0, 0.03, MARKS)
    height = rng.uniform(400, 600, MARKS)
    return FRAME.cartesian(np.stack([latitude, longitude, height], axis=1))


def make_set_ups(rng):
    mark = np.array([m for session in SESSIONS for m in session])
    session = np.array([k for k, s in enumerate(SESSIONS) for _ in s])
    count = len(mark)
    names = tuple(f"O{i}" for i in range(count))
    blank = ("",) * count
    return SetUps(
        name=names,
        mark=mark,
        support=("tripod",) * count,
        session=session,
        height=rng.uniform(1.3, 1.7, count),
        eccentricity=np.zeros((count, 2)),
        sd_centring=rng.uniform(0.8e-3, 1.5e-3, count),
        sd_height=rng.uniform(1e-3, 2e-3, count),
        reduction=blank,
        antenna=blank,
        tripod=blank,
        row=np.arange(count) + 2,
    )


def make_vectors(rng, marks, set_ups, noise):
    """Return the vectors of each session from its first set-up, correlated."""
    start, end, session = [], [], []
    batches, of_size = [], {}
    for number in range(len(SESSIONS)):
        inside = np.flatnonzero(set_ups.session == number)
        first = len(start)
        start += [inside[0]] * (len(inside) - 1)
        end += list(inside[1:])
        session += [number] * (len(inside) - 1)
        members = np.arange(first, len(start))
        of_size.setdefault(len(members), []).append(
            (members, random_covariance(rng, 3 * len(members), 4e-3))
        )
    for _, clusters in sorted(of_size.items()):
        batches.append(
            Batch(
                np.array([members for members, _ in clusters]),
                np.array([matrix for _, matrix in clusters]),
            )
        )
    start, end = np.array(start), np.array(end)
    up = FRAME.axes(marks)[:, 2, :]
    points = marks[set_ups.mark] + set_ups.height[:, None] * up[set_ups.mark]
    delta = points[end] - points[start] + noise * rng.normal(0, 4e-3, (len(start), 3))
    return Vectors(
        name=tuple(f"B{i}" for i in range(len(start))),
        start=start + MARKS,
        end=end + MARKS,
        delta=delta,
        start_offset=set_ups.height[start],
        end_offset=set_ups.height[end],
        covariances=tuple(batches),
        session=np.array(session),
        group=np.full(len(start), -1),
        used=np.ones(len(start), dtype=bool),
        row=np.arange(len(start)) + 2,
    )


def make_known(rng, marks, noise):
    """Return one mark held, one weighted, and two held in one part.

    The last has its plan held and its height weighted, correlated with the plan.
    """
    mark = np.array([0, 4, 2, 3])
    covariance = np.full((4, 3, 3), np.nan)
    covariance[1] = random_covariance(rng, 3, 5e-3)
    covariance[3] = random_covariance(rng, 3, 5e-3)
    xyz = marks[mark]
    xyz[1] += noise * rng.normal(0, 4e-3, 3)
    return KnownMarks(
        mark=mark,
        xyz=xyz,
        components=np.array([[True] * 3, [True] * 3, [False, False, True], [True] * 3]),
        use_plan=("held", "weighted", "", "held"),
        use_height=("held", "weighted", "held", "weighted"),
        covariances=single(covariance),
        source=("made up",) * 4,
        used=np.ones(4, dtype=bool),
        row=np.arange(4) + 2,
    )


def make_positions(rng, marks, noise):
    """Return three positions of one solution, one of them in plan only."""
    node = np.array([1, 5, 6])
    return Positions(
        name=("P0", "P1", "P2"),
        node=node,
        xyz=marks[node] + noise * rng.normal(0, 8e-3, (3, 3)),
        offset=np.zeros(3),
        components=np.array([[True] * 3, [True] * 3, [True, True, False]]),
        covariances=(
            Batch(node[None] * 0 + np.arange(3), random_covariance(rng, 9, 8e-3)[None]),
        ),
        group=np.full(3, -1),
        used=np.ones(3, dtype=bool),
        row=np.arange(3) + 2,
    )


def make_survey(noise):
    """Return seven marks in six sessions; noise 0 gives observations that all agree."""
    rng = np.random.default_rng(20240229)
    marks = make_marks(rng)
    set_ups = make_set_ups(rng)
    return Network(
        frame=FRAME,
        marks=Marks(
            name=tuple(f"T{i}" for i in range(MARKS)),
            approximate=marks + rng.normal(0, 0.3, marks.shape),
            status=("found",) * MARKS,
            description=("",) * MARKS,
            row=np.arange(MARKS) + 2,
        ),
        set_ups=set_ups,
        vectors=make_vectors(rng, marks, set_ups, noise),
        positions=make_positions(rng, marks, noise),
        known=make_known(rng, marks, noise),
        sessions=tuple(f"S{i}" for i in range(len(SESSIONS))),
        options=Options(),
    )


@pytest.fixture
def survey():
    return make_survey(1.0)


@pytest.fixture
def perfect_survey():
    return make_survey(0.0)
