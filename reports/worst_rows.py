"""Which rows of a long table a page shows: the worst, with words for the others."""

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

if TYPE_CHECKING:
    from ..networks.covariances import Floats, Ints
    from .judged import Judged

LONG = 1000
"""Rows up to which a table is shown whole."""
SHOWN = 20
"""Rows of a longer one that are."""


class Shown(NamedTuple):
    """The rows that are shown, in their order, and what is said of the others."""

    rows: "Ints"
    note: str = ""


def worst(judged: "Judged", badness: "Floats", what: str, table: str) -> Shown:
    """Return all rows of a short table, the worst ones of a long one.

    Parameters
    ----------
    judged : Judged
    badness : ndarray, shape (n,)
        The larger, the worse; NaN last.
    what : str
        What the worst have: "the largest residuals".
    table : str
        Name of the full table beside the results, without ``.csv``.
    """
    count = len(badness)
    if count <= LONG:
        return Shown(np.arange(count))
    size = np.where(np.isfinite(badness), badness, -np.inf)
    # To seven digits, so that equal ones stay in the order of the table everywhere.
    rows = np.argsort(-np.array([float(f"{x:.7g}") for x in size]), kind="stable")
    return Shown(rows[:SHOWN], note(judged, count, what, table))


def note(judged: "Judged", count: int, what: str, table: str) -> str:
    """Return what is said under a table that shows the worst rows."""
    return (
        f"{SHOWN} of {count} rows, those with {what}; all of them stand in "
        f"{full_table(judged, table)}"
    )


def full_table(judged: "Judged", table: str) -> str:
    """Return where ``adjust`` writes the full table of a large job."""
    return f"results/{judged.adjustment.datum.mode}/{table}.csv"


def is_large(judged: "Judged") -> bool:
    """Return whether any table of a job is too long to be shown whole."""
    network = judged.network
    kinds = [len(network.marks), len(network.vectors), len(judged.tests)]
    return max(kinds) > LONG
