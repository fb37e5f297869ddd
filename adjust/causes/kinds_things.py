"""Causes in what was used together: a set-up, a session, a tripod, an antenna."""

from collections.abc import Iterator, Sequence
from itertools import islice

import numpy as np

from ...networks.covariances import Floats
from ..judge.names import about
from .cause import Cause, apart, together
from .field import Field

_EXCHANGES = 300
"""Pairs of set-ups that are tried for an exchange of names."""


def set_ups(field: Field) -> Iterator[Cause]:
    """Yield the height of each set-up alone, and its place and height together.

    A set-up to which only sights go is that of a target.
    """
    rows = sorted(field.looked_at("set-up"))
    every = about(field.network, "set-up", np.array(rows, dtype=np.int64))
    said = dict(zip(rows, every, strict=True))
    for row in rows:
        node, name = field.set_up(row), (field.network.set_ups.name[row],)
        target = not field.of_nodes([node], np.array([2]), ("antenna", "instrument"))
        kind = "target height" if target else "set-up height"
        what = said[row] if said[row].startswith("target ") else f"set-up {said[row]}"
        yield from field.moved(kind, name, f"height of {what}", [node], "u")
        kind = "set-up on wrong mark"
        yield from field.moved(kind, name, f"place and height of {what}", [node])


def exchanged(field: Field) -> Iterator[Cause]:
    """Yield set-ups of one session booked under each other's names.

    The one stood where the other is booked: opposite shifts of the same amounts. Such
    a cause is named only where they come out as the difference of the two marks.
    """
    set_ups = field.network.set_ups
    enu = np.arange(3)
    for a, b in islice(_pairs_of_sessions(field), _EXCHANGES):
        nodes = (field.set_up(a), field.set_up(b))
        both = [field.of_nodes([node], enu, ("antenna",)) for node in nodes]
        if not all(both):
            continue
        parts = together([*both[0], *both[1]], [-1.0] * len(both[0]) + [1.0])
        names = (set_ups.name[a], set_ups.name[b])
        words = f"set-ups {names[0]} and {names[1]} exchanged"
        marks = (int(set_ups.mark[a]), int(set_ups.mark[b]))
        yield Cause("set-ups exchanged", names, words, "enu", *parts, nodes, marks)


def _pairs_of_sessions(field: Field) -> Iterator[tuple[int, int]]:
    """Yield set-ups of one session over different marks, in the order of the table."""
    set_ups = field.network.set_ups
    of: dict[int, list[int]] = {}
    for row, session in enumerate(set_ups.session.tolist()):
        of.setdefault(session, []).append(row)
    for a, session in enumerate(set_ups.session.tolist()):
        if session < 0:
            continue
        for b in of[session]:
            if b > a and set_ups.mark[a] != set_ups.mark[b]:
                yield a, b


def sessions(field: Field) -> Iterator[Cause]:
    """Yield each session as a whole: none of its vectors is to be trusted."""
    vectors = field.network.vectors
    used = np.flatnonzero(field.used("baseline"))
    of: list[list[int]] = [[] for _ in field.network.sessions]
    for edge, number in zip(used.tolist(), vectors.session[used].tolist(), strict=True):
        if number >= 0:
            of[number].append(edge)
    looked_at = field.looked_at("baseline")
    for name, edges in zip(field.network.sessions, of, strict=True):
        if len(edges) > 1 and not looked_at.isdisjoint(edges):
            columns = [field.rows.edge("baseline", edge) for edge in edges]
            ends = [vectors.start[edges], vectors.end[edges]]
            marks = field.network.mark_of(np.concatenate(ends))
            yield Cause(
                "session",
                (name,),
                f"session {name}, all {len(edges)} vectors",
                "",
                *apart(columns),
                marks=tuple(dict.fromkeys(marks.tolist())),
            )


def tripods(field: Field) -> Iterator[Cause]:
    """Yield a height common to all set-ups of a tripod, such as a worn hook."""
    yield from _common_height(field, "tripod", field.network.set_ups.tripod)


def antennas(field: Field) -> Iterator[Cause]:
    """Yield a height common to all set-ups of an antenna: its offset is wrong."""
    yield from _common_height(field, "antenna", field.network.set_ups.antenna)


def _common_height(field: Field, kind: str, of: Sequence[str]) -> Iterator[Cause]:
    found: dict[str, list[int]] = {}
    for row, own in enumerate(of):
        if own:
            found.setdefault(own, []).append(row)
    for name, rows in found.items():
        nodes = [field.set_up(row) for row in rows]
        if len(rows) > 1:
            words = f"one height error in all {len(rows)} set-ups of {kind} {name}"
            yield from field.moved(kind, (name,), words, nodes, "u")


def groups(field: Field) -> Iterator[Cause]:
    """Yield the scale of each processing group, and its turn about the vertical."""
    vectors = field.network.vectors
    used = np.flatnonzero(field.used("baseline"))
    for number, name in enumerate(field.network.groups):
        edges = used[vectors.group[used] == number].tolist()
        if len(edges) < 2:
            continue
        columns = [field.rows.edge("baseline", edge) for edge in edges]
        along = _along(field, edges)
        turned = along[:, [1, 0, 2]] * [1.0, -1.0, 0.0]
        for what, measure, weights in (
            ("scale", "ratio", along),
            ("turn about the vertical", "rad", turned),
        ):
            base = np.concatenate(columns).astype(np.int64)
            first = np.zeros(len(base), dtype=np.int64)
            words = f"{what} of the vectors of group {name}"
            yield Cause("group", (name,), words, measure, base, first, weights.ravel())


def _along(field: Field, edges: list[int]) -> Floats:
    """Return (k, 3) adjusted vectors in east, north, up at their starts, m."""
    vectors = field.network.vectors
    axes = field.adjustment.nodes.axes[vectors.start[edges]]
    adjusted = vectors.delta[edges] - field.kinds["baseline"].misclosure[edges]
    return np.asarray(np.einsum("kij,kj->ki", axes, adjusted))
