"""From an adjustment to what the map shows."""

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from .content_lines import drawn_lines, drawn_positions, lines_between
from .document import Figure, Paragraph, anchor
from .drawing import network_map
from .drawing_view import DrawnMark
from .judged import Judged
from .rounding import Units, percent
from .thinning import thinned
from .worst_rows import full_table

if TYPE_CHECKING:
    from ..networks.covariances import Bools, Floats, Ints


def map_figure(judged: Judged, units: Units) -> Figure | Paragraph:
    """Return the map of the network with its ellipses; words where there is no plan."""
    if len(judged.network.marks) > MOST_MARKS:
        return _thinned(judged, units)
    marks, lines = drawn_marks(judged, units), drawn_lines(judged, units)
    if not any(mark.placed for mark in marks):
        return _NO_MAP
    confidence = percent(judged.network.options.confidence)
    squares = drawn_positions(judged, units)
    return Figure(*network_map(marks, lines, confidence, squares))


MOST_MARKS = 1000
"""Marks up to which a map draws every one of them."""

_NO_MAP = Paragraph("No map: this job has heights alone, and no mark has a place.")


def _thinned(judged: Judged, units: Units) -> Figure | Paragraph:
    """Return the map of a large network: of each square one mark."""
    places, marks = plan(judged), judged.marks
    held, size = judged.held.any(axis=1), np.nan_to_num(marks.semi_major)
    thin = thinned(places, np.where(held, np.inf, size))
    if not len(thin.drawn):
        return _NO_MAP
    drawn = drawn_marks(judged, units, thin.drawn)
    lines = [
        replace(line, start=int(thin.place[line.start]), end=int(thin.place[line.end]))
        for line in lines_between(judged, units, thin.place)
    ]
    squares = [
        replace(square, mark=int(thin.place[square.mark]))
        for square in drawn_positions(judged, units, thin.drawn)
    ]
    confidence = percent(judged.network.options.confidence)
    svg, caption = network_map(drawn, lines, confidence, squares)
    said = (
        f"{len(thin.drawn)} of {len(places)} marks are drawn: of each square of "
        f"{thin.side / 1000:.3g} km a held one, or the one with the largest ellipse. A "
        "line stands for all observations between two squares and shows the one that "
        "would hide the largest blunder. All marks stand in "
        f"{full_table(judged, 'marks')}."
    )
    return Figure(svg, f"{caption} {said}")


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


def mark_kind(judged: Judged, mark: int, held: "Bools | None" = None) -> str:
    """Return what part a mark plays: held, weighted, check-only or new.

    Parameters
    ----------
    judged : Judged
    mark : int
    held : ndarray of bool, shape (m, 3), optional
        ``judged.held``, where many marks are asked about.
    """
    network = judged.network
    datum = judged.adjustment.datum
    rows = np.flatnonzero(network.known.mark == mark)
    if (judged.held if held is None else held)[mark].any():
        return "held"
    if datum.weighted[rows].any():
        return "weighted"
    return "check-only" if len(rows) else "new"


def drawn_marks(
    judged: Judged, units: Units, some: "Ints | None" = None
) -> list[DrawnMark]:
    """Return the marks as the map draws them, all or some."""
    places, marks = plan(judged), judged.marks
    confidence = percent(judged.network.options.confidence)
    names, held, whole = judged.network.marks.name, judged.held, judged.all_checked
    drawn = []
    for i in range(len(names)) if some is None else some.tolist():
        name, kind = names[i], mark_kind(judged, i, held)
        checked = bool(whole[i])
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
