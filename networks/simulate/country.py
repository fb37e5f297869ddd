"""Plans of large networks: marks all over a country, joined by vectors to neighbours.

Arrays only; a million marks take seconds. The marks are numbered in no order, so that
nothing can be gained from their numbers.
"""

import numpy as np

from ..covariances import Bools, Floats, Ints, single
from ..distinct import distinct
from ..errors import CommandError
from ..frames import GeodeticFrame
from ..network import Network
from ..observations import KnownMarks, Marks, Names, Positions, SetUps, Vectors

KINDS = ("uniform", "clustered")
_APART = 1000.0
"""m between neighbours in a uniform country."""
_IN_SURVEY = 150.0
"""m between neighbours in a local survey."""
_SURVEY, _LEAST, _MOST = 60, 4, 3000
"""Marks of a middling survey, of the smallest and of the largest."""
_DEGREE = 111_000.0
_MIDDLE = (47.0, 8.0)
"""Degrees of latitude and longitude."""


def country(
    marks: int, kind: str = "uniform", *, set_ups: bool = False, seed: int = 0
) -> Network:
    """Return a plan of vectors, about 2.75 a mark, to be observed by ``simulate``.

    Parameters
    ----------
    marks : int
        Nine at least.
    kind : "uniform" or "clustered"
        Marks a kilometre apart everywhere; or a wide net of one mark in a hundred,
        and local surveys of all sizes hung from it.
    set_ups : bool
        Whether each vector joins set-ups: a session from every mark, with a receiver
        there and one at each neighbour.
    seed : int

    Returns
    -------
    Network
        One mark in 500, three at least, is known and weighted.

    Raises
    ------
    CommandError
        There is no such kind, or there are too few marks.

    Examples
    --------
    >>> plan = country(100)
    >>> len(plan.marks), len(plan.known)
    (100, 3)
    """
    if kind not in KINDS or marks < 9:
        raise CommandError(f"a country is {' or '.join(KINDS)}, with 9 marks at least")
    random = np.random.default_rng(seed)
    made = _uniform if kind == "uniform" else _clustered
    plan, start, end = made(marks, random)
    number = random.permutation(marks)
    places = np.empty_like(plan)
    places[number] = plan
    frame = GeodeticFrame(4979, 2020.0)
    xyz = frame.cartesian(_geodetic(places, random))
    return _network(frame, xyz, number[start], number[end], random, set_ups)


def _geodetic(plan: Floats, random: np.random.Generator) -> Floats:
    """Return latitude, longitude (degrees) and height of places east and north, m."""
    off = plan - plan.mean(axis=0)
    latitude = _MIDDLE[0] + off[:, 1] / _DEGREE
    longitude = _MIDDLE[1] + off[:, 0] / (_DEGREE * np.cos(np.radians(_MIDDLE[0])))
    return np.stack([latitude, longitude, random.uniform(200, 900, len(plan))], axis=1)


def _uniform(count: int, random: np.random.Generator) -> tuple[Floats, Ints, Ints]:
    """Return places and vectors of marks all over, none of them far from a lattice."""
    width = int(np.ceil(np.sqrt(count)))
    local = np.arange(count)
    plan = _spread(local, np.full(count, width), random) * _APART
    return plan, *_neighbours(local, np.full(count, width), random)


def _clustered(count: int, random: np.random.Generator) -> tuple[Floats, Ints, Ints]:
    """Return places and vectors of a wide net and the surveys that hang from it."""
    wide = max(4, count // 100)
    net, *joined = _uniform(wide, random)
    stretch = np.sqrt(count / wide)
    net = net * stretch
    sizes = _sizes(count - wide, random)
    first = np.cumsum(sizes) - sizes
    survey = np.repeat(np.arange(len(sizes)), sizes)
    local = np.arange(count - wide) - first[survey]
    widths = np.ceil(np.sqrt(sizes)).astype(np.int64)
    towns = random.uniform(0, net.max(axis=0), (len(sizes) // 30 + 1, 2))
    centre = towns[random.integers(0, len(towns), len(sizes))]
    centre = centre + random.normal(0, np.ptp(net) / 8, centre.shape)
    centre = np.clip(centre, 0, net.max(axis=0))
    spread = _spread(local, widths[survey], random) - widths[survey, None] / 2
    plan = np.concatenate([net, centre[survey] + spread * _IN_SURVEY])
    inside = _neighbours(local, widths[survey], random)
    hung = _hung(sizes, first, centre / (stretch * _APART), wide, random)
    start = np.concatenate([joined[0], wide + inside[0], wide + hung[0]])
    end = np.concatenate([joined[1], wide + inside[1], hung[1]])
    return plan, *_once(start, end, count)


def _sizes(total: int, random: np.random.Generator) -> Ints:
    """Return how many marks each survey has; they sum to the total."""
    some = total // _SURVEY + 10
    drawn = np.exp(random.normal(np.log(_SURVEY), 1.0, some))
    sizes = np.clip(drawn, _LEAST, _MOST).astype(np.int64)
    before = np.cumsum(sizes) - sizes
    kept = before < total
    left = total - int(sizes[kept].sum())
    sizes = sizes[kept]
    # Draws are larger than the middling one on the whole; a lack falls to the last.
    sizes[-1] += left
    return sizes


def _hung(
    sizes: Ints, first: Ints, cell: Floats, wide: int, random: np.random.Generator
) -> tuple[Ints, Ints]:
    """Return vectors from marks of each survey to marks of the wide net around it."""
    width = int(np.ceil(np.sqrt(wide)))
    starts, ends = [], []
    many = np.clip(2 + sizes // 40, 2, 8)
    around = [(0, 0), (1, 0), (0, 1), (1, 1), (-1, 0), (0, -1), (-1, -1), (1, -1)]
    for k, (east, north) in enumerate(around):
        some = np.flatnonzero(many > k)
        column, row = (cell[some] + [east, north]).astype(np.int64).T
        mark = np.clip(column, 0, width - 1) + width * np.maximum(row, 0)
        for _ in range(2):
            starts.append(first[some] + random.integers(0, sizes[some]))
            ends.append(np.minimum(mark, wide - 1))
    return np.concatenate(starts), np.concatenate(ends)


def _spread(local: Ints, width: Ints, random: np.random.Generator) -> Floats:
    """Return places (n, 2) in a lattice, moved off it by less than half its size."""
    at = np.stack([local % width, local // width], axis=1)
    return np.asarray(at + random.uniform(0.05, 0.95, at.shape))


def _neighbours(
    local: Ints, width: Ints, random: np.random.Generator
) -> tuple[Ints, Ints]:
    """Return vectors to neighbours with smaller numbers, so that all hang together.

    ``local`` numbers the marks of a lattice row by row; lattices lie one after another.
    """
    column, row = local % width, local // width
    left, below = column > 0, row > 0
    # One of the two always, which joins every mark to the first.
    coin = random.random(len(local)) < 0.5
    tree_left = left & (~below | coin)
    tree_below = below & ~tree_left
    slant = random.random(len(local)) < 0.5
    further = random.random(len(local)) < 0.5
    chances = (
        (np.ones_like(width), tree_left | _with(left, 0.85, random)),
        (width, tree_below | _with(below, 0.85, random)),
        (width + 1, _with(left & below & slant, 0.65, random)),
        (width - 1, _with(below & (column < width - 1) & ~slant, 0.65, random)),
        (2 * np.ones_like(width), _with((column > 1) & further, 0.25, random)),
        (2 * width, _with((row > 1) & ~further, 0.25, random)),
    )
    number = np.arange(len(local))
    start = np.concatenate([number[there] for _, there in chances])
    end = np.concatenate([(number - back)[there] for back, there in chances])
    return start, end


def _with(there: Bools, chance: float, random: np.random.Generator) -> Bools:
    return np.asarray(there & (random.random(len(there)) < chance))


def _once(start: Ints, end: Ints, count: int) -> tuple[Ints, Ints]:
    """Return each pair once."""
    key = distinct(start * count + end)
    return key // count, key % count


def _network(
    frame: GeodeticFrame,
    xyz: Floats,
    start: Ints,
    end: Ints,
    random: np.random.Generator,
    set_ups: bool,
) -> Network:
    count, observed = len(xyz), len(start)
    names = _names("M", count)
    blank = ("",) * count
    order = np.argsort(start, kind="stable")
    start, end = start[order], end[order]
    covariance = _covariances(frame, xyz, start, end, random)
    length = np.arange(observed)
    if set_ups:
        stood, start, end, session = _sessions(start, end, count)
        sessions = _names("S", int(session.max()) + 1)
    else:
        stood = _set_ups(np.zeros(0, np.int64), np.zeros(0, np.int64))
        session, sessions = np.full(observed, -1), ()
    raised = np.concatenate([np.zeros(count), stood.height])
    return Network(
        frame,
        Marks(names, xyz, blank, blank, 1 + np.arange(count)),
        stood,
        Vectors(
            _names("B", observed), start, end, np.zeros((observed, 3)), raised[start],
            raised[end], single(covariance), session, np.full(observed, -1),
            np.ones(observed, dtype=bool), 1 + length,
        ),
        _no_positions(),
        _known(xyz, random),
        sessions,
    )  # fmt: skip


def _sessions(start: Ints, end: Ints, count: int) -> tuple[SetUps, Ints, Ints, Ints]:
    """Return set-ups, the nodes that vectors join, and their sessions.

    ``start`` is sorted: a session is all that was measured from one mark.
    """
    base, session = np.unique(start, return_inverse=True)
    mark = np.concatenate([base, end])
    number = np.concatenate([np.arange(len(base)), session])
    rover = count + len(base) + np.arange(len(end))
    return _set_ups(mark, number), count + session, rover, session


def _set_ups(mark: Ints, session: Ints) -> SetUps:
    count = len(mark)
    blank = ("",) * count
    height = np.asarray(1.2 + 0.01 * (np.arange(count) % 60), dtype=np.float64)
    return SetUps(
        _names("O", count), mark, ("tripod",) * count, session, height,
        np.zeros((count, 2)), np.full(count, 0.001), np.full(count, 0.0015), blank,
        blank, blank, 1 + np.arange(count),
    )  # fmt: skip


def _covariances(
    frame: GeodeticFrame,
    xyz: Floats,
    start: Ints,
    end: Ints,
    random: np.random.Generator,
) -> Floats:
    """Return (n, 3, 3) covariances, m²: 3 mm and 1 ppm, twice that in height."""
    size = 0.003 + 1e-6 * np.linalg.norm(xyz[end] - xyz[start], axis=1)
    mix = random.normal(0, 0.35, (len(start), 3, 3)) + np.diag([1.0, 1.0, 2.0])
    # A share of noise of its own in each, so that no two are the same.
    level = mix @ np.swapaxes(mix, 1, 2) + 0.1 * np.eye(3)
    axes = frame.axes(xyz)[start]
    turned = np.swapaxes(axes, 1, 2) @ level @ axes
    symmetric = (turned + np.swapaxes(turned, 1, 2)) / 2
    return np.asarray(symmetric * size[:, None, None] ** 2)


def _known(xyz: Floats, random: np.random.Generator) -> KnownMarks:
    count = max(3, len(xyz) // 500)
    mark = np.sort(random.choice(len(xyz), count, replace=False))
    return KnownMarks(
        mark, xyz[mark], np.ones((count, 3), dtype=bool), ("weighted",) * count,
        ("weighted",) * count, single(np.tile(1e-4 * np.eye(3), (count, 1, 1))),
        ("",) * count, np.ones(count, dtype=bool), 1 + np.arange(count),
    )  # fmt: skip


def _no_positions() -> Positions:
    none, nowhere = np.zeros(0, dtype=np.int64), np.zeros((0, 3))
    unused = np.zeros(0, dtype=bool)
    return Positions(
        (), none, nowhere, np.zeros(0), nowhere.astype(bool), (), none, unused, none
    )


def _names(letter: str, count: int) -> Names:
    digits = len(str(count))
    return tuple(f"{letter}{number:0{digits}d}" for number in range(1, count + 1))
