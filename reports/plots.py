"""The network and its heights by matplotlib, imported only on request."""

from typing import TYPE_CHECKING, Any

import numpy as np

from ..networks.units import UNITS
from .content_lines import drawn_lines, drawn_positions
from .content_map import drawn_marks
from .drawing_view import exaggeration
from .judged import Judged, judge
from .plot_files import INK, MEETS, PAPER, SOFT
from .rounding import Units, percent

if TYPE_CHECKING:
    from collections.abc import Sequence

    from matplotlib.figure import Figure

    from ..adjust import Adjustment
    from .drawing_view import DrawnLine, DrawnMark


def network_figure(judged: Judged, units: Units | None = None) -> "Figure":
    """Return the network with its ellipses as a matplotlib figure.

    Parameters
    ----------
    judged : Judged
    units : Units, optional
        Unit of the axes; metres when not given.
    """
    from matplotlib.figure import Figure

    said = units or Units()
    marks, lines = drawn_marks(judged, said), drawn_lines(judged, said)
    figure = Figure(figsize=(8, 7), layout="constrained")
    axes = figure.add_subplot()
    axes.set_aspect("equal", adjustable="datalim")
    for square in drawn_positions(judged, said):
        mark = marks[square.mark]
        axes.plot([mark.east], [mark.north], "s", **_SQUARE, label="position")
    _draw_lines(axes, marks, lines)
    places = np.array([(m.east, m.north) for m in marks if m.placed] or [(0.0, 0.0)])
    span = max(float(np.ptp(places, axis=0).max()), 1e-3)
    factor = exaggeration(marks, 800.0 / span)
    for mark in (m for m in marks if m.placed):
        _draw_mark(axes, mark, factor)
    _legend(axes)
    confidence = percent(judged.network.options.confidence)
    axes.set_title(f"Ellipses {confidence}, × {factor:g}", color=INK)
    axes.set_xlabel("east (m)")
    axes.set_ylabel("north (m)")
    axes.ticklabel_format(useOffset=False, style="plain")
    return figure


_STYLES: dict[str, Any] = {
    "baseline": "-",
    "sights": (0, (9, 3)),
    "levels": (0, (1, 2)),
}
_SQUARE: dict[str, Any] = {
    "markersize": 13,
    "markerfacecolor": "none",
    "markeredgecolor": INK,
    "linestyle": "none",
}


def _draw_lines(
    axes: Any, marks: "Sequence[DrawnMark]", lines: "Sequence[DrawnLine]"
) -> None:
    """Draw every line in the style of its kind, thin where it is left out."""
    for line in lines:
        ends = [marks[line.start], marks[line.end]]
        axes.plot(
            [mark.east for mark in ends],
            [mark.north for mark in ends],
            color=INK if line.kind == "levels" else SOFT,
            linewidth=1.4 if line.used else 0.5,
            linestyle=_STYLES[line.kind],
            label=line.kind if line.used else f"{line.kind}, left out",
            zorder=2 if line.kind == "levels" else 1,
        )


def _legend(axes: Any) -> None:
    """Name each kind of line once."""
    handles, labels = axes.get_legend_handles_labels()
    named = dict(zip(labels, handles, strict=True))
    if set(named) - {"baseline"}:
        axes.legend(named.values(), named.keys(), loc="best", frameon=False)


def heights_figure(judged: Judged, units: Units | None = None) -> "Figure":
    """Return the heights of what was levelled, marks in the order of the table.

    Of a job without levels, those of all marks.

    Parameters
    ----------
    judged : Judged
    units : Units, optional
        Unit of the axis; metres when not given.
    """
    from matplotlib.figure import Figure

    said = units or Units()
    scale = UNITS[said.unit].factor
    heights = judged.grid[:, 2] * float(1 / scale)
    lines = [line for line in drawn_lines(judged, said) if line.kind == "levels"]
    ends = sorted({end for line in lines for end in (line.start, line.end)})
    marks = ends or list(range(len(heights)))
    place = {mark: k for k, mark in enumerate(marks)}
    figure = Figure(figsize=(8, 5), layout="constrained")
    axes = figure.add_subplot()
    for line in lines:
        both = [line.start, line.end]
        axes.plot(
            [place[k] for k in both],
            [heights[k] for k in both],
            color=SOFT,
            linestyle=(0, (1, 2)),
        )
    for mark in marks:
        _draw_height(axes, judged, mark, place[mark], float(heights[mark]))
    names = [judged.network.marks.name[mark] for mark in marks]
    axes.set_xticks(range(len(names)), names, rotation=45, ha="right")
    axes.set_ylabel(f"height ({said.unit})")
    joined = "dots join what was levelled, distances not to scale"
    axes.set_title(f"Heights; {joined if lines else 'nothing was levelled'}")
    axes.ticklabel_format(axis="y", useOffset=False, style="plain")
    return figure


def _draw_height(
    axes: Any, judged: Judged, mark: int, place: int, height: float
) -> None:
    held = bool(judged.held[mark, 2])
    fill = INK if held or judged.checked[mark, 1] else PAPER
    marker = "^" if held else "o"
    axes.plot([place], [height], marker, color=INK, markerfacecolor=fill, markersize=8)


def _draw_mark(axes: Any, mark: Any, factor: float) -> None:
    from matplotlib.patches import Ellipse

    full = mark.kind == "held" or (mark.kind == "new" and mark.checked)
    axes.plot(
        [mark.east],
        [mark.north],
        marker="o" if mark.kind == "new" else "^",
        markersize=8,
        color=INK,
        markerfacecolor=INK if full else PAPER,
        zorder=3,
    )
    axes.annotate(
        mark.name, (mark.east, mark.north), xytext=(7, 5), textcoords="offset points"
    )
    if np.isfinite(mark.semi_major) and mark.semi_major > 0:
        axes.add_patch(
            Ellipse(
                (mark.east, mark.north),
                width=2 * factor * mark.semi_minor,
                height=2 * factor * mark.semi_major,
                angle=-float(np.degrees(mark.azimuth)),
                facecolor="none",
                edgecolor=MEETS,
                zorder=2,
            )
        )


def drawn_figure(judged: Judged, units: Units | None = None) -> "Figure":
    """Return the network in plan, or the heights where no mark has a place.

    Parameters
    ----------
    judged : Judged
    units : Units, optional
    """
    if any(mark.placed for mark in drawn_marks(judged, Units())):
        return network_figure(judged, units)
    return heights_figure(judged, units)


def network_plot(adjustment: "Adjustment", form: str = "png") -> bytes:
    """Return the network plot as the bytes of a file.

    Parameters
    ----------
    adjustment : Adjustment
    form : str
        ``png``, ``svg`` or ``pdf``.

    Returns
    -------
    bytes
        Without a date: the same input gives the same bytes.
    """
    from .plot_kinds import plot_of

    return plot_of("network", judge(adjustment), form)
