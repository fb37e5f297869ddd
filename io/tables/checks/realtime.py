"""What each position is good for, beside being adjusted."""

import numpy as np

from ....networks.covariances import blocks
from ....networks.findings import Finding
from ....networks.network import Network
from ....networks.positions_use import INDEPENDENT_MINUTES, classify
from ..table import Table


def check_positions(network: Network, tables: dict[str, Table]) -> list[Finding]:
    """Return a note for each position: detail, weak control, or neither."""
    positions = network.positions
    if not len(positions):
        return []
    table = tables["positions"]
    own = blocks(positions.covariances, len(positions), 3)
    mark = network.mark_of(positions.node)
    rows = _table_rows(table, positions.row)
    start = table.instant("start")[rows]
    found = []
    for k in np.flatnonzero(positions.used & positions.components.all(axis=1)).tolist():
        plan = float(np.sqrt((own[k, 0, 0] + own[k, 1, 1]) / 2))
        height = float(np.sqrt(own[k, 2, 2]))
        repeats = _repeats(start, mark, positions.used, k)
        use = classify(plan, height, repeats)
        found.append(
            table.finding(
                "position-use",
                "note",
                rows[k],
                (),
                against=f"{use}: sd {plan * 1000:.1f} mm in plan, {height * 1000:.1f} "
                f"mm in height, {repeats} independent repeats at least "
                f"{INDEPENDENT_MINUTES:.0f} minutes apart (common practice, no source)",
            )
        )
    return found


def _table_rows(table: Table, row: np.ndarray) -> list[int]:
    """Return the index in the table of each position, by the row as booked."""
    order: dict[int, list[int]] = {}
    for i, r in enumerate(table.row.tolist()):
        order.setdefault(r, []).append(i)
    return [order[r].pop(0) for r in row.tolist()]


def _repeats(start: np.ndarray, mark: np.ndarray, used: np.ndarray, k: int) -> int:
    """Return how many others of the mark are far enough away in time.

    Positions without a time cannot be shown to be independent and do not count.
    """
    apart = np.abs(start - start[k]) / np.timedelta64(1, "m")
    others = (mark == mark[k]) & used & (np.arange(len(mark)) != k)
    return int((others & (apart >= INDEPENDENT_MINUTES)).sum())
