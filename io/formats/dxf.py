"""DXF, plain ASCII of release 12: control marks as points with their names.

A drawing knows neither frame nor epoch nor unit: they stand in comments (group 999) at
the head, and in a text on a layer of its own, so that a print shows them too.
"""

from collections.abc import Iterable, Sequence

import numpy as np

from ...networks import CommandError
from .control_points import ControlPoints

_LAYERS = (("CONTROL", 5), ("CONTROL_NAMES", 7), ("CONTROL_NOTE", 8))
"""Name and colour number."""


def write_dxf(points: ControlPoints) -> str:
    """Return the marks as a drawing: x east, y north, z height, in the job's unit.

    Parameters
    ----------
    points : ControlPoints

    Returns
    -------
    str

    Raises
    ------
    CommandError
        No mark has a north and an east.
    """
    plane = np.asarray(np.isfinite(points.grid[:, :2]).all(axis=1))
    if not plane.any():
        raise CommandError(
            "no mark has north and east, and a drawing has nothing else; state "
            "grid_epsg in [frame], or export --csv"
        )
    rows = [k for k in range(len(points.name)) if plane[k]]
    size = _letters(points, rows)
    pairs: list[tuple[int, object]] = [(999, words) for words in notes(points)]
    pairs += [*section("HEADER", [(9, "$ACADVER"), (1, "AC1009")])]
    pairs += [*section("TABLES", layers(_LAYERS))]
    entities: list[tuple[int, object]] = []
    for k in rows:
        east, north, height = place(points, k)
        entities += _point(east, north, height)
        entities += text("CONTROL_NAMES", points.name[k], east, north, height, size)
    low = min(place(points, k)[1] for k in rows), min(place(points, k)[0] for k in rows)
    for n, words in enumerate(notes(points), 2):
        entities += text(
            "CONTROL_NOTE", words, low[1], low[0] - 2 * n * size, 0.0, size
        )
    pairs += [*section("ENTITIES", entities), (0, "EOF")]
    return drawing(pairs)


def drawing(pairs: Iterable[tuple[int, object]]) -> str:
    """Return pairs of group code and value as the text of a drawing."""
    return "".join(f"{code:>3d}\n{spelled(value)}\n" for code, value in pairs)


def notes(points: ControlPoints) -> list[str]:
    """Return what a drawing itself cannot say: unit, frame, heights, source."""
    heights = f"z: {points.height_kind} height; 0 where it is not known"
    said = [f"lengths in {points.unit_words}; x east, y north", points.frame]
    return [*said, heights, points.source]


def place(points: ControlPoints, k: int) -> tuple[float, float, float]:
    """Return east, north and height of a mark in the unit of writing."""
    north, east, height = (points.in_unit(float(v)) for v in points.grid[k])
    return east, north, height if np.isfinite(height) else 0.0


def _letters(points: ControlPoints, rows: Sequence[int]) -> float:
    """Return a height of letters that can be read beside the marks."""
    span = float(np.ptp(points.grid[rows, :2], axis=0).max())
    return round(max(points.in_unit(span) / 150, 0.1), 2)


def section(
    name: str, inside: Iterable[tuple[int, object]]
) -> Iterable[tuple[int, object]]:
    """Yield a section of a drawing, as pairs of group code and value."""
    yield 0, "SECTION"
    yield 2, name
    yield from inside
    yield 0, "ENDSEC"


def layers(named: Sequence[tuple[str, int]]) -> list[tuple[int, object]]:
    """Return the table of layers from names and colour numbers."""
    made: list[tuple[int, object]] = [(0, "TABLE"), (2, "LAYER"), (70, len(named))]
    for name, colour in named:
        made += [(0, "LAYER"), (2, name), (70, 0), (62, colour), (6, "CONTINUOUS")]
    return [*made, (0, "ENDTAB")]


def _point(east: float, north: float, height: float) -> list[tuple[int, object]]:
    return [(0, "POINT"), (8, "CONTROL"), (10, east), (20, north), (30, height)]


def text(
    layer: str, words: str, east: float, north: float, height: float, size: float
) -> list[tuple[int, object]]:
    """Return a text beside a point, letters of a size in the unit of the drawing."""
    at = [(10, east + size), (20, north + size / 2), (30, height)]
    return [(0, "TEXT"), (8, layer), *at, (40, size), (1, words)]


def spelled(value: object) -> str:
    """Return a value as release 12 writes it: five decimals, ASCII alone."""
    if isinstance(value, float):
        return f"{value:.5f}"
    return "".join(_letter(c) for c in str(value))


def _letter(c: str) -> str:
    r"""Return a letter as release 12 has it; others by their number.

    Examples
    --------
    >>> _letter("a"), _letter("é"), _letter("\n")
    ('a', '\\U+00E9', ' ')
    """
    if c < " ":
        return " "
    return c if c.isascii() else f"\\U+{ord(c):04X}"
