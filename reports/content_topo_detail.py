"""Tables of `topo check` about the detail: humps, made points, shapes, crossings."""

from typing import TYPE_CHECKING

import numpy as np

from .content_topo_tables import MOST_ROWS, VERDICT_COLUMNS, more_words
from .document import Column, Row, Table, Vial
from .rounding import Units, number

if TYPE_CHECKING:
    from ..adjust.follow.topo import Topo


def over_crossings(topo: "Topo") -> np.ndarray:
    """Return the crossings whose two heights differ by more than a shot may err.

    Three sds of a middling shot's height, and no less than 5 cm (common practice, no
    source): the ground between two shots of a line is not straight.
    """
    sd = topo.hung.budget.sd_height
    known = sd[np.isfinite(sd)]
    least = max(0.05, 3 * float(np.median(known)) if len(known) else 0.0)
    return np.flatnonzero(np.abs(topo.crossings.gap) > least)


def humps_table(topo: "Topo", units: Units) -> Table | None:
    """Return how each initialisation lies to the ground that others give."""
    found = topo.humps
    if not len(found.source):
        return None
    unit = units.small_unit
    size = np.nan_to_num(found.test, nan=-1.0)
    order = np.argsort(-size, kind="stable")[:MOST_ROWS]
    rows = tuple(
        Row(
            (
                source_name(topo, int(found.source[i])),
                str(found.shots[i]),
                units.small(float(found.offset[i])),
                units.small(float(found.sd[i])),
                number(float(found.test[i]), "test"),
                Vial(found.verdict[i], float(np.nan_to_num(found.test[i], nan=0.5))),
                found.verdict[i],
            )
        )
        for i in order.tolist()
    )
    rough = "how rough the ground is cannot be said"
    if np.isfinite(found.roughness):
        rough = f"the ground is rough by {units.said(found.roughness)}"
    return Table(
        "height of each initialisation above the ground that its neighbours from other "
        f"initialisations give; {rough}" + more_words(len(found.source), len(rows)),
        (
            Column("initialisation", number=False),
            Column("shots"),
            Column(f"above ({unit})"),
            Column(f"sd ({unit})"),
            Column("test"),
            *VERDICT_COLUMNS,
        ),
        rows,
    )


def source_name(topo: "Topo", source: int) -> str:
    """Return the name of an initialisation, or of an instrument's set-up."""
    names = topo.group.names
    if source < len(names):
        return names[source]
    if topo.polar is None:
        return ""
    node = int(topo.polar.nodes[source - len(names)])
    return topo.hung.adjustment.network.node_name(node)


def constructions_table(topo: "Topo", units: Units) -> Table | None:
    """Return the points that were made, with how."""
    from_ = topo.day.constructions
    if not len(from_):
        return None
    made, first = topo.constructed, topo.day.roots
    rows = []
    for i in range(min(len(from_), MOST_ROWS)):
        east, north, height = made.points.coordinates[first + i]
        sd = np.sqrt(np.diagonal(made.covariance[i]))
        plan = float(np.sqrt((sd[0] ** 2 + sd[1] ** 2) / 2))
        rows.append(
            Row(
                (
                    from_.name[i],
                    units.coordinate(float(north)),
                    units.coordinate(float(east)),
                    units.coordinate(float(height)),
                    units.small(plan),
                    units.small(float(sd[2])),
                    construction_words(topo, i, units),
                )
            )
        )
    unit, small = units.unit, units.small_unit
    return Table(
        "points made from shots" + more_words(len(from_), len(rows)),
        (
            Column("point", number=False),
            Column(f"north ({unit})"),
            Column(f"east ({unit})"),
            Column(f"height ({unit})"),
            Column(f"sd plan ({small})"),
            Column(f"sd height ({small})"),
            Column("how", number=False, below=True),
        ),
        tuple(rows),
    )


def construction_words(topo: "Topo", i: int, units: Units) -> str:
    """Return how a point was made: kind, parents, what was taped, other solution."""
    from_, made = topo.day.constructions, topo.constructed
    names = made.points.name
    parents = [names[p] for p in from_.parents[i] if p >= 0]
    said = f"{from_.kind[i]} from {', '.join(parents)}"
    words = ("distance", "second distance", "dip", "pipe")
    for word, value in zip(words, from_.taped[i], strict=True):
        if value:
            said += f", {word} {units.coordinate(float(value))} {units.unit}"
    if np.isfinite(from_.slope[i]):
        said += f", slope {from_.slope[i]:g} : 1"
    if from_.side[i]:
        said += f", {'left' if from_.side[i] > 0 else 'right'}"
    for side, (east, north) in zip(("left", "right"), made.solutions[i], strict=True):
        if np.isfinite(east):
            at = f"{units.coordinate(float(north))}, {units.coordinate(float(east))}"
            said += f"; {side}: north, east {at}"
    if made.trouble[i]:
        return f"{said}: {made.trouble[i]}"
    if from_.kind[i] in ("two ties", "inside corner"):
        said += "; no height of its own"
    return said


def shapes_table(topo: "Topo", units: Units) -> Table | None:
    """Return taped walls, right angles and parallels against the points."""
    checks, found = topo.day.checks, topo.shapes
    if not len(checks):
        return None
    names = topo.constructed.points.name
    size = np.nan_to_num(found.test, nan=-1.0)
    unit = units.small_unit
    rows = []
    for i in np.argsort(-size, kind="stable")[:MOST_ROWS].tolist():
        ends = [names[p] for p in checks.ends[i] if p >= 0]
        test = float(found.test[i])
        rows.append(
            Row(
                (
                    checks.name[i],
                    checks.kind[i],
                    units.small(float(found.value[i])),
                    units.small(float(found.limit[i])),
                    number(test, "test"),
                    Vial(found.verdict[i], test if np.isfinite(test) else 0.5),
                    found.verdict[i],
                    " – ".join(ends),
                )
            )
        )
    return Table(
        "shapes: what the points say less what was taped; of angles at the end of the "
        "shorter arm; largest first" + more_words(len(checks), len(rows)),
        (
            Column("check", number=False),
            Column("kind", number=False),
            Column(f"misfit ({unit})"),
            Column(f"± ({unit})"),
            Column("test"),
            *VERDICT_COLUMNS,
            Column("points", number=False, below=True),
        ),
        tuple(rows),
    )


def places_table(topo: "Topo", units: Units) -> Table | None:
    """Return pairs of points at one place that are not booked as repeats."""
    pairs = topo.one_place
    if not len(pairs):
        return None
    roots = topo.detail.roots
    rows = []
    for i, j in pairs[:MOST_ROWS].tolist():
        apart = roots.coordinates[j] - roots.coordinates[i]
        rows.append(
            Row(
                (
                    f"{roots.name[i]}, {roots.name[j]}",
                    topo.detail.code.word(i) or "–",
                    topo.detail.code.word(j) or "–",
                    units.small(float(np.hypot(apart[0], apart[1]))),
                    units.small(float(apart[2])),
                )
            )
        )
    unit = units.small_unit
    near = units.said(topo.hung.topo.one_place)
    return Table(
        f"points within {near} of each other in plan: a repeat that is not booked as "
        "one, or one name too many" + more_words(len(pairs), len(rows)),
        (
            Column("points", number=False),
            Column("code", number=False),
            Column("code", number=False),
            Column(f"apart ({unit})"),
            Column(f"second higher by ({unit})"),
        ),
        tuple(rows),
    )


def crossings_table(topo: "Topo", units: Units) -> Table | None:
    """Return the crossings of lines at two heights."""
    over = over_crossings(topo)
    if not len(over):
        return None
    found, names = topo.crossings, topo.constructed.points.name
    rows = []
    for i in over[np.argsort(-np.abs(found.gap[over]), kind="stable")][
        :MOST_ROWS
    ].tolist():
        first, second = int(found.first[i]), int(found.second[i])
        east, north = found.place[i]
        rows.append(
            Row(
                (
                    f"{topo.line.word(first)} after {names[first]}",
                    f"{topo.line.word(second)} after {names[second]}",
                    units.coordinate(float(north)),
                    units.coordinate(float(east)),
                    units.small(float(found.gap[i])),
                )
            )
        )
    unit, small = units.unit, units.small_unit
    return Table(
        "lines that cross at two heights, such as a bank's top and toe: a point out of "
        "order, or a code mistaken" + more_words(len(over), len(rows)),
        (
            Column("line", number=False),
            Column("crosses", number=False),
            Column(f"north ({unit})"),
            Column(f"east ({unit})"),
            Column(f"first higher by ({small})"),
        ),
        tuple(rows),
    )
