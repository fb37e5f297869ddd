"""The map of a network as SVG: marks, observations, ellipses, two scale bars.

Known marks are triangles (full held, half weighted, open check-only), new marks are
circles (full checked, open unchecked). A line is the heavier the larger a blunder it
would let pass; hollow where nothing checks it, crossed where it is left out. Every
mark and line has a title, takes the focus and leads to its row by a plain link.
"""

from collections.abc import Sequence
from html import escape

import numpy as np

from ..networks.covariances import Floats
from .document import anchor
from .drawing_labels import Label, Place, place_labels
from .drawing_view import (
    WIDTH,
    DrawnLine,
    DrawnMark,
    DrawnSquare,
    View,
    exaggeration,
    round_down,
    steps,
    view,
    weight,
)

NAMED_AT_MOST = 150
"""Marks on a map up to which every one is named."""
FOOT = 66.0
"""Room for the scale bars below the map, px."""


def network_map(
    marks: Sequence[DrawnMark],
    lines: Sequence[DrawnLine],
    confidence: str = "95 %",
    squares: Sequence[DrawnSquare] = (),
) -> tuple[str, str]:
    """Return the map as SVG, and the caption that explains it.

    A mark without a place, and what leads to it, is left off.

    Parameters
    ----------
    marks : sequence of DrawnMark
    lines : sequence of DrawnLine
    confidence : str
        Of the ellipses, as said.
    squares : sequence of DrawnSquare
        Marks that positions were taken of.
    """
    lines = [x for x in lines if marks[x.start].placed and marks[x.end].placed]
    seen = view(marks)
    factor, limits = exaggeration(marks, seen.scale), steps(lines)
    places = [seen.at(mark.east, mark.north) for mark in marks]
    placed = [(m, at) for m, at in zip(marks, places, strict=True) if m.placed]
    ellipses = [_ellipse(mark, at, factor * seen.scale) for mark, at in placed]
    factor = factor if any(ellipses) else 0.0
    segments = [(places[x.start], places[x.end]) for x in lines]
    labels = _labels(placed, segments)
    shapes = [
        *_lines(lines, places, limits),
        *ellipses,
        *(_square(s, places[s.mark]) for s in squares if marks[s.mark].placed),
        *(_mark(mark, at) for mark, at in placed),
        *map(_label, labels),
        _north_arrow(seen),
        _bars(seen, factor),
    ]
    caption = _caption(factor, limits, lines, confidence)
    if squares:
        caption += " Open square: positions were taken there."
    if len(labels) < len(placed):
        caption += " Not every mark is named; each has its title, and leads to its row."
    return _svg(shapes, seen.height + FOOT), caption


def _svg(shapes: Sequence[str], tall: float) -> str:
    head = (
        f'<svg class="map" viewBox="0 0 {WIDTH:g} {tall:.0f}" role="group" '
        f'aria-label="Map of the network">'
    )
    return "\n".join([head, *filter(None, shapes), "</svg>"])


def _labels(
    placed: Sequence[tuple[DrawnMark, Place]], segments: Sequence[tuple[Place, Place]]
) -> list[Label]:
    """Return the names of the marks, or of very many those of the known ones."""
    few = len(placed) <= NAMED_AT_MOST
    named = [(mark.name, at) for mark, at in placed if few or mark.kind != "new"]
    names, places = [name for name, _ in named], [at for _, at in named]
    return place_labels(names, places, segments, WIDTH)


def _lines(
    lines: Sequence[DrawnLine], places: Sequence[Place], limits: tuple[float, float]
) -> list[str]:
    bows = zip(lines, _bows(lines), strict=True)
    return [_line(line, places, bow, limits) for line, bow in bows]


def _bows(lines: Sequence[DrawnLine]) -> list[float]:
    """Return how far each line is bowed, so that repeats lie beside each other."""
    pairs: dict[tuple[int, int], list[int]] = {}
    for i, line in enumerate(lines):
        pairs.setdefault((min(line.start, line.end), max(line.start, line.end)), [])
        pairs[min(line.start, line.end), max(line.start, line.end)].append(i)
    bows = [0.0] * len(lines)
    for group in pairs.values():
        for k, i in enumerate(group):
            side = 1.0 if lines[i].start < lines[i].end else -1.0
            bows[i] = side * 16.0 * (k - (len(group) - 1) / 2)
    return bows


def _line(
    line: DrawnLine,
    places: Sequence[tuple[float, float]],
    bow: float,
    limits: tuple[float, float],
) -> str:
    a, b = np.array(places[line.start]), np.array(places[line.end])
    across = np.array([a[1] - b[1], b[0] - a[0]])
    long = float(np.hypot(*across)) or 1.0
    middle = (a + b) / 2 + bow * across / long
    control = 2 * middle - (a + b) / 2
    path = f"M{_xy(a)}Q{_xy(control)} {_xy(b)}"
    kind = weight(line, limits)
    dashes = f" {line.kind}" if line.kind in ("sights", "levels") else ""
    strokes = (
        f'<path class="touch" d="{path}"/>'
        f'<path class="line {kind}{dashes}" d="{path}"/>'
    )
    if kind == "hollow":
        strokes += f'<path class="core" d="{path}"/>'
    if kind == "left-out":
        x, y = middle
        strokes += (
            f'<path class="cross" d="M{x - 6:.1f} {y - 6:.1f}L{x + 6:.1f} {y + 6:.1f}'
            f'M{x - 6:.1f} {y + 6:.1f}L{x + 6:.1f} {y - 6:.1f}"/>'
        )
    return _linked(f"{line.kind} {line.name}", line.row, line.title, strokes)


def _linked(name: str, row: str, title: str, shapes: str) -> str:
    said = escape(title)
    return (
        f'<a id="{anchor("map", name)}" href="#{row}" aria-label="{said}">'
        f"<title>{said}</title>{shapes}</a>"
    )


def _xy(at: Floats) -> str:
    return f"{at[0]:.1f} {at[1]:.1f}"


def _mark(mark: DrawnMark, at: tuple[float, float]) -> str:
    x, y = at
    shapes = f'<circle class="touch" cx="{x:.1f}" cy="{y:.1f}" r="22"/>'
    if mark.kind == "new":
        fill = "full" if mark.checked else "open"
        shapes += _symbol(f'<circle class="{fill}" cx="{x:.1f}" cy="{y:.1f}" r="6"/>')
    else:
        fill = "full" if mark.kind == "held" else "open"
        drawn = f'<path class="{fill}" d="M{x:.1f} {y - 10:.1f}l9.5 16h-19z"/>'
        if mark.kind == "weighted":
            drawn += f'<path class="full" d="M{x:.1f} {y - 10:.1f}v16h-9.5z"/>'
        shapes += _symbol(drawn)
    return _linked(f"mark {mark.name}", mark.row, mark.title, shapes)


def _square(square: DrawnSquare, at: tuple[float, float]) -> str:
    x, y = at
    drawn = f"M{x - 15:.1f} {y - 15:.1f}h30v30h-30z"
    shapes = f'<path class="touch" d="{drawn}"/><path class="square" d="{drawn}"/>'
    if not square.used:
        crossed = f"M{x - 15:.1f} {y - 15:.1f}l30 30m0 -30l-30 30"
        shapes += f'<path class="cross" d="{crossed}"/>'
    return _linked(f"positions {square.name}", square.row, square.title, shapes)


def _symbol(shapes: str) -> str:
    return f'<g class="mark">{shapes}</g>'


def _ellipse(mark: DrawnMark, at: tuple[float, float], px_per_m: float) -> str:
    if not (np.isfinite(mark.semi_major) and mark.semi_major > 0):
        return ""
    x, y = at
    return (
        f'<ellipse class="ellipse" cx="{x:.1f}" cy="{y:.1f}" '
        f'rx="{mark.semi_minor * px_per_m:.2f}" ry="{mark.semi_major * px_per_m:.2f}" '
        f'transform="rotate({np.degrees(mark.azimuth):.2f} {x:.1f} {y:.1f})"/>'
    )


def _label(label: Label) -> str:
    return (
        f'<text x="{label.x:.1f}" y="{label.y:.1f}" text-anchor="{label.to}">'
        f"{escape(label.text)}</text>"
    )


def _north_arrow(seen: View) -> str:
    x, y = WIDTH - 34, seen.height + 10
    return (
        f'<path class="bar" d="M{x:g} {y + 20:.1f}v-34m-7 12l7 -14l7 14"/>'
        f'<text class="small" x="{x:g}" y="{y + 42:.1f}" text-anchor="middle">N</text>'
    )


def _bars(seen: View, factor: float) -> str:
    """Return the scale bars: of the ground, and of the ellipses if there are any."""
    y = seen.height + 22
    ground = round_down(190 / seen.scale)
    said = f"{ground / 1000:g} km" if ground >= 1000 else f"{ground:g} m"
    bar = _bar(24, y, ground * seen.scale, f"{said} on the ground")
    if not factor:
        return bar
    ellipse = round_down(100 / (seen.scale * factor))
    return bar + _bar(
        WIDTH / 2 + 24,
        y,
        ellipse * seen.scale * factor,
        f"{ellipse * 1000:g} mm of an ellipse",
    )


def _bar(x: float, y: float, long: float, said: str) -> str:
    return (
        f'<path class="bar" d="M{x:.1f} {y - 7:.1f}v14m0 -7h{long:.1f}m0 -7v14"/>'
        f'<text class="small" x="{x:.1f}" y="{y + 28:.1f}">{said}</text>'
    )


def _spaced(factor: float) -> str:
    return f"{factor:,.0f}".replace(",", "\N{NO-BREAK SPACE}")


_STROKES = {
    "baseline": "unbroken a baseline",
    "sights": "long dashes the sights of a total station",
    "levels": "dots levelled runs",
}
"""How the lines of each kind are drawn, in words."""


def _caption(
    factor: float,
    limits: tuple[float, float],
    lines: Sequence[DrawnLine],
    confidence: str,
) -> str:
    lower, upper = (f"{1000 * limit:g}" for limit in limits)
    kinds = {weight(line, limits) for line in lines}
    drawn = f"Ellipses {confidence}, drawn {_spaced(factor)} times too large."
    words = [
        *([drawn] if factor else []),
        "Triangle: known mark (full held, half weighted, open check-only). Circle: "
        "new mark (full checked, open unchecked).",
    ]
    families = {line.kind for line in lines} & set(_STROKES)
    if families - {"baseline"}:
        strokes = [_STROKES[kind] for kind in _STROKES if kind in families]
        words.append(
            f"Line: {', '.join(strokes)}; all pointings between two marks are one "
            "line, all levelled runs another, as heavy as its worst."
        )
    if lines:
        words.append(
            "The heavier a line, the larger a blunder it would let pass: light up to "
            f"{lower} mm, middle up to {upper} mm, heavy beyond."
        )
    if "hollow" in kinds:
        words.append("Hollow line: nothing checks it.")
    if "left-out" in kinds:
        words.append("Cross on a thin line: left out by decision.")
    return " ".join(words)
