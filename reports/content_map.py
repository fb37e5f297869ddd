"""From an adjustment to what the map shows."""

from typing import TYPE_CHECKING

import numpy as np

from .content_lines import drawn_lines, drawn_positions
from .document import Figure, Paragraph, anchor
from .drawing import network_map
from .drawing_view import DrawnMark
from .judged import Judged
from .rounding import Units, percent

if TYPE_CHECKING:
    from ..networks.covariances import Floats


def map_figure(judged: Judged, units: Units) -> Figure | Paragraph:
    """Return the map of the network with its ellipses; words where there is no plan."""
    marks, lines = drawn_marks(judged, units), drawn_lines(judged, units)
    if not any(mark.placed for mark in marks):
        return Paragraph("No map: this job has heights alone, and no mark has a place.")
    confidence = percent(judged.network.options.confidence)
    squares = drawn_positions(judged, units)
    return Figure(*network_map(marks, lines, confidence, squares))


def plan(judged: Judged) -> "Floats":
    """Return (m, 2) east and north of the marks for drawing, m.

    On the job's grid; where it has none, in the horizon of the middle of the marks.
    Of a mark that is adjusted in height alone the place that is booked, or NaN.
    """
    frame, booked = judged.network.frame, judged.network.marks.approximate
    reached = judged.estimated.any(axis=1, keepdims=True)
    elsewhere = np.where(reached, booked, np.nan)
    xyz = np.where(judged.estimated[:, :1], judged.marks.xyz, elsewhere)
    if frame.has_grid:
        return frame.grid(xyz)[:, [1, 0]]
    has = np.asarray(np.isfinite(xyz).all(axis=1))
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


def drawn_marks(judged: Judged, units: Units) -> list[DrawnMark]:
    """Return the marks as the map draws them."""
    places, marks = plan(judged), judged.marks
    confidence = percent(judged.network.options.confidence)
    drawn = []
    for i, name in enumerate(judged.network.marks.name):
        kind = mark_kind(judged, i)
        checked = bool(judged.all_checked[i])
        major, minor = float(marks.semi_major[i]), float(marks.semi_minor[i])
        said = f"{'new' if kind == 'new' else f'known, {kind},'} mark {name}"
        if name.startswith("free station "):
            said = name
        if np.isfinite(major) and major > 0:
            said += (
                f": {confidence} ellipse {units.small(major)} by "
                f"{units.small(minor)} {units.small_unit}"
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
