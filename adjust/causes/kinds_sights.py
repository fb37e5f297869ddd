"""Causes in what a total station read: pointings, heights, constants, a bump."""

from collections.abc import Callable, Iterator

import numpy as np

from ...networks import Sights
from .cause import Cause, apart, together
from .field import Field

_DISTANCES = ("slope distance", "horizontal distance")


def pointings(field: Field) -> Iterator[Cause]:
    """Yield each pointing as a whole: all that was read in it is to be doubted."""
    found: dict[str, list[tuple[str, int]]] = {}
    for sights in field.network.sights:
        for edge in _used(field, sights):
            found.setdefault(sights.name[edge], []).append((sights.kind, edge))
    for name, edges in found.items():
        if len(edges) > 1:
            columns = [field.rows.edge(kind, edge) for kind, edge in edges]
            words = f"pointing {name}, all that was read in it"
            yield Cause("observation", (name,), words, "", *apart(columns))


def target_heights(field: Field) -> Iterator[Cause]:
    """Yield instrument and target apart where both stood over one tripod.

    Under forced centring the node is the tripod's; the instrument's height and the
    target's were booked each for itself.
    """
    for row in sorted(field.looked_at("set-up")):
        node, name = field.set_up(row), field.network.set_ups.name[row]
        roles = [r for r in ("instrument", "target") if (r, node) in field.touched]
        if len(roles) < 2:
            continue
        for role in roles:
            kind = "target height" if role == "target" else "set-up height"
            words = f"height of the {role} on {name}"
            about = (name, role)
            yield from field.moved(kind, about, words, [node], "u", (role,))


def constants(field: Field) -> Iterator[Cause]:
    """Yield a constant common to all distances of an instrument to a prism.

    Where the prisms are not booked: to each target set-up, and from each instrument.
    """
    for words, about, edges in _grouped(field):
        yield Cause("prism constant", about, words, "m", *_same(field, edges))


def instrument_scales(field: Field) -> Iterator[Cause]:
    """Yield a scale of all distances of an instrument, or of all of the job."""
    pairs: dict[str, list[tuple[Sights, int]]] = {}
    for sights in field.network.sights:
        if sights.kind in _DISTANCES:
            for edge in _used(field, sights):
                name = field.labels.instrument.get(sights.name[edge], "")
                pairs.setdefault(name, []).append((sights, edge))
    for name, edges in pairs.items():
        if len(edges) < 2:
            continue
        # Adjusted lengths: booked ones hold the misfit itself.
        lengths = [
            float(sights.value[edge] - field.kinds[sights.kind].misclosure[edge, 0])
            for sights, edge in edges
        ]
        words = f"scale of the distances of {name or 'the instrument'}"
        parts = _same(field, edges, lengths)
        yield Cause("instrument scale", (name,) if name else (), words, "ratio", *parts)


def bumped(field: Field) -> Iterator[Cause]:
    """Yield each place where a set of directions may have been broken.

    One turn of all directions after it, in the order of the table; a break beside the
    first or the last is that one direction's own error.
    """
    for sights in field.network.sights:
        if sights.kind != "direction":
            continue
        rounds: dict[int, list[int]] = {}
        for edge in _used(field, sights):
            rounds.setdefault(int(sights.parameter[edge, 0]), []).append(edge)
        for number, edges in rounds.items():
            if number < 0:
                continue
            of = field.network.parameters.name[number].removeprefix("orientation of ")
            for cut in range(2, len(edges) - 1):
                name = sights.name[edges[cut]]
                after = [(sights, edge) for edge in edges[cut:]]
                words = f"directions of {of} turned from {name} on"
                parts = _same(field, after)
                yield Cause("direction set broken", (of, name), words, "rad", *parts)


_Edges = list[tuple[Sights, int]]


def _used(field: Field, sights: Sights) -> list[int]:
    used = field.used(sights.kind)
    return np.flatnonzero(used).tolist() if len(used) else []


def _same(
    field: Field, edges: _Edges, weights: list[float] | None = None
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    columns = [field.rows.edge(sights.kind, edge) for sights, edge in edges]
    return together(columns, weights)


def _grouped(field: Field) -> Iterator[tuple[str, tuple[str, ...], _Edges]]:
    """Yield words, names and distances of each pair of instrument and prism."""
    labels = field.labels
    distances = [
        (sights, edge)
        for sights in field.network.sights
        if sights.kind in _DISTANCES
        for edge in _used(field, sights)
    ]

    def pair(sights: Sights, edge: int) -> tuple[str, ...]:
        name = sights.name[edge]
        both = (labels.instrument.get(name, ""), labels.prism.get(name, ""))
        return both if both[1] else ()

    def target(sights: Sights, edge: int) -> tuple[str, ...]:
        return (field.network.node_name(int(sights.to[edge])),)

    def instrument(sights: Sights, edge: int) -> tuple[str, ...]:
        return (field.network.node_name(int(sights.at[edge])),)

    keys: list[tuple[str, Callable[[Sights, int], tuple[str, ...]]]] = [
        ("prism constant of {}", pair),
        ("constant of all distances to {}", target),
        ("constant of all distances from {}", instrument),
    ]
    for words, key in keys:
        found: dict[tuple[str, ...], _Edges] = {}
        for sights, edge in distances:
            found.setdefault(key(sights, edge), []).append((sights, edge))
        for about, edges in found.items():
            if about and len(edges) > 1:
                said = " and ".join(filter(None, about))
                yield words.format(said), about, edges
