"""Standard deviations by group as every run judges them: where that takes seconds."""

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from brasscap.adjust import Adjustment
    from brasscap.io.tables.load import Loaded
    from brasscap.progress import Progress
    from brasscap.reports.words_weights import Weighed


def too_many(adjustment: "Adjustment") -> str:
    """Return why a run does not judge standard deviations; empty where it does.

    Parameters
    ----------
    adjustment : Adjustment
    """
    from brasscap.adjust.causes.weights import ROUTINE
    from brasscap.adjust.judge.variance_components import MOST

    unknowns = int(adjustment.columns.max(initial=-1)) + 1
    if unknowns <= ROUTINE:
        return ""
    said = (
        f"{unknowns:,} unknowns are more than the {ROUTINE:,} up to which a run does it"
    )
    if unknowns <= MOST:
        return f"{said};  brasscap suspects  does, and takes longer"
    return f"{said}, and more than the {MOST:,} up to which anything does"


def weighed_in(
    adjustment: "Adjustment", loaded: "Loaded", progress: "Progress"
) -> "Weighed | str":
    """Return standard deviations as they are judged, or why they are not.

    Parameters
    ----------
    adjustment : Adjustment
        Constrained.
    loaded : Loaded
    progress : Progress
    """
    from brasscap.adjust.causes import suspects
    from brasscap.suspected import labels_of, weighed_of

    why = too_many(adjustment)
    if why:
        return why
    progress("trying causes")
    found = suspects(adjustment, labels_of(loaded))
    progress("judging standard deviations")
    return weighed_of(found, loaded)


def weighed_object(weighed: "Weighed | str | None") -> dict[str, Any]:
    """Return standard deviations by group for JSON, or why they are not judged.

    Parameters
    ----------
    weighed : Weighed or str, optional
    """
    from brasscap.reports.content_weights import components_object

    if weighed is None or isinstance(weighed, str):
        return {
            "standard_deviations": None,
            "standard_deviations_not_judged": weighed or "",
        }
    return {
        "standard_deviations": components_object(weighed),
        "standard_deviations_not_judged": "",
    }
