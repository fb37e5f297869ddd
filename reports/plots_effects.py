"""How large a blunder may be and stay unseen, against how far it then moves a mark."""

from typing import TYPE_CHECKING, Any

import numpy as np

from .content_reliability import Hidden
from .plot_files import INK, MEETS, RULE, SOFT
from .plot_labels import write_names
from .rounding import Units, percent

if TYPE_CHECKING:
    from collections.abc import Sequence

    from matplotlib.figure import Figure

    from ..networks.covariances import Floats

_NAMED = 5
_PARTS = (("plan", "o"), ("height", "^"))
_SHARES = ((1.0, "all of it"), (0.5, "half of it"), (0.1, "a tenth"))
"""How much of a blunder moves a mark: lines of the plot."""


def effects_figure(hidden: Hidden, units: Units) -> "Figure":
    """Return blunder against effect: the largest move of any mark, plan and height.

    Each observation and set-up is put at the smallest blunder of it that is seen, and
    at how far one just too small moves the mark that follows it most. Lengths and
    angles have a panel each.

    Parameters
    ----------
    hidden : Hidden
        With what observations and set-ups could hide.
    units : Units
    """
    from matplotlib.figure import Figure

    panels = [
        (unit, rows)
        for unit, rows in (
            (units.small_unit, _rows(hidden, "m")),
            (units.small_angle_unit, _rows(hidden, "rad")),
        )
        if rows
    ]
    figure = Figure(
        figsize=(6.4, 1.2 + 4.2 * max(len(panels), 1)), layout="constrained"
    )
    options = hidden.adjustment.network.options
    figure.suptitle(
        "Blunder size against effect: how far one just too small to be seen\n"
        f"moves a mark (α {percent(options.outlier_alpha)}, power "
        f"{percent(options.power)})",
        fontsize=12,
    )
    every = figure.subplots(max(len(panels), 1), 1, squeeze=False)[:, 0]
    for axes, (unit, rows) in zip(every, panels, strict=False):
        _panel(axes, hidden, units, unit, rows)
    if not panels:
        every[0].set_axis_off()
        every[0].text(0.5, 0.5, "Nothing is observed that could be wrong.", ha="center")
    return figure


_Row = tuple[str, int]
"""Table and row of a hypothesis."""


def _rows(hidden: Hidden, measure: str) -> list[_Row]:
    return [
        (table, i)
        for table in ("observation", "set-up")
        for i, one in enumerate(hidden.found[table].hypotheses)
        if one.measure == measure
    ]


def _panel(
    axes: Any, hidden: Hidden, units: Units, unit: str, rows: "Sequence[_Row]"
) -> None:
    size, effect = _figures(hidden, units, unit, rows)
    seen = np.isfinite(size)
    small = units.small_unit
    top = float(np.nanmax(effect[seen], initial=0.0)) or 1.0
    wide = float(np.nanmax(size[seen], initial=0.0)) or 1.0
    if unit == small:
        _shares(axes, wide, top)
    for k, (part, marker) in enumerate(_PARTS):
        here = seen & np.isfinite(effect[:, k]) & (effect[:, k] > 0)
        axes.plot(
            size[here],
            effect[here, k],
            marker,
            markersize=6,
            markerfacecolor="none" if k else MEETS,
            markeredgecolor=INK if k else MEETS,
            linestyle="none",
            label=f"in {part}",
        )
    axes.set_xlim(0, 1.12 * wide)
    axes.set_ylim(0, 1.12 * top)
    axes.set_xlabel(f"smallest blunder seen ({unit})")
    axes.set_ylabel(f"largest move of a mark ({small})")
    blind = int((~seen).sum())
    note = f"\n{blind} more unchecked: none of any size is seen" if blind else ""
    if any(hidden.found[table].few is not None for table, _ in rows):
        seen &= np.isfinite(effect).any(axis=1)
        note += "\nthose with the largest bias to noise; not all are followed to marks"
    axes.set_title(
        f"{int(seen.sum())} observations, set-ups, known marks ({unit}){note}",
        fontsize=10,
        color=SOFT,
    )
    write_names(axes, _named(hidden, rows, size, effect))
    axes.legend(loc="upper right", bbox_to_anchor=(1.0, -0.12), ncols=2)


def _shares(axes: Any, wide: float, top: float) -> None:
    """Draw the lines on which all of a blunder, half of it, a tenth arrives."""
    for share, said in _SHARES:
        axes.plot([0, wide], [0, share * wide], color=RULE, linewidth=1)
        at = min(wide, 1.06 * top / share)
        axes.text(at, share * at, f" {said}", color=SOFT, fontsize=9, va="top")


def _figures(
    hidden: Hidden, units: Units, unit: str, rows: "Sequence[_Row]"
) -> "tuple[Floats, Floats]":
    """Return (n,) size and (n, 2) effects in the units of the axes; NaN for none."""
    said = units.in_small if unit == units.small_unit else units.in_small_angle
    size, effect = np.full(len(rows), np.nan), np.full((len(rows), 2), np.nan)
    for k, (table, i) in enumerate(rows):
        found = hidden.found[table]
        if not found.unchecked[i]:
            size[k] = said(float(found.smallest_detectable[i]))
            effect[k] = [units.in_small(float(found.worst(p)[0][i])) for p in (0, 1)]
    return size, effect


def _named(
    hidden: Hidden, rows: "Sequence[_Row]", size: "Floats", effect: "Floats"
) -> list[tuple[float, float, str]]:
    """Return place and name of those that move a mark farthest."""
    most = np.nan_to_num(np.fmax(effect[:, 0], effect[:, 1]))
    points: list[tuple[float, float, str]] = []
    for k in np.argsort(-most.round(6), kind="stable").tolist():
        if most[k] > 0 and np.isfinite(size[k]) and len(points) < _NAMED:
            one = hidden.found[rows[k][0]].hypotheses[rows[k][1]]
            points.append((float(size[k]), float(most[k]), f"{one.kind} {one.name}"))
    return points
