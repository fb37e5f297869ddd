"""All causes of an adjustment, or of very many those that have most support."""

from dataclasses import replace

from ..adjustment import Adjustment
from .evaluate import Hypotheses, hypotheses
from .field import Labels, field_of
from .registry import causes_of
from .rows import rows_of

JOINT = 2000
"""Amounts of causes that are taken together; of more, the best supported causes."""
_BEST = 300
_SHOWN = 60
"""Unchecked causes that are taken along to be named."""


def causes_made(adjustment: Adjustment, labels: Labels | None = None) -> Hypotheses:
    """Return all causes of an adjustment, ready for any residuals of its design.

    Parameters
    ----------
    adjustment : Adjustment
    labels : Labels, optional

    Returns
    -------
    Hypotheses
        Causes that change nothing observed are left out; so are those least
        supported where there are too many to take together.
    """
    rows = rows_of(adjustment)
    causes = causes_of(field_of(adjustment, rows, labels))
    if sum(cause.components for cause in causes) <= JOINT:
        return hypotheses(adjustment, causes, rows)
    kept, unchecked = [], []
    for start in range(0, len(causes), JOINT // 4):
        part = hypotheses(adjustment, causes[start : start + JOINT // 4], rows)
        statistic, components = part.joint(rows.misclosure).statistics()
        for i, cause in enumerate(part.causes):
            if part.unchecked[i] and cause.kind == "unit":
                continue
            if part.unchecked[i]:
                unchecked.append(cause)
            else:
                share = statistic[i] / (components[i] + 10.0)
                kept.append((share, cause))
    kept.sort(key=lambda pair: -pair[0])
    best = [cause for _, cause in kept[:_BEST]]
    made = hypotheses(adjustment, [*best, *unchecked[:_SHOWN]], rows)
    return replace(made, dropped=len(kept) - len(best))
