"""From observations to the lines and squares of the map.

Baselines are a line each. The sights between two marks are one line, and the levelled
runs between them another: a site has dozens of each between the same two marks.
"""

from collections import Counter
from math import isfinite, nan
from typing import NamedTuple

import numpy as np

from ..networks.covariances import Ints
from .content_readings import ends_of, kinds_read, line_names, plural, readings_of
from .content_tests import thing_of
from .document import anchor
from .drawing_view import DrawnLine, DrawnSquare
from .judged import Judged
from .rounding import Units, number
from .words import smallest_words


class _Reading(NamedTuple):
    """One reading between two marks."""

    kind: str
    number: int
    test: int | None
    """Row of its test; None where it is left out."""


def drawn_lines(judged: Judged, units: Units) -> list[DrawnLine]:
    """Return baselines, sights and levelled runs as drawn, left-out ones too."""
    lines = _baselines(judged, units)
    for pair, readings in _between(judged).items():
        lines.append(_line(judged, pair, readings, units))
    return lines


def lines_between(judged: Judged, units: Units, place: Ints) -> list[DrawnLine]:
    """Return of all lines between two groups of marks the one that hides most.

    Parameters
    ----------
    judged : Judged
    units : Units
    place : ndarray of int, shape (m,)
        Group of each mark; −1 for none.
    """
    network, tests, vectors = judged.network, judged.tests, judged.network.vectors
    hides = np.full(len(vectors), -np.inf)
    of_vectors = [i for i, kind in enumerate(tests.kind) if kind == "baseline"]
    smallest = tests.tests.smallest_detectable[of_vectors]
    # What nothing checks hides a blunder of any size.
    hides[tests.edge[of_vectors]] = np.where(np.isfinite(smallest), smallest, np.inf)
    ends = place[network.mark_of(np.stack([vectors.start, vectors.end], axis=1))]
    low, high = ends.min(axis=1), ends.max(axis=1)
    rows = np.flatnonzero((low >= 0) & (low != high))
    order = rows[np.lexsort((-hides[rows], high[rows], low[rows]))]
    pair = np.stack([low[order], high[order]], axis=1)
    first = np.ones(len(order), dtype=bool)
    first[1:] = (pair[1:] != pair[:-1]).any(axis=1)
    lines = _baselines(judged, units, np.sort(order[first]).tolist())
    seen: dict[tuple[int, int], DrawnLine] = {}
    for name, readings in _between(judged).items():
        line = _line(judged, name, readings, units)
        a, b = sorted((int(place[line.start]), int(place[line.end])))
        if a >= 0 and a != b:
            other = seen.setdefault((a, b), line)
            if not line.smallest <= other.smallest:
                seen[a, b] = line
    return lines + list(seen.values())


def drawn_positions(
    judged: Judged, units: Units, some: Ints | None = None
) -> list[DrawnSquare]:
    """Return a square for every mark, or some, that positions were taken of."""
    network = judged.network
    tests = _tests_of(judged, "position")
    at: dict[int, list[int]] = {}
    asked = None if some is None else set(some.tolist())
    for i, mark in enumerate(network.mark_of(network.positions.node).tolist()):
        if asked is None or mark in asked:
            at.setdefault(mark, []).append(i)
    squares = []
    for mark, numbers in at.items():
        names = [network.positions.name[i] for i in numbers]
        said = ", ".join(
            f"{name} {_tested(judged, tests[i], units)}"
            if i in tests
            else f"{name} left out by decision"
            for name, i in zip(names, numbers, strict=True)
        )
        many = "position" if len(names) == 1 else "positions"
        title = f"{many} of {network.marks.name[mark]}: {said}"
        row = anchor("observation", thing_of("position", names[0]))
        used = any(i in tests for i in numbers)
        squares.append(DrawnSquare(network.marks.name[mark], mark, used, title, row))
    return squares


def _tests_of(judged: Judged, kind: str) -> dict[int, int]:
    """Return the row of the test of each observation of a kind, by its number."""
    tests = judged.tests
    return {int(tests.edge[i]): i for i, k in enumerate(tests.kind) if k == kind}


def _baselines(
    judged: Judged, units: Units, some: list[int] | None = None
) -> list[DrawnLine]:
    network, vectors = judged.network, judged.network.vectors
    tests = _tests_of(judged, "baseline")
    starts, ends = network.mark_of(vectors.start), network.mark_of(vectors.end)
    names, drawn = network.marks.name, []
    for k in range(len(vectors)) if some is None else some:
        name = vectors.name[k]
        start, end = int(starts[k]), int(ends[k])
        said = f"baseline {name}, {names[start]} – {names[end]}: "
        row, smallest = anchor("baseline", name), nan
        if k in tests:
            smallest = float(judged.tests.tests.smallest_detectable[tests[k]])
            row = anchor("observation", thing_of("baseline", name))
            said += _tested(judged, tests[k], units)
        else:
            said += "left out by decision"
        drawn.append(
            DrawnLine("baseline", name, start, end, smallest, k in tests, said, row)
        )
    return drawn


def _between(judged: Judged) -> dict[str, list[_Reading]]:
    """Return the readings of each line of the map, under its name."""
    between: dict[str, list[_Reading]] = {}
    for kind in kinds_read(judged):
        tests = _tests_of(judged, kind)
        for i, name in enumerate(line_names(judged, kind)):
            between.setdefault(name, []).append(_Reading(kind, i, tests.get(i)))
    return between


def _line(
    judged: Judged, name: str, readings: list[_Reading], units: Units
) -> DrawnLine:
    tests, first = judged.tests, readings[0]
    some = readings_of(judged, first.kind)
    ends = ends_of(some, first.number)
    marks = judged.network.mark_of(np.array([ends[0], ends[-1]])).tolist()
    tested = [reading for reading in readings if reading.test is not None]
    sizes = [_smallest(judged, reading) for reading in tested]
    worst = max(
        tested or readings,
        key=lambda r: -1.0 if r.test is None else _size(tests.basis.test[r.test]),
    )
    said = f"{name}: {_counted(readings)}"
    if worst.test is not None:
        thing = f"{worst.kind} {readings_of(judged, worst.kind).name[worst.number]}"
        said += f"; largest at {thing}, {_tested(judged, worst.test, units)}"
    if len(tested) < len(readings):
        said += f"; {len(readings) - len(tested)} left out by decision"
    thing = thing_of(worst.kind, readings_of(judged, worst.kind).name[worst.number])
    family, _, pair = name.partition(" ")
    smallest = max(sizes) if sizes and all(map(isfinite, sizes)) else nan
    row = anchor("observation", thing)
    return DrawnLine(
        family, pair, marks[0], marks[1], smallest, bool(tested), said, row
    )


def _counted(readings: list[_Reading]) -> str:
    counts = Counter(reading.kind for reading in readings)
    return ", ".join(
        f"{count} {kind if count == 1 else plural(kind)}"
        for kind, count in counts.items()
    )


def _size(test: float) -> float:
    return float(test) if isfinite(test) else -0.5


def _smallest(judged: Judged, reading: _Reading) -> float:
    """Return the smallest blunder seen, m; of an angle what it does at its target."""
    if reading.test is None:
        return nan
    smallest = float(judged.tests.tests.smallest_detectable[reading.test])
    if judged.tests.verdict[reading.test] == "unchecked":
        return nan
    if judged.tests.measure[reading.test] != "rad":
        return smallest
    ends = ends_of(readings_of(judged, reading.kind), reading.number)
    places = judged.adjustment.nodes.xyz[[ends[0], ends[-1]]]
    return smallest * float(np.linalg.norm(places[1] - places[0]))


def _tested(judged: Judged, at: int, units: Units) -> str:
    tests = judged.tests
    if tests.verdict[at] == "unchecked":
        return "unchecked"
    test = number(float(tests.basis.test[at]), "test")
    smallest = float(tests.tests.smallest_detectable[at])
    seen = smallest_words(tests.verdict[at], smallest, units, tests.measure[at])
    return f"test {test}, {tests.verdict[at]}; smallest blunder seen {seen}"
