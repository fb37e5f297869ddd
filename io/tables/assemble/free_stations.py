"""Free stations: set-ups of a total station that stand over no mark.

Such a set-up becomes a mark of its own, so that the arithmetic needs nothing special:
where the instrument stood is an unknown like any mark, with no centring to be wrong.
"""

from collections.abc import Mapping

import numpy as np

from ....networks.covariances import Bools
from ..cell_changes import with_word
from ..table import Table

PREFIX = "free station "
STATUS = "free station"


def with_free_stations(tables: Mapping[str, Table]) -> dict[str, Table]:
    """Return the tables with a station of its own for each free station.

    Parameters
    ----------
    tables : mapping of str to Table

    Returns
    -------
    dict of str to Table
        In ``set_ups`` the station of a free station is ``free station NAME``.
    """
    changed = dict(tables)
    if "set_ups" not in tables or "total_station" not in tables:
        return changed
    table, pointings = tables["set_ups"], tables["total_station"]
    columns = ("set_up", "target_set_up")
    asked = {str(name) for column in columns for name in pointings.word(column)}
    station = table.word("station")
    for i, name in enumerate(table.word("set_up")):
        if name and name in asked and not station[i]:
            table = with_word(table, "station", np.array([i]), f"{PREFIX}{name}")
    changed["set_ups"] = table
    return changed


def free_station_names(tables: Mapping[str, Table]) -> list[str]:
    """Return the marks that free stations have become, in the order of the table."""
    if "set_ups" not in tables:
        return []
    table = tables["set_ups"]
    return [str(name) for name in table.word("station")[is_free(table)]]


def is_free(table: Table) -> Bools:
    """Return (n,): whether a row of set_ups is a free station."""
    station, set_up = table.word("station"), table.word("set_up")
    if PREFIX not in "\n".join(station):
        return np.zeros(len(table), dtype=bool)
    free = np.array([name.startswith(PREFIX) for name in station], dtype=bool)
    for i in np.flatnonzero(free).tolist():
        free[i] = station[i] == f"{PREFIX}{set_up[i]}"
    return free
