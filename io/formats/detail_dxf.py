"""DXF of a topographic day: a layer for each code, a layer for each line.

Points stand on the layer of their code, their names on another, each line is a 3D
polyline on a layer of its own. Standard deviations have no place in a drawing: they are
in the CSV, and the note says so.
"""

import re
from collections.abc import Sequence

import numpy as np

from ...networks import CommandError
from ...networks.units import UNITS
from .detail import DetailPoints
from .dxf import drawing, layers, section, text

Pairs = list[tuple[int, object]]

_NAMES, _NOTE, _NO_CODE = "SHOT_NAMES", "SHOT_NOTE", "NO_CODE"
_LONGEST = 31
"""Letters of a layer's name in release 12."""


def write_detail_dxf(points: DetailPoints) -> str:
    """Return shots, made points and lines as a drawing: x east, y north, z height.

    Parameters
    ----------
    points : DetailPoints

    Returns
    -------
    str

    Raises
    ------
    CommandError
        No point has a north and an east.
    """
    plane = np.flatnonzero(np.isfinite(points.grid[:, :2]).all(axis=1)).tolist()
    if not plane:
        raise CommandError("no shot has north and east, and a drawing has nothing else")
    place = points.grid[:, [1, 0, 2]] / float(UNITS[points.unit].factor)
    place[:, 2] = np.nan_to_num(place[:, 2])
    size = round(max(float(np.ptp(place[plane, :2], axis=0).max()) / 300, 0.1), 2)
    codes = layer_names([points.code[k] or _NO_CODE for k in plane], "")
    lines = layer_names(list(points.lines), "LINE_")
    entities: Pairs = []
    for k in plane:
        east, north, height = place[k].tolist()
        entities += _point(codes[points.code[k] or _NO_CODE], east, north, height)
        entities += text(_NAMES, points.name[k], east, north, height, size)
    for name, rows in points.lines.items():
        entities += _polyline(lines[name], place[rows].tolist())
    said = _notes(points)
    low = place[plane, :2].min(axis=0).tolist()
    for n, words in enumerate(said, 2):
        entities += text(_NOTE, words, low[0], low[1] - 2 * n * size, 0.0, size)
    shown = [(name, 7) for name in (*codes.values(), *lines.values())]
    pairs: Pairs = [(999, words) for words in said]
    pairs += section("HEADER", [(9, "$ACADVER"), (1, "AC1009")])
    pairs += section("TABLES", layers([*shown, (_NAMES, 8), (_NOTE, 8)]))
    pairs += section("ENTITIES", entities)
    return drawing([*pairs, (0, "EOF")])


def layer_names(words: Sequence[str], start: str) -> dict[str, str]:
    """Return a lawful layer name for each word, no two alike.

    Release 12 has capital letters, digits, ``$``, ``-`` and ``_``, 31 at most.

    Examples
    --------
    >>> layer_names(["bank top", "bank-top", "bank+top"], "")
    {'bank top': 'BANK_TOP', 'bank-top': 'BANK-TOP', 'bank+top': 'BANK_TOP_2'}
    """
    made: dict[str, str] = {}
    taken = {_NAMES, _NOTE}
    for word in dict.fromkeys(words):
        own = re.sub(r"[^A-Z0-9$_-]", "_", f"{start}{word}".upper())[:_LONGEST]
        name, number = own, 1
        while name in taken:
            number += 1
            ending = f"_{number}"
            name = own[: _LONGEST - len(ending)] + ending
        taken.add(name)
        made[word] = name
    return made


def _notes(points: DetailPoints) -> list[str]:
    return [
        f"lengths in {UNITS[points.unit].words}; x east, y north, z height; "
        "0 where a point has no height",
        points.frame,
        "standard deviations: export --shots --csv",
        points.source,
    ]


def _point(layer: str, east: float, north: float, height: float) -> Pairs:
    return [(0, "POINT"), (8, layer), (10, east), (20, north), (30, height)]


def _polyline(layer: str, places: list[list[float]]) -> Pairs:
    """Return a 3D polyline: group 70 says 8; its vertices say 32."""
    made: Pairs = [(0, "POLYLINE"), (8, layer), (66, 1), (70, 8)]
    made += [(10, 0.0), (20, 0.0), (30, 0.0)]
    for east, north, height in places:
        made += [(0, "VERTEX"), (8, layer), (10, east), (20, north), (30, height)]
        made.append((70, 32))
    return [*made, (0, "SEQEND"), (8, layer)]
