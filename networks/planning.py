"""Planned work added to a network: set-ups, vectors, runs, rounds to be observed.

What is added carries the precision that is expected of it. Its observed values are
filled in by ``simulate``, without noise: a plan has no misfit, only a shape.
"""

from collections.abc import Sequence
from dataclasses import dataclass, fields, replace
from typing import Any, TypeVar

import numpy as np

from .covariances import Batch, Covariances, Floats, Ints, stacked
from .network import Network
from .observations import Levels, Parameters, Positions, SetUps, Sights, Vectors


@dataclass(frozen=True, slots=True)
class Planned:
    """One piece of work: marks occupied together, or a run from one to the other."""

    name: str
    kind: str
    """``baseline`` (vectors from the first mark to each other), ``position``,
    ``levelling run`` or ``total-station round`` (from the first mark)."""
    marks: tuple[int, ...]
    sd: tuple[float, ...]
    """m: plan per axis and height; of a run its one sd. Of a round: direction and
    zenith angle (rad), distance (m)."""
    set_up: tuple[float, float]
    """m: centring per axis and height, of every set-up."""
    height: float = 1.5
    """m, of instruments and antennas over their marks."""


def with_planned(network: Network, work: Sequence[Planned], places: Floats) -> Network:
    """Return a network with planned work in it.

    Every piece of work has set-ups of its own, named after it: work done from one
    set-up is one piece.

    Parameters
    ----------
    network : Network
    work : sequence of Planned
        With different names.
    places : ndarray, shape (m, 3)
        Where the marks are, cartesian, m.

    Returns
    -------
    Network
        Observed values of what is planned are zero.
    """
    marks = replace(network.marks, approximate=places)
    network = replace(network, marks=marks)
    for one in work:
        network = _ADDED[one.kind](network, one)
    vectors, positions = network.vectors, network.positions
    return replace(
        network,
        vectors=replace(vectors, covariances=stacked(vectors.covariances)),
        positions=replace(positions, covariances=stacked(positions.covariances)),
    )


def without_planned(network: Network, one: Planned) -> Network:
    """Return a network with planned work in it, one piece of it left out again.

    Parameters
    ----------
    network : Network
        As from ``with_planned``.
    one : Planned
    """
    if one.kind == "levelling run" and network.levels is not None:
        used = network.levels.used.copy()
        used[_last(network.levels.name, one.name)] = False
        return replace(network, levels=replace(network.levels, used=used))
    gone = np.zeros(len(network.marks) + len(network.set_ups) + 1, dtype=bool)
    session = _last(network.sessions, one.name)
    gone[len(network.marks) : -1] = network.set_ups.session == session
    vectors, positions = network.vectors, network.positions
    return replace(
        network,
        vectors=replace(vectors, used=vectors.used & ~gone[vectors.start]),
        positions=replace(positions, used=positions.used & ~gone[positions.node]),
        sights=tuple(
            replace(some, used=some.used & ~gone[some.at]) for some in network.sights
        ),
    )


def _last(names: Sequence[str], name: str) -> int:
    """Return the last place of a name: what is planned comes after what was done."""
    return len(names) - 1 - names[::-1].index(name)


def _with_set_ups(network: Network, one: Planned) -> tuple[Network, Ints]:
    """Return the network with a set-up over each mark, and their nodes."""
    count = len(one.marks)
    before = network.set_ups
    marks = len(network.marks)
    names = tuple(f"{one.name} {network.marks.name[mark]}" for mark in one.marks)
    support = "target" if one.kind == "total-station round" else "tripod"
    made = SetUps(
        names,
        np.array(one.marks),
        (support,) * count,
        np.full(count, len(network.sessions)),
        np.full(count, one.height),
        np.zeros((count, 2)),
        np.full(count, one.set_up[0]),
        np.full(count, one.set_up[1]),
        ("",) * count,
        ("",) * count,
        ("",) * count,
        np.zeros(count, dtype=np.int64),
    )
    nodes = marks + len(before) + np.arange(count)
    both = _joined(before, made)
    more = replace(network, set_ups=both, sessions=(*network.sessions, one.name))
    return more, nodes


def _baseline(network: Network, one: Planned) -> Network:
    """Add vectors from the first mark to each other, correlated by it."""
    network, nodes = _with_set_ups(network, one)
    count = len(nodes) - 1
    first = len(network.vectors)
    enu = np.array([one.sd[0], one.sd[0], one.sd[1]]) ** 2
    axes = _axes(network, one.marks[0])
    own = axes.T @ np.diag(enu) @ axes
    # Receivers as good as one another: each vector has half its variance from the
    # first, which all share.
    shared = (np.ones((count, count)) + np.eye(count)) / 2
    block: Floats = np.asarray(np.kron(shared, own), dtype=np.float64)
    zero = np.zeros(count)
    names = [one.name] if count == 1 else [f"{one.name}/{k + 1}" for k in range(count)]
    height = np.full(count, one.height)
    made = Vectors(
        tuple(names),
        np.full(count, nodes[0]),
        nodes[1:],
        np.zeros((count, 3)),
        height,
        height,
        (Batch(np.arange(count)[None], block[None]),),
        np.full(count, len(network.sessions) - 1),
        zero.astype(np.int64),
        np.ones(count, dtype=bool),
        zero.astype(np.int64),
        None if network.vectors.parameter is None else np.full((count, 2), -1),
    )
    groups = network.groups or ("planned",)
    joined = _joined(network.vectors, made, first)
    return replace(network, vectors=joined, groups=groups)


def _position(network: Network, one: Planned) -> Network:
    network, nodes = _with_set_ups(network, one)
    enu = np.array([one.sd[0], one.sd[0], one.sd[1]]) ** 2
    none = np.zeros(1, dtype=np.int64)
    parameter = network.positions.parameter
    made = Positions(
        (one.name,),
        nodes,
        np.zeros((1, 3)),
        np.array([one.height]),
        np.ones((1, 3), dtype=bool),
        (Batch(none[None], np.diag(enu)[None]),),
        none,
        np.ones(1, dtype=bool),
        none,
        None if parameter is None else np.full((1, 3), -1),
    )
    groups = network.groups or ("planned",)
    first = len(network.positions)
    joined = _joined(network.positions, made, first)
    return replace(network, positions=joined, groups=groups)


def _levelling(network: Network, one: Planned) -> Network:
    start, end = one.marks
    parameter = np.full((1, 2), -1)
    zero, none = np.zeros(1), np.zeros(1, dtype=np.int64)
    made = Levels(
        (one.name,),
        np.array([start]),
        np.array([end]),
        zero,
        np.array([one.sd[0]]),
        zero,
        zero,
        parameter,
        np.ones(1, dtype=bool),
        none,
    )
    before = network.levels
    return replace(network, levels=made if before is None else _joined(before, made))


def _round(network: Network, one: Planned) -> Network:
    """Add directions, zenith angles and distances from the first mark to the rest."""
    network, nodes = _with_set_ups(network, one)
    parameters = network.parameters
    orientation = len(parameters)
    more = Parameters(
        (f"orientation of {one.name}",),
        ("orientation",),
        np.array([np.nan]),
        np.array([np.nan]),
    )
    network = replace(network, parameters=_joined(parameters, more))
    values = {
        "direction": (one.sd[0], orientation),
        "zenith angle": (one.sd[1], -1),
        "slope distance": (one.sd[2], -1),
    }
    sights = {some.kind: some for some in network.sights}
    for kind, (sd, parameter) in values.items():
        made = _sights(one, kind, nodes, sd, parameter)
        sights[kind] = _joined(sights[kind], made) if kind in sights else made
    return replace(network, sights=tuple(sights.values()))


def _sights(one: Planned, kind: str, nodes: Ints, sd: float, parameter: int) -> Sights:
    count = len(nodes) - 1
    zero, none = np.zeros(count), np.zeros(count, dtype=np.int64)
    height = np.full(count, one.height)
    both = np.stack([np.full(count, parameter), np.full(count, -1)], axis=1)
    return Sights(
        kind,
        tuple(f"{one.name}-{k + 1}" for k in range(count)),
        np.full(count, nodes[0]),
        nodes[1:],
        np.full(count, -1),
        height,
        height,
        zero,
        zero,
        np.full(count, sd),
        both,
        np.full(count, _REFRACTION),
        np.ones(count, dtype=bool),
        none,
    )


_REFRACTION = 0.13
"""Coefficient (Gauss); a plan asks for precision, where it does not matter."""

_ADDED = {
    "baseline": _baseline,
    "position": _position,
    "levelling run": _levelling,
    "total-station round": _round,
}


def _axes(network: Network, mark: int) -> Floats:
    """Return east, north, up of a mark, rows."""
    made: Floats = network.frame.axes(network.marks.approximate[[mark]])[0]
    return made


_Columns = TypeVar("_Columns", SetUps, Vectors, Positions, Levels, Parameters, Sights)


def _joined(before: _Columns, more: _Columns, first: int = 0) -> _Columns:
    """Return columns with more rows; clusters of the second counted on from first."""
    values = {
        field.name: _both(
            getattr(before, field.name), getattr(more, field.name), first, len(more)
        )
        for field in fields(before)
    }
    return replace(before, **values)


def _both(before: Any, more: Any, first: int, count: int) -> Any:
    """Return one column with more rows: an array, names, or covariances.

    A column that what is planned leaves open is −1 in it: none.
    """
    if before is None or isinstance(before, str):
        return before
    if isinstance(before, np.ndarray):
        none = np.full((count, *before.shape[1:]), -1, dtype=before.dtype)
        return np.concatenate([before, none if more is None else more])
    if more and isinstance(more[0], Batch):
        return (*before, *_counted_on(more, first))
    return (*before, *more)


def _counted_on(batches: Covariances, first: int) -> Covariances:
    return tuple(replace(one, members=one.members + first) for one in batches)
