"""Causes in a unit: feet booked as metres, or one foot taken for the other.

One amount along the booked values: booked minus true = f · booked. Any amount can be
fitted so; such a cause is named only where f comes out as that of two units
(``standing.py``), and then it is simpler than a shift in two or three directions.
"""

from collections.abc import Iterator, Sequence

import numpy as np

from ...networks.covariances import Floats, Ints
from .cause import Cause
from .field import Field
from .kinds_known import known_column
from .rows import ROLES

UNIT_OF = "unit of "
"""How the words of such a cause begin until it is known which two units they are."""
_STEP = 1e-6
"""Share of a grid coordinate over which the way it points is taken."""
_DISTANCES = ("slope distance", "horizontal distance")
_Part = tuple[Ints, Floats]
"""Base columns and how much of each."""


def units(field: Field) -> Iterator[Cause]:
    """Yield what may be booked in another unit: heights, known marks, vectors, files.

    Parameters
    ----------
    field : Field
    """
    yield from _heights(field)
    yield from _known(field)
    yield from _vectors(field)
    yield from _distances(field)
    yield from _levels(field)


def _cause(
    about: tuple[str, ...],
    words: str,
    parts: Sequence[_Part],
    nodes: tuple[int, ...] = (),
    marks: tuple[int, ...] = (),
    known: tuple[int, ...] = (),
) -> list[Cause]:
    """Return the cause that booked values share a wrong unit; none where all are 0."""
    base = np.concatenate([np.zeros(0, np.int64), *(own for own, _ in parts)])
    weight = np.concatenate([np.zeros(0), *(own for _, own in parts)])
    if not np.any(weight):
        return []
    one = np.zeros(len(base), np.int64)
    made = (base.astype(np.int64), one, weight)
    said = f"{UNIT_OF}{words}"
    return [Cause("unit", about, said, "factor", *made, nodes, marks, known)]


def _heights(field: Field) -> Iterator[Cause]:
    """Yield the height of each set-up: of antenna, instrument and target apart."""
    set_ups = field.network.set_ups
    read = _heights_read(field)
    for row in sorted(field.looked_at("set-up")):
        name = set_ups.name[row]
        node, mark = field.set_up(row), int(set_ups.mark[row])
        for role in ROLES:
            for columns in field.of_nodes([node], np.array([2]), (role,)):
                height = read.get((role, node), float(set_ups.height[row]))
                what = "set-up" if role == "antenna" else f"{role} on"
                said = name if name.startswith("target ") else f"{what} {name}"
                part = (columns, np.array([-height if np.isfinite(height) else 0.0]))
                yield from _cause(
                    (name,), f"height of {said}", [part], (node,), (mark,)
                )


def _heights_read(field: Field) -> dict[tuple[str, int], float]:
    """Return heights above the node as sights have them, by role and node, m."""
    found: dict[tuple[str, int], float] = {}
    for sights in field.network.sights:
        for role, nodes, heights in (
            ("instrument", sights.at, sights.at_height),
            ("target", sights.to, sights.to_height),
        ):
            pairs = zip(nodes.tolist(), heights.tolist(), strict=True)
            found |= {(role, node): height for node, height in pairs}
    return found


def _known(field: Field) -> Iterator[Cause]:
    """Yield plan, height and all of each known mark, and of all of them together."""
    network = field.network
    together: dict[str, list[_Part]] = {"en": [], "u": [], "enu": []}
    in_words = {"en": "plan of ", "u": "height of ", "enu": ""}
    all_marks = tuple(dict.fromkeys(network.known.mark.tolist()))
    for row in range(len(network.known)):
        mark = int(network.known.mark[row])
        name, parts = network.marks.name[mark], _known_parts(field, row)
        for letters, said in in_words.items():
            own = [parts[letter] for letter in letters if letter in parts]
            together[letters] += own
            if len(own) == len(letters):
                words = f"{said}known mark {name}"
                yield from _cause((name,), words, own, (mark,), (mark,), (mark,))
    for letters, own in together.items():
        if len(own) > len(letters):
            words = f"{in_words[letters]}all known marks"
            yield from _cause((), words, own, (), all_marks, all_marks)


def _known_parts(field: Field, row: int) -> dict[str, _Part]:
    """Return base columns of the components in use, weighted with what is booked."""
    way = booked_way(field, row)
    made = {}
    for letter, along in zip("enu", way.tolist(), strict=True):
        column = known_column(field, row, letter)
        if column is not None and np.isfinite(along):
            made[letter] = (column[0], column[1] * along)
    return made


def booked_way(field: Field, row: int) -> Floats:
    """Return (3,) how a known mark moves, east, north, up, per unit of its unit, m.

    The grid coordinates, false origins included, turned into the mark's own axes; the
    height as it is booked. NaN in plan where coordinates are not on a grid.
    """
    network = field.network
    known, frame = network.known, network.frame
    xyz, mark = known.xyz[row], int(known.mark[row])
    height = float(frame.heights(xyz[None])[0])
    booked = height
    above = known.orthometric is not None and bool(known.orthometric[row])
    if above and network.undulations is not None:
        booked -= float(network.undulations.value[mark])
    if not frame.has_grid:
        return np.array([np.nan, np.nan, booked])
    north, east, _ = frame.grid(xyz[None])[0] * (1 - _STEP)
    there = frame.place(np.array([north]), np.array([east]), np.array([height]))[0]
    plan = (frame.axes(xyz[None])[0] @ (xyz - there))[:2] / _STEP
    return np.array([*plan, booked])


def _vectors(field: Field) -> Iterator[Cause]:
    """Yield each vector, and those of each session and group together."""
    network, vectors = field.network, field.network.vectors
    used = np.flatnonzero(field.used("baseline")).tolist()
    axes = field.adjustment.nodes.axes[vectors.start]
    booked = np.einsum("nij,nj->ni", axes, vectors.delta)
    looked_at = field.looked_at("baseline")

    def part(edge: int) -> _Part:
        return field.rows.edge("baseline", edge), booked[edge]

    for edge in sorted(looked_at):
        ends = network.mark_of(np.array([vectors.start[edge], vectors.end[edge]]))
        name, marks = vectors.name[edge], tuple(ends.tolist())
        yield from _cause((name,), f"baseline {name}", [part(edge)], (), marks)
    for what, names, of in (
        ("session", network.sessions, vectors.session),
        ("group", network.groups, vectors.group),
    ):
        found: dict[int, list[int]] = {}
        for edge, number in zip(used, of[used].tolist(), strict=True):
            found.setdefault(number, []).append(edge)
        for number, name in enumerate(names):
            some = found.get(number, [])
            if len(some) > 1 and not looked_at.isdisjoint(some):
                words = f"all {len(some)} vectors of {what} {name}"
                yield from _cause((name,), words, [part(edge) for edge in some])


def _distances(field: Field) -> Iterator[Cause]:
    """Yield all distances from each set-up of an instrument."""
    found: dict[int, list[_Part]] = {}
    for sights in field.network.sights:
        if sights.kind in _DISTANCES:
            for edge in np.flatnonzero(field.used(sights.kind)).tolist():
                part = (
                    field.rows.edge(sights.kind, edge),
                    sights.value[edge : edge + 1],
                )
                found.setdefault(int(sights.at[edge]), []).append(part)
    for node, parts in found.items():
        name = field.network.node_name(node)
        words = f"all {len(parts)} distances from {name}"
        yield from _cause((name,), words, parts, (node,))


def _levels(field: Field) -> Iterator[Cause]:
    """Yield the rise of each section, its runs together, and of all of them."""
    levels = field.network.levels
    if levels is None:
        return
    found: dict[str, list[_Part]] = {}
    for edge in np.flatnonzero(field.used("level difference")).tolist():
        section = levels.name[edge].removesuffix(" out").removesuffix(" back")
        column = field.rows.edge("level difference", edge)
        found.setdefault(section, []).append((column, levels.rise[edge : edge + 1]))
    for section, parts in found.items():
        yield from _cause((section,), f"rise of section {section}", parts)
    everything = [part for parts in found.values() for part in parts]
    yield from _cause((), "rises of all levelled runs", everything)
