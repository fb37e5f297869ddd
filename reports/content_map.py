"""From an adjustment to what the map shows."""

from typing import TYPE_CHECKING

import numpy as np

from .content_tests import thing_of
from .document import Figure, Paragraph, anchor
from .drawing import network_map
from .drawing_view import DrawnLine, DrawnMark
from .judged import Judged
from .rounding import Lengths, number, percent
from .words import smallest_words

if TYPE_CHECKING:
    from ..networks import Levels, Sights, Vectors
    from ..networks.covariances import Floats, Ints


def map_figure(judged: Judged, lengths: Lengths) -> Figure | Paragraph:
    """Return the map of the network with its ellipses; words where there is no plan."""
    if not judged.estimated[:, 0].any():
        return Paragraph("No map: this job has heights alone, and no mark has a place.")
    marks, lines = drawn_marks(judged, lengths), drawn_lines(judged, lengths)
    svg, caption = network_map(marks, lines, percent(judged.network.options.confidence))
    return Figure(svg, caption)


def plan(judged: Judged) -> "Floats":
    """Return (m, 2) east and north of the marks for drawing, m.

    On the job's grid; where it has none, in the horizon of the middle of the marks.
    NaN for a mark without a plan.
    """
    frame, xyz = judged.network.frame, judged.marks.xyz
    if frame.has_grid:
        return judged.grid[:, [1, 0]]
    has = judged.estimated[:, 0]
    middle = xyz[has].mean(axis=0) if has.any() else np.zeros(3)
    axes = frame.axes(middle[None])[0]
    places = np.asarray((xyz - middle) @ axes.T)[:, :2]
    return np.where(has[:, None], places, np.nan)


def mark_kind(judged: Judged, mark: int) -> str:
    """Return what part a mark plays: held, weighted, check-only or new."""
    network = judged.network
    datum = judged.adjustment.datum
    rows = np.flatnonzero(network.known.mark == mark)
    if judged.held[mark].any():
        return "held"
    if datum.weighted[rows].any():
        return "weighted"
    return "check-only" if len(rows) else "new"


def drawn_marks(judged: Judged, lengths: Lengths) -> list[DrawnMark]:
    """Return the marks as the map draws them."""
    places, marks = plan(judged), judged.marks
    confidence = percent(judged.network.options.confidence)
    drawn = []
    for i, name in enumerate(judged.network.marks.name):
        kind = mark_kind(judged, i)
        checked = bool(judged.all_checked[i])
        major, minor = float(marks.semi_major[i]), float(marks.semi_minor[i])
        said = f"{'new' if kind == 'new' else f'known, {kind},'} mark {name}"
        if np.isfinite(major) and major > 0:
            said += (
                f": {confidence} ellipse {lengths.small(major)} by "
                f"{lengths.small(minor)} {lengths.small_unit}"
            )
        said += "" if checked or kind == "held" else "; not fully checked"
        east, north = (float(value) for value in places[i])
        drawn.append(
            DrawnMark(
                name,
                east,
                north,
                kind,
                checked,
                major,
                minor,
                float(marks.azimuth[i]),
                said,
                anchor("mark", name),
            )
        )
    return drawn


def drawn_lines(judged: Judged, lengths: Lengths) -> list[DrawnLine]:
    """Return baselines, sights and levelled runs as drawn, left-out ones too."""
    network = judged.network
    vectors, levels = network.vectors, network.levels
    drawn = _lines(judged, "baseline", vectors, (vectors.start, vectors.end), lengths)
    for some in network.sights:
        drawn += _lines(judged, some.kind, some, (some.at, some.to), lengths)
    if levels is not None:
        ends = (levels.start, levels.end)
        drawn += _lines(judged, "level difference", levels, ends, lengths)
    return drawn


def _lines(
    judged: Judged,
    kind: str,
    columns: "Vectors | Sights | Levels",
    nodes: "tuple[Ints, Ints]",
    lengths: Lengths,
) -> list[DrawnLine]:
    network, tests = judged.network, judged.tests
    at = {int(tests.edge[i]): i for i, k in enumerate(tests.kind) if k == kind}
    starts, ends = (network.mark_of(some) for some in nodes)
    names = network.marks.name
    drawn = []
    for k, name in enumerate(columns.name):
        start, end = int(starts[k]), int(ends[k])
        said = f"{kind} {name}, {names[start]} – {names[end]}: "
        used, smallest = k in at, float("nan")
        if used:
            smallest = _smallest(judged, at[k], start, end)
            row = anchor("observation", thing_of(kind, name))
        else:
            row = anchor(kind, name)
        said += _tested(judged, at[k], lengths) if used else "left out by decision"
        drawn.append(DrawnLine(kind, name, start, end, smallest, used, said, row))
    return drawn


def _smallest(judged: Judged, test: int, start: int, end: int) -> float:
    """Return the smallest blunder seen, m; of an angle what it does at its target."""
    smallest = float(judged.tests.tests.smallest_detectable[test])
    if judged.tests.measure[test] != "rad":
        return smallest
    ends = judged.adjustment.nodes.xyz[[start, end]]
    return smallest * float(np.linalg.norm(ends[1] - ends[0]))


def _tested(judged: Judged, at: int, lengths: Lengths) -> str:
    tests = judged.tests
    if tests.verdict[at] == "unchecked":
        return "unchecked"
    test = number(float(tests.basis.test[at]), "test")
    smallest = float(tests.tests.smallest_detectable[at])
    seen = smallest_words(tests.verdict[at], smallest, lengths, tests.measure[at])
    return f"test {test}, {tests.verdict[at]}; smallest blunder seen {seen}"
