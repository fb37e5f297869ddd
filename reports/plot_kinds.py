"""The plots of a job by name, each as a file with what it shows in words."""

from typing import TYPE_CHECKING

from .judged import Judged
from .plot_files import STYLE, file_of
from .rounding import Units

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from .content_reliability import Hidden

KINDS = {
    "network": "the marks in plan with their ellipses; heights where there is no plan",
    "residuals": "residuals over their standard deviations against normal quantiles; "
    "along the line they are as stated",
    "smallest": "the smallest blunder that would be seen, for each observation; what "
    "nothing checks is marked as such",
    "effects": "the smallest blunder seen against how far one just too small moves a "
    "mark, in plan and in height",
    "heights": "the heights of the marks, joined where they were levelled",
}
"""Name of a plot, and what it shows."""


def plot_of(
    kind: str,
    judged: Judged,
    form: str = "png",
    units: Units | None = None,
    hidden: "Hidden | None" = None,
) -> bytes:
    """Return a plot as the bytes of a file; the same input gives the same bytes.

    Parameters
    ----------
    kind : str
        One of ``KINDS``.
    judged : Judged
    form : str
        ``png``, ``svg`` or ``pdf``.
    units : Units, optional
    hidden : Hidden, optional
        What could hide in observations and set-ups; asked for by ``effects`` alone.
    """
    import matplotlib as mpl

    with mpl.rc_context(STYLE):
        figure = _figure(kind, judged, units or Units(), hidden)
        return file_of(
            figure, form, f"{kind}: {judged.adjustment.datum.text}", KINDS[kind]
        )


def _figure(
    kind: str, judged: Judged, units: Units, hidden: "Hidden | None"
) -> "Figure":
    from .plots import drawn_figure, heights_figure
    from .plots_effects import effects_figure
    from .plots_residuals import residuals_figure
    from .plots_smallest import smallest_figure

    if kind == "effects":
        assert hidden is not None
        return effects_figure(hidden, units)
    if kind == "residuals":
        return residuals_figure(judged)
    if kind == "smallest":
        return smallest_figure(judged, units)
    return (heights_figure if kind == "heights" else drawn_figure)(judged, units)
