"""All about one observation: baselines, readings, positions."""

import numpy as np

from ..networks import Levels
from .content_readings import (
    ANGLES,
    ends_of,
    figure,
    kinds_read,
    readings_of,
    residual_of,
    small_figure,
    unit_of,
    value_of,
)
from .content_show import (
    listed,
    named,
    named_tests,
    nearest,
    shown,
    tests_about,
)
from .document import Document, Facts, Paragraph, Part
from .heading import Heading
from .judged import Judged
from .rounding import Units


def readings_named(judged: Judged, kind: str, name: str) -> list[tuple[str, int]]:
    """Return kind and number of the readings of a name.

    Parameters
    ----------
    judged : Judged
    kind : str
        A kind of reading, or ``observation`` for any.
    name : str
        Of a reading, or of one pointing of those that it is the mean of.
    """
    return [
        (one, i)
        for one in kinds_read(judged)
        if kind in (one, "observation")
        for i, said in enumerate(readings_of(judged, one).name)
        if name == said or name in said.split(" + ")
    ]


def show_readings(judged: Judged, kind: str, name: str, heading: Heading) -> Document:
    """Return all about the readings of a name: as booked, residual, tests.

    Raises
    ------
    CommandError
        No reading of that kind and name.
    """
    found = readings_named(judged, kind, name)
    if not found:
        kinds = [k for k in kinds_read(judged) if kind in (k, "observation")]
        names = [n for k in kinds for n in readings_of(judged, k).name]
        raise nearest(kind, name, names)
    parts: list[Part] = []
    rows: list[int] = []
    for one, i in found:
        said = readings_of(judged, one).name[i]
        parts += [Paragraph(f"{one} {said}"), reading_facts(judged, one, i, heading)]
        rows += [k for k in named_tests(judged, one, said) if k not in rows]
    for one, i in found:
        for node in ends_of(readings_of(judged, one), i):
            at = named_tests(judged, "set-up", judged.network.node_name(node))
            rows += [k for k in at if k not in rows]
    caption = "tests of it and of its set-ups"
    parts.append(tests_about(judged, rows, caption, heading.units))
    return shown(f"{kind.capitalize()} {name}", judged, parts)


def reading_facts(judged: Judged, kind: str, i: int, heading: Heading) -> Facts:
    """Return what was booked of a reading, and its residual."""
    some, units = readings_of(judged, kind), heading.units
    large, small = unit_of(kind, units)
    start, *back, end = (_place(judged, node) for node in ends_of(some, i))
    table = "levels.csv" if isinstance(some, Levels) else "total_station.csv"
    used = bool(some.used[i])
    residual = small_figure(kind, residual_of(judged, kind, i), units)
    used_by = [int(number) for number in some.parameter[i] if number >= 0]
    names = [judged.network.parameters.name[number] for number in used_by]
    facts = [
        ("at" if kind in ANGLES else "from", start),
        *(("back to", place) for place in back),
        ("to", end),
        (f"booked ({large})", figure(kind, value_of(some, i), units)),
        (f"sd ({small})", small_figure(kind, float(some.sd[i]), units)),
        (f"residual ({small})", residual if used else "left out"),
        *([("parameters", ", ".join(names))] if names else []),
        ("in use", "yes" if used else "no, left out by decision"),
        ("booked in", f"{table} row {int(some.row[i])}"),
    ]
    return Facts(tuple(facts))


def _place(judged: Judged, node: int) -> str:
    """Return a mark, and the set-up over it."""
    network = judged.network
    mark = network.marks.name[int(network.mark_of(np.array([node]))[0])]
    name = network.node_name(node)
    return mark if name == mark else f"{mark}, set-up {name}"


def show_baseline(judged: Judged, name: str, heading: Heading) -> Document:
    """Return all about a baseline: as booked, residual, test, smallest seen.

    Raises
    ------
    CommandError
        No baseline of that name.
    """
    network, units = judged.network, heading.units
    vectors = network.vectors
    if name not in vectors.name:
        raise nearest("baseline", name, vectors.name)
    i = vectors.name.index(name)
    unit, small = units.unit, units.small_unit
    ends = [int(network.mark_of(node[i])) for node in (vectors.start, vectors.end)]
    nodes = [network.node_name(int(n[i])) for n in (vectors.start, vectors.end)]
    facts = [
        ("from, to", " – ".join(network.marks.name[end] for end in ends)),
        ("set-ups", " – ".join(nodes)),
        ("session", named(network.sessions, int(vectors.session[i]))),
        ("group", named(network.groups, int(vectors.group[i]))),
        (f"dX, dY, dZ ({unit})", listed(vectors.delta[i], units.coordinate)),
        ("in use", "yes" if vectors.used[i] else "no, left out by decision"),
        ("booked in", f"baselines.csv row {int(vectors.row[i])}"),
    ]
    residuals = judged.adjustment.residuals.get("baseline")
    if residuals is not None and vectors.used[i]:
        said = listed(residuals[i], units.small)
        facts.insert(5, (f"residual X, Y, Z ({small})", said))
    rows = named_tests(judged, "baseline", name)
    for node in nodes:
        rows += named_tests(judged, "set-up", node)
    caption = "tests of it and of its set-ups"
    parts = [Facts(tuple(facts)), tests_about(judged, rows, caption, units)]
    return shown(f"Baseline {name}", judged, parts)


def show_position(judged: Judged, name: str, heading: Heading) -> Document:
    """Return all about a position: where it was taken, residual, tests.

    Raises
    ------
    CommandError
        No position of that name.
    """
    network, units = judged.network, heading.units
    positions, small = network.positions, units.small_unit
    if name not in positions.name:
        raise nearest("position", name, positions.name)
    i = positions.name.index(name)
    used = bool(positions.used[i])
    group = int(positions.group[i])
    residuals = judged.adjustment.residuals.get("position")
    facts = [
        ("of", _place(judged, int(positions.node[i]))),
        ("group", network.groups[group] if group >= 0 else "none"),
        ("in use", "yes" if used else "no, left out by decision"),
        ("booked in", f"positions.csv row {int(positions.row[i])}"),
    ]
    if residuals is not None and used:
        said = ", ".join(_small(x, units) for x in residuals[i])
        facts.insert(2, (f"residual east, north, up ({small})", said))
    rows = named_tests(judged, "position", name)
    node = network.node_name(int(positions.node[i]))
    rows += named_tests(judged, "set-up", node)
    caption = "tests of it and of its set-up"
    parts = [Facts(tuple(facts)), tests_about(judged, rows, caption, units)]
    return shown(f"Position {name}", judged, parts)


def _small(metres: float, units: Units) -> str:
    return units.small(float(metres)) or "not observed"


def show_observation(judged: Judged, name: str, heading: Heading) -> Document:
    """Return all about an observation of any kind, looked for by its name.

    Raises
    ------
    CommandError
        No observation of that name.
    """
    network = judged.network
    if readings_named(judged, "observation", name):
        return show_readings(judged, "observation", name, heading)
    if name in network.vectors.name:
        return show_baseline(judged, name, heading)
    if name in network.positions.name:
        return show_position(judged, name, heading)
    names = [n for kind in kinds_read(judged) for n in readings_of(judged, kind).name]
    known = [*network.vectors.name, *network.positions.name, *names]
    raise nearest("observation", name, known)
