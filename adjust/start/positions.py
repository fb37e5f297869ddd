"""Starting positions of all marks, from everything that was observed."""

from itertools import chain

import numpy as np

from ...networks import Network, NoSolution
from ...networks.covariances import Bools, Floats
from .bodies import Body
from .carrying import (
    Seeds,
    carry,
    carry_between,
    carry_unturned,
    firm_seeds,
    pieces,
    rough_seeds,
    stand_ins,
    turned_pieces,
    vectors_by_mark,
)
from .heights import carried, carried_over_plan, laid_level, levelled
from .plan import placed_in_plan
from .plane import Plane
from .seen import seen_in_plan


def starting_positions(network: Network) -> Floats:
    """Return (m, 3) approximate cartesian positions of all marks, m.

    Known marks and positions come first; vectors carry them on, then whatever else
    was observed. Approximate positions of stations.csv serve for what nothing else
    places, and to choose between two places. A piece that nothing places is laid
    beside the rest, for the estimate to say that it floats.

    Parameters
    ----------
    network : Network

    Returns
    -------
    ndarray, shape (m, 3)

    Raises
    ------
    NoSolution
        Nothing at all has a position; the geometry of a mark is hopeless; two places
        fit a mark equally well.
    """
    return _found(network)[0]


def guessed_marks(network: Network) -> tuple[str, ...]:
    """Return the names of marks whose starting position is no more than a guess.

    Parameters
    ----------
    network : Network

    Returns
    -------
    tuple of str
        Marks that are sighted, and that neither the observations one by one nor an
        approximate position place in plan.
    """
    return tuple(network.marks.name[mark] for mark in sorted(_found(network)[1]))


def _nowhere(network: Network) -> NoSolution:
    """Return that no mark has a position; first that none is known, where so."""
    near = "give one mark an approximate position in stations.csv"
    if len(network.known):
        return NoSolution(
            "no mark has a position to start from", network.marks.name, mend=near
        )
    return NoSolution(
        "there is no known mark, control.csv is missing or empty, and no mark has an "
        "approximate position to start from",
        network.marks.name,
        mend=f"book the known marks in control.csv; for a network that hangs on none, "
        f"{near}",
    )


def _found(network: Network) -> tuple[Floats, set[int]]:
    """Return the starting positions, and the marks where they are a guess."""
    xyz = np.full((len(network.marks), 3), np.nan)
    neighbours = vectors_by_mark(network)
    known, seen, *in_plan = firm_seeds(network)
    for seeds in (known, seen):
        carry_between(xyz, neighbours, seeds, network.frame)
    tall = ~np.isnan(xyz[:, 0])
    for seeds in in_plan:
        carry_between(xyz, neighbours, seeds, network.frame)
    guessed: set[int] = set()
    heights = np.full(len(xyz), np.nan)
    turned = bool((network.turns_to_find() >= 0).any())
    more = bool(network.sights) or network.levels is not None or turned
    if not more and not np.isnan(xyz[:, 0]).any():
        return xyz, guessed
    rough = rough_seeds(network)
    every = [*known, *seen, *chain(*in_plan), *rough, *stand_ins(network)]
    first = next(iter(every), None)
    if first is None:
        raise _nowhere(network)
    if more:
        plane = Plane(network, first[1])
        guessed = _from_everything(network, plane, xyz, heights, tall, rough)
    loose = np.isnan(xyz[:, 0])
    carry(xyz, neighbours, rough + stand_ins(network))
    if turned:
        carry_unturned(network, xyz)
    xyz[np.isnan(xyz[:, 0])] = first[1]
    _raise(network, xyz, heights, loose & levelled(network))
    return xyz, guessed


def _from_everything(
    network: Network,
    plane: Plane,
    xyz: Floats,
    heights: Floats,
    tall: Bools,
    rough: Seeds,
) -> set[int]:
    """Place, in place, what sights and levels reach; return the marks that are guessed.

    Vectors are carried already; ``tall`` says which places have a known height.
    """
    heights[:] = _known_heights(network, xyz, tall)
    carried(network, plane, heights)
    placed = ~np.isnan(xyz[:, 0])
    neighbours = vectors_by_mark(network)
    joined = pieces(neighbours, placed)
    bodies: list[tuple[dict[int, Floats], float | None]]
    bodies = [(piece, 0.0) for piece in joined]
    bodies += [(piece, None) for piece in turned_pieces(network)]
    places, guessed = placed_in_plan(
        seen_in_plan(network, heights),
        _plan(plane, [(int(m), xyz[m]) for m in np.flatnonzero(placed)]),
        _plan(plane, rough),
        [
            Body(_plan(plane, [(m, plane.origin + d) for m, d in p.items()]), turn, 1.0)
            for p, turn in bodies
        ],
        network.marks.name,
    )
    carried_over_plan(network, plane, heights, places)
    for mark, place in rough:
        if np.isnan(heights[mark]):
            heights[mark] = network.frame.heights(place[None])[0]
    carried_over_plan(network, plane, heights, places)
    laid_level(network, heights)
    new = [mark for mark in places if not placed[mark]]
    xyz[new] = plane.lifted([places[mark] for mark in new], heights[new])
    _raise(network, xyz, heights, placed & ~tall)
    for piece in joined:
        # Once more in space: the plan is one plane, vectors may be longer than that.
        first = next(iter(piece))
        for mark, offset in piece.items():
            xyz[mark] = xyz[first] + offset - piece[first]
    return guessed


def _plan(plane: Plane, seeds: Seeds) -> dict[int, complex]:
    """Return the plan of the seeds; the first place of a mark counts."""
    if not seeds:
        return {}
    points = plane.of(np.array([place for _, place in seeds]))
    return dict(reversed([(m, p) for (m, _), p in zip(seeds, points, strict=True)]))


def _known_heights(network: Network, xyz: Floats, tall: Bools) -> Floats:
    """Return (m,) the heights of known marks, positions and what vectors carried."""
    heights = np.full(len(xyz), np.nan)
    heights[tall] = network.frame.heights(xyz[tall])
    known, positions = network.known, network.positions
    firm = (known.in_use("held") | known.in_use("weighted"))[:, 2]
    rows = [(known.mark[i], known.xyz[i]) for i in np.flatnonzero(firm)]
    marks = network.mark_of(positions.node)
    seen = positions.used & positions.components[:, 2]
    rows += [(marks[i], positions.xyz[i]) for i in np.flatnonzero(seen)]
    for mark, place in rows:
        if np.isnan(heights[mark]) and np.isfinite(place).all():
            heights[mark] = network.frame.heights(place[None])[0]
    return heights


def _raise(network: Network, xyz: Floats, heights: Floats, some: Bools) -> None:
    """Move some marks, in place, up to their heights."""
    if some.any():
        up = network.frame.axes(xyz[some])[:, 2]
        lacking = heights[some] - network.frame.heights(xyz[some])
        xyz[some] += lacking[:, None] * up
