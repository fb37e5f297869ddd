"""All causes of an adjustment, or of very many those that have most support."""

from dataclasses import replace

import numpy as np

from ..adjustment import Adjustment
from ..judge.blunder_table import BlunderTests
from ..judge.blunders import blunder_tests
from .evaluate import Hypotheses, hypotheses
from .field import Labels, field_of
from .registry import causes_of
from .rows import rows_of
from .support import supports

JOINT = 2000
"""Amounts of causes that are taken together; of more, the best supported causes."""
MANY = 60_000
"""Observations and set-ups up to which each of them is a cause that is looked at."""
_LOOKED_AT = 3000
_BEST = 300
_SHOWN = 60
"""Unchecked causes that are taken along to be named."""


def causes_made(
    adjustment: Adjustment,
    labels: Labels | None = None,
    tests: BlunderTests | None = None,
) -> Hypotheses:
    """Return all causes of an adjustment, ready for any residuals of its design.

    Parameters
    ----------
    adjustment : Adjustment
    labels : Labels, optional
    tests : BlunderTests, optional
        Of the adjustment, where they are known.

    Returns
    -------
    Hypotheses
        Causes that change nothing observed are left out; so are those least
        supported where there are too many to take together.
    """
    short, dropped = _shortlist(adjustment, tests)
    rows = rows_of(adjustment)
    causes = causes_of(field_of(adjustment, rows, labels, short))
    if sum(cause.components for cause in causes) <= JOINT:
        return replace(hypotheses(adjustment, causes, rows), dropped=dropped)
    support = supports(adjustment, causes, rows)
    share = support.statistic / (support.components + 10.0)
    order = np.argsort(-share, kind="stable")
    kept = order[~support.unchecked[order]]
    best = [causes[i] for i in kept[:_BEST].tolist()]
    blind = [
        causes[i]
        for i in np.flatnonzero(support.unchecked).tolist()
        if causes[i].kind != "unit"
    ]
    made = hypotheses(adjustment, [*best, *blind[:_SHOWN]], rows)
    return replace(made, dropped=dropped + len(kept) - len(best))


def _shortlist(
    adjustment: Adjustment, tests: BlunderTests | None
) -> tuple[dict[str, frozenset[int]] | None, int]:
    """Return what to look at one by one, and how many tested things are passed over.

    None where that is everything. Of more than can be looked at, those with the
    largest blunder tests, and the first that nothing checks.
    """
    edges = sum(int(some.used.sum()) for some in adjustment.equations)
    if edges <= MANY:
        return None, 0
    tests = tests or blunder_tests(adjustment)
    order = tests.order()
    judged = order[np.isfinite(tests.basis.test[order])]
    blind = np.flatnonzero(tests.tests.unchecked)
    found: dict[str, set[int]] = {}
    for i in [*judged[:_LOOKED_AT].tolist(), *blind[:_SHOWN].tolist()]:
        kind = tests.kind[i].removesuffix(" height").removesuffix(" plan")
        found.setdefault(kind, set()).add(int(tests.edge[i]))
    short = {kind: frozenset(rows) for kind, rows in found.items()}
    return short, max(0, len(judged) - _LOOKED_AT)
