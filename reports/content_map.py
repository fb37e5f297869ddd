"""From an adjustment to what the map shows."""

from typing import TYPE_CHECKING

import numpy as np

from .content_tests import thing_of
from .document import Figure, anchor
from .drawing import network_map
from .drawing_view import DrawnLine, DrawnMark
from .judged import Judged
from .rounding import Lengths, number, percent

if TYPE_CHECKING:
    from ..networks.covariances import Floats


def map_figure(judged: Judged, lengths: Lengths) -> Figure:
    """Return the map of the network with its ellipses."""
    marks, lines = drawn_marks(judged, lengths), drawn_lines(judged, lengths)
    svg, caption = network_map(marks, lines, percent(judged.network.options.confidence))
    return Figure(svg, caption)


def plan(judged: Judged) -> "Floats":
    """Return (m, 2) east and north of the marks for drawing, m.

    On the job's grid; where it has none, in the horizon of the middle of the marks.
    """
    frame, xyz = judged.network.frame, judged.marks.xyz
    if frame.has_grid:
        return frame.grid(xyz)[:, [1, 0]]
    middle = xyz.mean(axis=0)
    axes = frame.axes(middle[None])[0]
    return np.asarray((xyz - middle) @ axes.T)[:, :2]


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
        checked = bool(judged.checked[i].all())
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
    """Return the baselines as the map draws them, left-out ones too."""
    network, tests = judged.network, judged.tests
    vectors = network.vectors
    at = {
        name: i
        for i, (kind, name) in enumerate(zip(tests.kind, tests.name, strict=True))
        if kind == "baseline"
    }
    starts, ends = network.mark_of(vectors.start), network.mark_of(vectors.end)
    names = network.marks.name
    drawn = []
    for k, name in enumerate(vectors.name):
        said = f"baseline {name}, {names[starts[k]]} – {names[ends[k]]}: "
        smallest = float("nan")
        if vectors.used[k] and name in at:
            smallest = float(tests.tests.smallest_detectable[at[name]])
            said += _tested(judged, at[name], smallest, lengths)
        else:
            said += "left out by decision"
        drawn.append(
            DrawnLine(
                "baseline",
                name,
                int(starts[k]),
                int(ends[k]),
                smallest,
                bool(vectors.used[k]),
                said,
                anchor("observation", thing_of("baseline", name))
                if vectors.used[k]
                else anchor("baseline", name),
            )
        )
    return drawn


def _tested(judged: Judged, at: int, smallest: float, lengths: Lengths) -> str:
    verdict = judged.tests.verdict[at]
    if verdict == "unchecked":
        return "unchecked"
    test = number(float(judged.tests.basis.test[at]), "test")
    return f"test {test}, {verdict}; smallest blunder seen {lengths.said(smallest)}"
