"""What stands on each mark, or starts or ends there: names, tests, independent ties."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from .content_readings import kinds_read, nodes_of, readings_of
from .content_show import family_of
from .judged import Judged

if TYPE_CHECKING:
    from ..networks.covariances import Bools, Ints

Thing = tuple[str, str]
"""Kind and name: ``("baseline", "B11")``."""


@dataclass(frozen=True, slots=True)
class AtMark:
    """What concerns one mark."""

    things: tuple[Thing, ...]
    """Observations, those left out too, set-ups and known coordinates."""
    counts: tuple[tuple[str, int], ...]
    """Kind of observation in use, and how many names of it."""
    independent: tuple[Thing, ...]
    """What ties it by itself: a set-up once, whatever was observed from it; of what
    has no set-up there each session, levelled section, position or instrument."""
    tests: tuple[int, ...]
    """Rows of the blunder tests, the largest first."""


def at_marks(judged: Judged) -> list[AtMark]:
    """Return what concerns each mark, in one pass over the observations.

    Parameters
    ----------
    judged : Judged
    """
    count = len(judged.network.marks)
    things: list[dict[Thing, bool]] = [{} for _ in range(count)]
    ties: list[dict[Thing, None]] = [{} for _ in range(count)]
    for kind, names, ends, used in _observed(judged):
        marks = judged.network.mark_of(ends)
        for nodes, here in zip(ends.tolist(), marks.tolist(), strict=True):
            for i, (node, mark) in enumerate(zip(nodes, here, strict=True)):
                thing = kind, names[i]
                things[mark][thing] = things[mark].get(thing, False) or bool(used[i])
                if used[i]:
                    ties[mark][_tie(judged, kind, i, node, names[i])] = None
    tests = _tests(judged, _standing(judged, things))
    return [
        AtMark(tuple(things[i]), _counts(things[i]), tuple(ties[i]), tuple(tests[i]))
        for i in range(count)
    ]


_Observed = tuple[str, "tuple[str, ...]", "Ints", "Bools"]
"""Kind, names, nodes (k, n) of the ends, and which are in use."""


def _observed(judged: Judged) -> Iterator[_Observed]:
    network = judged.network
    vectors, positions = network.vectors, network.positions
    yield "baseline", vectors.name, np.stack([vectors.start, vectors.end]), vectors.used
    yield "position", positions.name, positions.node[None], positions.used
    for kind in kinds_read(judged):
        some = readings_of(judged, kind)
        yield kind, some.name, np.stack(nodes_of(some)), some.used


def _tie(judged: Judged, kind: str, i: int, node: int, name: str) -> Thing:
    """Return by what an observation is tied to the mark at one of its ends."""
    network = judged.network
    if node >= len(network.marks):
        return "set-up", network.node_name(node)
    if kind == "baseline" and (session := int(network.vectors.session[i])) >= 0:
        return "session", network.sessions[session]
    if kind == "level difference":
        return "levelled section", name.removesuffix(" out").removesuffix(" back")
    if kind in ("baseline", "position"):
        return kind, name
    # Sights without a set-up here: all that one instrument saw in one standing.
    instrument = int(nodes_of(readings_of(judged, kind))[0][i])
    return "instrument", network.node_name(instrument)


def _counts(things: dict[Thing, bool]) -> tuple[tuple[str, int], ...]:
    found: dict[str, int] = {}
    for (kind, _), used in things.items():
        if used:
            found[kind] = found.get(kind, 0) + 1
    return tuple(found.items())


def _standing(
    judged: Judged, things: list[dict[Thing, bool]]
) -> dict[Thing, list[int]]:
    """Add set-ups and known coordinates; return the marks of each thing."""
    network = judged.network
    for name, mark in zip(network.set_ups.name, network.set_ups.mark, strict=True):
        things[int(mark)]["set-up", name] = False
    for i, name in enumerate(network.marks.name):
        things[i]["known", name] = False
    marks: dict[Thing, list[int]] = {}
    for i, some in enumerate(things):
        for thing in some:
            marks.setdefault(thing, []).append(i)
    return marks


def _tests(judged: Judged, marks: dict[Thing, list[int]]) -> list[list[int]]:
    tests = judged.tests
    found: list[list[int]] = [[] for _ in judged.network.marks.name]
    for i in tests.order().tolist():
        for mark in marks.get((family_of(tests.kind[i]), tests.name[i]), ()):
            found[mark].append(i)
    return found
