"""Points made from shots, taped distances and slopes, each with its covariance."""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from scipy import sparse

from ...networks.constructions import PARENTS, Constructions
from ...networks.covariances import Floats, Ints
from .construction_kinds import MAKERS
from .points import Points, Sparse, block_rows, with_points

TAPED = 5
"""Distance, second distance, dip, pipe, slope."""


@dataclass(frozen=True, slots=True)
class Constructed:
    """All points, those made among them, and the other solutions of ties."""

    points: Points
    """The shots, then the constructions in the order of their table."""
    covariance: Floats
    """(c, 3, 3) of each construction, m²; NaN where it cannot be judged."""
    solutions: Floats
    """(c, 2, 2) both solutions of two ties, to the left and to the right of the way
    from the first to the second point, east and north, m; NaN for the rest."""
    trouble: tuple[str, ...]
    """(c,) why a point could not be made; empty where it was."""


def construct(points: Points, made_from: Constructions, scale: float) -> Constructed:
    """Return every construction, each after those that it is made from.

    Parameters
    ----------
    points : Points
        The shots; no construction among them.
    made_from : Constructions
        Its numbers of points count the shots first.
    scale : float
        Grid metres a metre on the ground, for what was taped.
    """
    roots, count = len(points.name), len(made_from)
    place = np.full(roots + count + 1, -1, dtype=np.int64)
    place[:roots] = np.arange(roots)
    for rows in levels(made_from, roots):
        place[roots + rows] = len(points.name) + np.arange(len(rows))
        points = _with_level(points, made_from, rows, place, scale)
    solutions = _both(points, made_from, place, scale)
    mine = place[roots : roots + count]
    ordered = np.concatenate([np.arange(roots), mine])
    rows = (3 * ordered[:, None] + np.arange(3)).ravel()
    points = Points(
        tuple(points.name[i] for i in ordered),
        points.coordinates[ordered],
        points.parts[rows],
        points.sources,
    )
    own = np.arange(roots, roots + count)
    covariance = points.covariance(own)
    return Constructed(points, covariance, solutions, _troubles(points, made_from, own))


def _both(
    points: Points, made_from: Constructions, place: Ints, scale: float
) -> Floats:
    """Return (c, 2, 2) the solutions of ties to the left and to the right."""
    made = np.full((len(made_from), 2, 2), np.nan)
    ties = np.flatnonzero([kind == "two ties" for kind in made_from.kind])
    if len(ties):
        parents = points.coordinates[place[made_from.parents[ties, :2]]]
        taped = _taped(made_from, ties, scale)
        for k, side in enumerate((1, -1)):
            sides = np.full(len(ties), side)
            made[ties, k] = MAKERS["two ties"](parents, taped, sides)[0][:, :2]
    return made


def levels(made_from: Constructions, roots: int) -> Iterator[Ints]:
    """Yield constructions whose parents are all there, level by level.

    Those that stand in a circle, and all that is made from them, are left out.
    """
    there = np.append(np.zeros(len(made_from), dtype=bool), True)
    parent = np.where(
        made_from.parents >= roots, made_from.parents - roots, len(made_from)
    )
    while True:
        ready = there[parent].all(axis=1) & ~there[:-1]
        rows = np.flatnonzero(ready)
        if not len(rows):
            return
        yield rows
        there[rows] = True


def _with_level(
    points: Points, made_from: Constructions, rows: Ints, place: Ints, scale: float
) -> Points:
    """Return the points with constructions whose parents are all among them."""
    kinds = np.array(made_from.kind, dtype=object)[rows]
    coordinates = np.full((len(rows), 3), np.nan)
    partials = np.zeros((len(rows), 3, 4, 3))
    by_tape = np.zeros((len(rows), 3, TAPED))
    for kind in dict.fromkeys(kinds):
        at = np.flatnonzero(kinds == kind)
        mine, number = rows[at], PARENTS[kind]
        parents = points.coordinates[place[made_from.parents[mine, :number]]]
        point, one, other = MAKERS[kind](
            parents, _taped(made_from, mine, scale), made_from.side[mine]
        )
        coordinates[at], by_tape[at] = point, other
        partials[at, :, :number] = one
    by_tape[:, :, :2] *= scale
    # What is not known of a coordinate is said by the coordinate.
    partials, by_tape = np.nan_to_num(partials), np.nan_to_num(by_tape)
    columns = place[made_from.parents[rows]]
    return with_points(
        points,
        [made_from.name[i] for i in rows],
        coordinates,
        _scattered(partials, np.maximum(columns, 0), len(points.name)),
        block_rows(by_tape, np.arange(len(rows)), len(rows)),
        _variances(made_from, rows).ravel(),
    )


def _scattered(partials: Floats, columns: Ints, count: int) -> Sparse:
    """Return (k, 3, P, 3) partials as a sparse (3k, 3N) matrix."""
    k = len(partials)
    row = np.arange(3 * k).reshape(k, 3, 1, 1)
    column = (3 * columns[:, None, :, None]) + np.arange(3)
    full = np.broadcast_arrays(partials, row, column)
    value, at, to = (some.ravel() for some in full)
    keep = value != 0
    return sparse.csr_array((value[keep], (at[keep], to[keep])), (3 * k, 3 * count))


def _taped(made_from: Constructions, rows: Ints, scale: float) -> Floats:
    """Return (k, 5) what was taped, level distances in grid metres."""
    taped = made_from.taped[rows] * [scale, scale, 1.0, 1.0]
    return np.concatenate([taped, made_from.slope[rows, None]], axis=1)


def _variances(made_from: Constructions, rows: Ints) -> Floats:
    sds = np.concatenate(
        [made_from.sd_taped[rows], np.nan_to_num(made_from.sd_slope[rows, None])],
        axis=1,
    )
    return np.asarray(sds**2)


def _troubles(points: Points, made_from: Constructions, own: Ints) -> tuple[str, ...]:
    made = []
    for i, at in enumerate(own.tolist()):
        plan = points.coordinates[at, :2]
        if np.isfinite(plan).all():
            made.append("")
            continue
        kind = made_from.kind[i]
        words = {
            "two ties": "the two ties do not meet",
            "inside corner": "the two walls are parallel, or a wall has no length",
        }.get(kind, "its two points are one place: no direction")
        if kind == "two ties" and made_from.side[i] == 0:
            words = "no side is named: see both solutions"
        made.append(words)
    return tuple(made)
