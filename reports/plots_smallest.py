"""The smallest blunder that would be seen, observation by observation."""

from typing import TYPE_CHECKING, Any

import numpy as np

from .judged import Judged
from .plot_files import INK, MEETS, RULE, SOFT
from .rounding import Units, percent

if TYPE_CHECKING:
    from collections.abc import Sequence

    from matplotlib.figure import Figure

MOST, BLIND = 40, 15
"""Rows that a panel names, of those that are seen and of those that never are."""
_LENGTHS, _ANGLES = ("enu", "m"), ("rad",)


def smallest_figure(judged: Judged, units: Units) -> "Figure":
    """Return the smallest detectable blunder of each observation, largest on top.

    Lengths and angles have a panel each. What nothing checks stands above all, with
    words: no blunder of it is ever seen.

    Parameters
    ----------
    judged : Judged
    units : Units
    """
    from matplotlib.figure import Figure

    panels = [
        (said, rows)
        for said, rows in (
            (units.small_unit, _rows(judged, _LENGTHS)),
            (units.small_angle_unit, _rows(judged, _ANGLES)),
        )
        if rows
    ]
    shown = [_shown(judged, rows) for _, rows in panels]
    lines = [len(blind) + len(seen) for blind, seen in shown]
    height = 1.6 + sum(0.24 * count + 0.9 for count in lines)
    figure = Figure(figsize=(6.4, height), layout="constrained")
    options = judged.network.options
    figure.suptitle(
        "Smallest blunder that would be seen, by observation\n"
        f"(α {percent(options.outlier_alpha)}, power {percent(options.power)}; of a "
        "vector in the direction that hides best)",
        fontsize=12,
    )
    every = figure.subplots(
        max(len(panels), 1),
        1,
        squeeze=False,
        height_ratios=[n + 2 for n in lines] or [1],
    )[:, 0]
    for axes, (unit, rows), some in zip(every, panels, shown, strict=False):
        _panel(axes, judged, units, unit, rows, some)
    if not panels:
        every[0].set_axis_off()
        every[0].text(0.5, 0.5, "No observation is tested.", ha="center")
    return figure


def _rows(judged: Judged, measures: "Sequence[str]") -> list[int]:
    tests = judged.tests
    return [
        int(i)
        for i in np.flatnonzero(tests.is_observation)
        if tests.measure[i] in measures
    ]


def _shown(judged: Judged, rows: "Sequence[int]") -> tuple[list[int], list[int]]:
    """Return the rows that are named: never seen, and the largest of those seen."""
    tests = judged.tests
    size = tests.tests.smallest_detectable
    blind = [i for i in rows if tests.verdict[i] == "unchecked"]
    seen = [i for i in rows if tests.verdict[i] != "unchecked"]
    seen.sort(key=lambda i: -round(float(size[i]), 9))
    return blind[:BLIND], seen[:MOST]


def _panel(
    axes: Any,
    judged: Judged,
    units: Units,
    unit: str,
    rows: "Sequence[int]",
    some: tuple[list[int], list[int]],
) -> None:
    tests, (blind, seen) = judged.tests, some
    size = tests.tests.smallest_detectable
    value = [float(_in(units, unit, float(size[i]))) for i in seen]
    place = np.arange(len(blind), len(blind) + len(seen))
    most = max(value, default=1.0)
    axes.hlines(place, 0, value, color=RULE, linewidth=1)
    axes.plot(value, place, "o", color=MEETS, markersize=5, linestyle="none")
    for k in range(len(blind)):
        axes.text(0, k, "      unchecked: none of any size", va="center", fontsize=9)
        axes.plot([0], [k], "x", color=INK, markersize=6, clip_on=False)
    names = [f"{tests.kind[i]} {tests.name[i]}" for i in (*blind, *seen)]
    axes.set_yticks(range(len(names)), [_short(name) for name in names], fontsize=9)
    axes.set_ylim(len(names) - 0.4, -0.6)
    axes.set_xlim(0, 1.08 * most)
    axes.set_xlabel(f"smallest blunder seen ({unit})", color=INK)
    axes.grid(axis="x", color=RULE, linewidth=0.5)
    axes.tick_params(axis="y", length=0)
    left = len(rows) - len(names)
    note = f"; {left} more are not drawn" if left else ""
    axes.set_title(f"{len(rows)} observations ({unit}){note}", fontsize=10, color=SOFT)


def _in(units: Units, unit: str, size: float) -> float:
    """Return a size in the unit of the axis; ″ and mgon are the same for angles."""
    if unit == units.small_unit:
        return units.in_small(size)
    return units.in_small_angle(size)


def _short(name: str) -> str:
    return name if len(name) <= 34 else f"{name[:33]}…"
