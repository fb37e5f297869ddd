"""Names beside the points of a plot, one below the other where they would meet."""

from collections.abc import Sequence
from typing import Any

from .plot_files import RULE, SOFT

_GAP = 0.042
"""Of the height of a plot, from one name to the next."""


def write_names(axes: Any, points: Sequence[tuple[float, float, str]]) -> None:
    """Write names beside points, towards the middle, each name and each place once.

    Parameters
    ----------
    axes : matplotlib Axes
        With its limits set.
    points : sequence of (float, float, str)
        Place and name, the most important first.
    """
    (left, right), (low, high) = axes.get_xlim(), axes.get_ylim()
    middle, gap = (left + right) / 2, _GAP * (high - low)
    beneath = high
    there: set[tuple[int, int]] = set()
    said: set[str] = set()
    for x, y, name in sorted(points, key=lambda one: -one[1]):
        place = round(100 * (x - left) / (right - left)), round(9 * y / gap)
        if name in said or place in there:
            continue
        said.add(name)
        there.add(place)
        west, beneath = bool(x < middle), min(y, beneath - gap)
        axes.annotate(
            name,
            (x, y),
            xytext=(x + (0.03 if west else -0.03) * (right - left), beneath),
            ha="left" if west else "right",
            va="center",
            fontsize=9,
            color=SOFT,
            arrowprops={"arrowstyle": "-", "color": RULE, "linewidth": 0.8},
        )
