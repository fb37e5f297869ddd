"""Plots by matplotlib, made only on request and imported only then."""

from io import BytesIO
from typing import TYPE_CHECKING, Any

import numpy as np

from .content_map import drawn_lines, drawn_marks
from .drawing_view import exaggeration
from .judged import Judged, judge
from .rounding import Lengths, percent

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from ..adjust import Adjustment

INK, SOFT, MEETS = "#1B1E22", "#5A5F66", "#0072B2"


def network_figure(judged: Judged, lengths: Lengths | None = None) -> "Figure":
    """Return the network with its ellipses as a matplotlib figure.

    Parameters
    ----------
    judged : Judged
    lengths : Lengths, optional
        Unit of the axes; metres when not given.
    """
    from matplotlib.figure import Figure

    said = lengths or Lengths()
    marks, lines = drawn_marks(judged, said), drawn_lines(judged, said)
    figure = Figure(figsize=(8, 7), layout="constrained")
    axes = figure.add_subplot()
    axes.set_aspect("equal", adjustable="datalim")
    for line in lines:
        ends = [marks[line.start], marks[line.end]]
        axes.plot(
            [mark.east for mark in ends],
            [mark.north for mark in ends],
            color=SOFT,
            linewidth=1 if line.used else 0.5,
            linestyle="-" if line.used else ":",
            zorder=1,
        )
    places = np.array([(m.east, m.north) for m in marks if m.placed] or [(0.0, 0.0)])
    span = max(float(np.ptp(places, axis=0).max()), 1e-3)
    factor = exaggeration(marks, 800.0 / span)
    for mark in (m for m in marks if m.placed):
        _draw_mark(axes, mark, factor)
    confidence = percent(judged.network.options.confidence)
    axes.set_title(f"Ellipses {confidence}, × {factor:g}", color=INK)
    axes.set_xlabel("east (m)")
    axes.set_ylabel("north (m)")
    axes.ticklabel_format(useOffset=False, style="plain")
    return figure


def _draw_mark(axes: Any, mark: Any, factor: float) -> None:
    from matplotlib.patches import Ellipse

    full = mark.kind == "held" or (mark.kind == "new" and mark.checked)
    axes.plot(
        [mark.east],
        [mark.north],
        marker="o" if mark.kind == "new" else "^",
        markersize=8,
        color=INK,
        markerfacecolor=INK if full else "white",
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
    import matplotlib as mpl

    metadata: dict[str, dict[str, Any]] = {
        "svg": {"Date": None},
        "pdf": {"CreationDate": None},
    }
    buffer = BytesIO()
    with mpl.rc_context({"svg.hashsalt": "brasscap"}):
        network_figure(judge(adjustment)).savefig(
            buffer, format=form, metadata=metadata.get(form, {}), dpi=150
        )
    return buffer.getvalue()
