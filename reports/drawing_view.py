"""From ground to drawing: what is drawn, how large, how heavy, how exaggerated."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

WIDTH, MARGIN, LEAST, MOST = 800.0, 70.0, 300.0, 640.0
"""The map's width, its margin, and the least and most of its height, px."""


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
    """Observations between two marks on the map."""

    kind: str
    """``baseline``, or ``sights`` or ``levels``: all of them between two marks."""
    name: str
    start: int
    end: int
    smallest: float
    """Smallest blunder that would be seen, m, of several the largest; NaN where
    nothing checks one."""
    used: bool
    title: str
    row: str


@dataclass(frozen=True, slots=True)
class DrawnSquare:
    """A mark that positions were taken of."""

    name: str
    """Of the mark."""
    mark: int
    used: bool
    """Whether any of its positions is in use."""
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
