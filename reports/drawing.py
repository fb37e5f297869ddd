"""The map of a network as SVG: marks, observations, ellipses, two scale bars.

Known marks are triangles (full held, half weighted, open check-only), new marks are
circles (full checked, open unchecked). A line is the heavier the larger a blunder it
would let pass; hollow where nothing checks it, crossed where it is left out. Every
mark and line has a title, takes the focus and leads to its row by a plain link.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from html import escape

import numpy as np

from ..networks.covariances import Floats
from .document import anchor
from .drawing_labels import Label, place_labels

WIDTH, MARGIN, LEAST, MOST = 800.0, 70.0, 300.0, 640.0
"""The map's width, its margin, and the least and most of its height, px."""
FOOT = 66.0
"""Room for the scale bars below the map, px."""


@dataclass(frozen=True, slots=True)
class DrawnMark:
    """A mark on the map."""

    name: str
    east: float
    north: float
    """m, from any origin."""
    kind: str
    """``held``, ``weighted``, ``check-only`` or ``new``."""
    checked: bool
    semi_major: float
    semi_minor: float
    """m; 0 or NaN for none."""
    azimuth: float
    """Of the semi-major axis, radians from north."""
    title: str
    row: str
    """Anchor of its row."""

    @property
    def placed(self) -> bool:
        """Whether it has a place; a mark that nothing reaches has none."""
        return bool(np.isfinite(self.east) and np.isfinite(self.north))


@dataclass(frozen=True, slots=True)
class DrawnLine:
    """An observation between two marks on the map."""

    kind: str
    name: str
    start: int
    end: int
    smallest: float
    """Smallest blunder that would be seen, m; NaN where nothing checks it."""
    used: bool
    title: str
    row: str


@dataclass(frozen=True, slots=True)
class View:
    """From ground to drawing."""

    scale: float
    """px per m."""
    west: float
    north: float
    """Ground coordinates of the drawing's upper left corner, m."""
    height: float
    """Of the drawing without its foot, px."""

    def at(self, east: float, north: float) -> tuple[float, float]:
        """Return the place of a ground position in the drawing, px."""
        return (east - self.west) * self.scale, (self.north - north) * self.scale


def round_down(value: float) -> float:
    """Return the largest of 1, 2, 5, 10, 20 … that is not over the value.

    Examples
    --------
    >>> round_down(0.037), round_down(720.0)
    (0.02, 500.0)
    """
    power = 10.0 ** np.floor(np.log10(value))
    step = max(s for s in (1.0, 2.0, 5.0) if s * power <= value * (1 + 1e-12))
    return float(f"{step * power:.12g}")


def view(marks: Sequence[DrawnMark]) -> View:
    """Return the view that shows all marks, north up."""
    east = np.array([mark.east for mark in marks if mark.placed] or [0.0])
    north = np.array([mark.north for mark in marks if mark.placed] or [0.0])
    wide, tall = float(np.ptp(east)), float(np.ptp(north))
    room = WIDTH - 2 * MARGIN
    scale = min(room / max(wide, 1e-3), (MOST - 2 * MARGIN) / max(tall, 1e-3))
    height = max(LEAST, tall * scale + 2 * MARGIN)
    middle_east, middle_north = east.min() + wide / 2, north.min() + tall / 2
    west = middle_east - WIDTH / 2 / scale
    return View(scale, float(west), float(middle_north + height / 2 / scale), height)


def exaggeration(marks: Sequence[DrawnMark], scale: float) -> float:
    """Return the round factor that draws the largest ellipse up to 70 px long."""
    sizes = [m.semi_major for m in marks if np.isfinite(m.semi_major)]
    largest = max(sizes, default=0.0)
    return round_down(70.0 / (largest * scale)) if largest > 0 else 1.0


def steps(lines: Sequence[DrawnLine]) -> tuple[float, float]:
    """Return the two smallest-seen blunders, m, where the line becomes heavier.

    Round figures near a third and two thirds of the lines; equal networks get one
    weight.
    """
    seen = np.array([x.smallest for x in lines if x.used and np.isfinite(x.smallest)])
    if not len(seen):
        return 0.02, 0.05
    first, second = np.quantile(seen, [1 / 3, 2 / 3]) * 1000
    lower = max(5.0, 5 * np.ceil(first / 5))
    upper = max(lower + 5, 5 * np.ceil(second / 5))
    return float(lower / 1000), float(upper / 1000)


def weight(line: DrawnLine, limits: tuple[float, float]) -> str:
    """Return the weight of a line: light, middle, heavy, hollow or left-out."""
    if not line.used:
        return "left-out"
    if not np.isfinite(line.smallest):
        return "hollow"
    return ("light", "middle", "heavy")[sum(line.smallest > x for x in limits)]


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
    names, at = [mark.name for mark, _ in placed], [at for _, at in placed]
    labels = [_label(x) for x in place_labels(names, at, segments, WIDTH)]
    bars = _bars(seen, factor)
    tall = seen.height + FOOT
    svg = (
        f'<svg class="map" viewBox="0 0 {WIDTH:g} {tall:.0f}" role="group" '
        f'aria-label="Map of the network">\n'
        + "\n".join([*drawn, *ellipses, *symbols, *labels, _north_arrow(seen), bars])
        + "\n</svg>"
    )
    return svg, _caption(factor, limits, lines, confidence)


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
        f"The heavier a line, the larger a blunder it would let pass: to {lower} mm, "
        f"to {upper} mm, over {upper} mm.",
    ]
    if "hollow" in kinds:
        words.append("Hollow line: nothing checks it.")
    if "left-out" in kinds:
        words.append("Cross on a thin line: left out by decision.")
    return " ".join(words)
