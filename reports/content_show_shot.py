"""All about one shot: where it is, what it is worth, and what it hangs on."""

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from .content_topo_attach import NO_RECORD
from .content_topo_detail import construction_words
from .document import Column, Document, Facts, Part, Row, Section, Table
from .heading import Heading
from .rounding import Units

if TYPE_CHECKING:
    from networkx import DiGraph

    from ..adjust.follow.topo import Topo


class Step(NamedTuple):
    """One step of a line of descent."""

    depth: int
    kind: str
    name: str


def chain(graph: "DiGraph", start: tuple[str, str]) -> list[Step]:
    """Return what a point hangs on, each thing below what it carries.

    A thing that carries several is told again under each.

    Parameters
    ----------
    graph : networkx.DiGraph
        Of ``descent_graph``.
    start : (str, str)
        Kind and name.

    Examples
    --------
    >>> from networkx import DiGraph
    >>> graph = DiGraph([(("shot", "7"), ("base", "B1")), (("base", "B1"),
    ...                  ("mark", "PIER"))])
    >>> [(step.depth, step.name) for step in chain(graph, ("shot", "7"))]
    [(0, '7'), (1, 'B1'), (2, 'PIER')]
    """
    steps: list[Step] = []
    stack = [(0, start)]
    while stack:
        depth, node = stack.pop()
        steps.append(Step(depth, *node))
        below = sorted(graph.successors(node), key=lambda n: n[0] == "record")
        stack += [(depth + 1, other) for other in reversed(below)]
    return steps


def shot_document(
    topo: "Topo", at: int, steps: list[Step], heading: Heading
) -> Document:
    """Return what `show shot` prints.

    Parameters
    ----------
    topo : Topo
    at : int
        Number of the point.
    steps : list of Step
    heading : Heading
    """
    units = heading.units
    name = topo.day.names[at]
    parts: list[Part] = [_facts(topo, at, units)]
    if at < len(topo.day.shots):
        parts.append(_budget_table(topo, at, units))
    parts.append(_chain_table(topo, at, steps))
    title = f"{'Shot' if at < topo.day.roots else 'Point'} {name}"
    return Document(
        f"{title} — {heading.title}" if heading.title else title,
        (Section("", tuple(parts)),),
    )


def _facts(topo: "Topo", at: int, units: Units) -> Facts:
    points = topo.constructed.points
    east, north, height = points.coordinates[at]
    covariance = points.covariance(np.array([at]))[0]
    sd = np.sqrt(np.diagonal(covariance))
    none, level = "cannot be judged", units.coordinate(float(height))
    plan = units.said(float(np.sqrt((sd[0] ** 2 + sd[1] ** 2) / 2))) or none
    facts = [
        ("north", f"{units.coordinate(float(north))} {units.unit}"),
        ("east", f"{units.coordinate(float(east))} {units.unit}"),
        ("height", f"{level} {units.unit}" if level else "none of its own"),
        ("sd in plan, per axis", plan),
        ("sd of the height", units.said(float(sd[2])) or none),
        ("line", topo.line.word(at) or "none"),
    ]
    if at < topo.day.roots:
        facts.append(("code", topo.detail.code.word(at) or "none"))
    else:
        made = at - topo.day.roots
        facts.append(("code", topo.day.constructions.code.word(made) or "none"))
        facts.append(("made", construction_words(topo, made, units)))
    if at < len(topo.day.shots):
        shots = topo.day.shots
        facts.append(("initialisation", topo.group.word(at) or "not booked"))
        facts.append(("sky", shots.sky.word(at) or "not booked"))
    return Facts(tuple(facts))


def _budget_table(topo: "Topo", at: int, units: Units) -> Table:
    budget = topo.hung.budget
    parts = {
        "what it hangs on": budget.base[at],
        "vector or position, with the spread of its sky": budget.vector[at],
        "pole, plumbed or leaning": budget.pole[at],
        "together": budget.total[at],
    }
    unit = units.small_unit
    rows = []
    for what, covariance in parts.items():
        sd = np.sqrt(np.diagonal(covariance))
        rows.append(Row((what, *(units.small(float(x)) for x in sd))))
    return Table(
        "what it is worth, sd, on the grid",
        (
            Column("part", number=False),
            Column(f"east ({unit})"),
            Column(f"north ({unit})"),
            Column(f"height ({unit})"),
        ),
        tuple(rows),
    )


def _chain_table(topo: "Topo", at: int, steps: list[Step]) -> Table:
    rows = [Row(("· " * step.depth + step.kind, step.name)) for step in steps]
    if at < len(topo.day.shots):
        broken = topo.hung.descent.broken[at]
        if broken:
            rows.append(Row(("· broken", broken)))
        if not topo.hung.descent.record[at]:
            rows.append(Row(("· record", NO_RECORD)))
    return Table(
        "line of descent: each thing hangs on those below it",
        (Column("what", number=False), Column("name", number=False)),
        tuple(rows),
    )
