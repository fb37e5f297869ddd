"""Where the names go on a map: beside their marks, off the lines and off each other."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

Place = tuple[float, float]
_SIDES = (
    (14.0, 6.0, "start"),
    (-14.0, 6.0, "end"),
    (0.0, -18.0, "middle"),
    (0.0, 28.0, "middle"),
    (12.0, -10.0, "start"),
    (-12.0, -10.0, "end"),
    (12.0, 22.0, "start"),
    (-12.0, 22.0, "end"),
)
"""Offsets from the mark, the preferred first, and the side the text is set to."""
_COVERS = 1000.0
"""Cost of covering another name."""
_SIZE, _TALL = 27.0, 25.0
"""Of the letters and of a line on a phone, where they are largest, px."""
_NARROW, _WIDE = frozenset(" fijltI.,:;'()[]|/-"), frozenset("MWmw@%")


@dataclass(frozen=True, slots=True)
class Label:
    """A name and where its text is anchored."""

    text: str
    x: float
    y: float
    to: str
    """``start``, ``middle`` or ``end``."""

    @property
    def box(self) -> tuple[float, float, float, float]:
        """Left, top, right, bottom of the text, about, px."""
        wide = text_width(self.text)
        left = self.x - {"start": 0.0, "middle": wide / 2, "end": wide}[self.to]
        return left, self.y - _TALL + 3, left + wide, self.y + 4


def text_width(said: str) -> float:
    """Return about how wide a name is on a phone in a sans-serif face, px.

    Examples
    --------
    >>> text_width("WW") > text_width("AA") > text_width("aa") > text_width("ii")
    True
    """
    ems = [
        0.33 if c in _NARROW else 0.95 if c in _WIDE else 0.72 if c.isupper() else 0.57
        for c in said
    ]
    return _SIZE * sum(ems)


def place_labels(
    names: Sequence[str],
    places: Sequence[Place],
    segments: Sequence[tuple[Place, Place]],
    wide: float,
) -> list[Label]:
    """Return the labels of marks, each on the side that hides the least.

    A name that would cover another one on every side is left out.

    Parameters
    ----------
    names : sequence of str
    places : sequence of (float, float)
        Of the marks, px.
    segments : sequence of pairs of places
        The lines of the map.
    wide : float
        Width of the map, px.
    """
    dots = np.array([p for a, b in segments for p in _along(a, b)]).reshape(-1, 2)
    marks = np.array(places).reshape(-1, 2)
    done: list[Label] = []
    for name, (x, y) in zip(names, places, strict=True):
        tried = [Label(name, x + dx, y + dy, to) for dx, dy, to in _SIDES]
        costs = [
            _cost(label, done, dots, marks, wide) + 0.1 * rank
            for rank, label in enumerate(tried)
        ]
        best = int(np.argmin(costs))
        if costs[best] < _COVERS:
            done.append(tried[best])
    return done


def _along(a: Place, b: Place) -> Iterator[Place]:
    for t in np.linspace(0.02, 0.98, 33):
        yield a[0] + t * (b[0] - a[0]), a[1] + t * (b[1] - a[1])


def _cost(
    label: Label,
    done: Sequence[Label],
    dots: "np.typing.NDArray[np.float64]",
    marks: "np.typing.NDArray[np.float64]",
    wide: float,
) -> float:
    left, top, right, bottom = label.box
    outside = 100.0 * (left < 2 or right > wide - 2 or top < 2)

    def inside(points: "np.typing.NDArray[np.float64]") -> int:
        x, y = points[:, 0], points[:, 1]
        return int(((x > left) & (x < right) & (y > top) & (y < bottom)).sum())

    overlaps = sum(
        left < b[2] and b[0] < right and top < b[3] and b[1] < bottom
        for b in (other.box for other in done)
    )
    return outside + _COVERS * overlaps + 8.0 * inside(marks) + inside(dots)
