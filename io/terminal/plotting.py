"""The plots that ``report`` is asked for, as files."""

from pathlib import Path
from typing import TYPE_CHECKING

from brasscap.arguments import Request, wrong

if TYPE_CHECKING:
    from brasscap.adjust import Adjustment
    from brasscap.progress import Progress
    from brasscap.reports.content_reliability import Hidden
    from brasscap.reports.judged import Judged
    from brasscap.reports.rounding import Units

FORMS = ("png", "svg", "pdf")
NAMES = ("network", "residuals", "smallest", "effects", "heights")
"""As in ``reports.plot_kinds``, which a command line does not load."""


def asked(request: Request) -> dict[str, Path]:
    """Return the plots that are asked for, and where each goes; none if none is.

    Raises
    ------
    CommandError
        The name of a file ends in none of the forms.
    """
    values = request.values
    if "plot" not in values and "plot-of" not in values:
        return {}
    kind, given = values.get("plot-of", "network"), values.get("plot")
    kinds = NAMES if kind == "all" else (kind,)
    if given:
        path = Path(given)
        if path.suffix.lstrip(".").lower() not in FORMS:
            raise wrong(f"--plot {path}: the name ends in .png, .svg or .pdf")
        if len(kinds) == 1:
            return {kind: path}
        return {one: path.with_stem(f"{path.stem}-{one}") for one in kinds}
    form = "svg" if kind == "all" else "png"
    return {one: request.folder / "reports" / f"{one}.{form}" for one in kinds}


def write_plots(
    plots: dict[str, Path], judged: "Judged", units: "Units", progress: "Progress"
) -> dict[str, Path]:
    """Write plots; return the files under the names that the JSON has for them.

    Parameters
    ----------
    plots : dict of str to Path
        Those of ``asked``.
    judged : Judged
    units : Units
    progress : callable
    """
    from brasscap.io.files import make_folder, write_whole
    from brasscap.reports.plot_kinds import plot_of

    hidden = hidden_in(judged.adjustment) if "effects" in plots else None
    for kind, path in plots.items():
        progress(f"drawing the plot: {kind}")
        form = path.suffix.lstrip(".").lower()
        content = plot_of(kind, judged, form, units, hidden)
        make_folder(path.parent)
        write_whole(path, content)
    alone = len(plots) == 1
    return {"plot" if alone else f"plot-{kind}": path for kind, path in plots.items()}


def hidden_in(adjustment: "Adjustment") -> "Hidden":
    """Return what could hide in the observations and set-ups of a solution."""
    from brasscap.adjust.judge import hypotheses
    from brasscap.adjust.judge.external import reliability
    from brasscap.reports.content_reliability import Hidden

    return Hidden(
        adjustment,
        {
            "set-up": reliability(adjustment, hypotheses.set_ups(adjustment)),
            "observation": reliability(adjustment, hypotheses.observations(adjustment)),
        },
    )
