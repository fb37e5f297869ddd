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
from .drawing_labels import Label, place_labels
from .drawing_view import (
    WIDTH,
    DrawnLine,
    DrawnMark,
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
    marks: Sequence[DrawnMark], lines: Sequence[DrawnLine], confidence: str = "95 %"
) -> tuple[str, str]:
    """Return the map as SVG, and the caption that explains it.

    A mark without a place, and what leads to it, is left off.

    Parameters
    ----------
    marks : sequence of DrawnMark
    lines : sequence of DrawnLine
    confidence : str
        Of the ellipses, as said.
    """
    lines = [x for x in lines if marks[x.start].placed and marks[x.end].placed]
    seen = view(marks)
    factor = exaggeration(marks, seen.scale)
    limits = steps(lines)
    places = [seen.at(mark.east, mark.north) for mark in marks]
    bows = _bows(lines)
    drawn = [
        _line(line, places, bow, limits) for line, bow in zip(lines, bows, strict=True)
    ]
    ellipses = [
        _ellipse(mark, place, factor * seen.scale)
        for mark, place in zip(marks, places, strict=True)
        if mark.placed
    ]
    placed = [(m, at) for m, at in zip(marks, places, strict=True) if m.placed]
    symbols = [_mark(mark, at) for mark, at in placed]
    segments = [(places[x.start], places[x.end]) for x in lines]
    named = _named([mark for mark, _ in placed])
    names = [mark.name for mark, _ in placed if mark in named]
    at = [at for mark, at in placed if mark in named]
    labels = place_labels(names, at, segments, WIDTH)
    bars = _bars(seen, factor)
    tall = seen.height + FOOT
    svg = (
        f'<svg class="map" viewBox="0 0 {WIDTH:g} {tall:.0f}" role="group" '
        f'aria-label="Map of the network">\n'
        + "\n".join(
            [
                *drawn,
                *ellipses,
                *symbols,
                *map(_label, labels),
                _north_arrow(seen),
                bars,
            ]
        )
        + "\n</svg>"
    )
    caption = _caption(factor, limits, lines, confidence)
    if len(labels) < len(placed):
        caption += " Not every mark is named; each has its title, and leads to its row."
    return svg, caption


def _named(marks: Sequence[DrawnMark]) -> list[DrawnMark]:
    """Return the marks that are named on the map: all, or the known of very many."""
    if len(marks) <= NAMED_AT_MOST:
        return list(marks)
    return [mark for mark in marks if mark.kind != "new"]


def _bows(lines: Sequence[DrawnLine]) -> list[float]:
    """Return how far each line is bowed, so that repeats lie beside each other.

    Vectors lie each apart. Of the dozens of pointings of a total station between
    two marks one line is seen, and one of the levelled runs: the heaviest.
    """
    pairs: dict[tuple[int, int], dict[str, list[int]]] = {}
    for i, line in enumerate(lines):
        pair = min(line.start, line.end), max(line.start, line.end)
        family = _FAMILIES.get(line.kind, f"{line.kind} {line.name}")
        pairs.setdefault(pair, {}).setdefault(family, []).append(i)
    bows = [0.0] * len(lines)
    for families in pairs.values():
        for k, group in enumerate(families.values()):
            for i in group:
                side = 1.0 if lines[i].start < lines[i].end else -1.0
                bows[i] = side * 16.0 * (k - (len(families) - 1) / 2)
    return bows


_FAMILIES = {
    "slope distance": "sights",
    "horizontal distance": "sights",
    "direction": "sights",
    "angle": "sights",
    "azimuth": "sights",
    "zenith angle": "sights",
    "level difference": "levels",
}


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
    strokes = f'<path class="touch" d="{path}"/><path class="line {kind}" d="{path}"/>'
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
    """Return the scale bars: of the ground, and of the exaggerated ellipses."""
    y = seen.height + 22
    ground = round_down(190 / seen.scale)
    ellipse = round_down(100 / (seen.scale * factor))
    said = f"{ground / 1000:g} km" if ground >= 1000 else f"{ground:g} m"
    return _bar(24, y, ground * seen.scale, f"{said} on the ground") + _bar(
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


def _caption(
    factor: float,
    limits: tuple[float, float],
    lines: Sequence[DrawnLine],
    confidence: str,
) -> str:
    lower, upper = (f"{1000 * limit:g}" for limit in limits)
    kinds = {weight(line, limits) for line in lines}
    words = [
        f"Ellipses {confidence}, drawn {_spaced(factor)} times too large.",
        "Triangle: known mark (full held, half weighted, open check-only). Circle: "
        "new mark (full checked, open unchecked).",
    ]
    if lines:
        words.append(
            "The heavier a line, the larger a blunder it would let pass: light up to "
            f"{lower} mm, middle up to {upper} mm, heavy beyond."
        )
    if any(line.kind in _FAMILIES for line in lines):
        words.append(
            "All pointings between two marks lie on one line, all levelled runs on "
            "another."
        )
    if "hollow" in kinds:
        words.append("Hollow line: nothing checks it.")
    if "left-out" in kinds:
        words.append("Cross on a thin line: left out by decision.")
    return " ".join(words)
