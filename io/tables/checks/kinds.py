"""Baselines without set-ups, and groups that nothing is in."""

from collections.abc import Mapping

import numpy as np

from ....networks.findings import Finding
from ..job import Job
from ..spelling import nearest
from ..table import Table


def check_kinds(job: Job, tables: Mapping[str, Table]) -> list[Finding]:
    """Return the queries about set-ups and groups that tables leave open."""
    return _no_set_ups(job, tables) + _groups(job, tables) + _estimated(job, tables)


def _groups(job: Job, tables: Mapping[str, Table]) -> list[Finding]:
    """Return the queries of groups that job.toml states and no row is in."""
    named = [
        str(name) or table
        for table in ("baselines", "positions", "total_station", "levels")
        if table in tables
        for name in tables[table].word("group")
    ]
    return [
        Finding(
            "group-not-used",
            "query",
            f"[group.{name}]",
            file="job.toml",
            booked=name,
            against="no row of baselines, positions, pointings or levels is in "
            "this group; it does nothing",
            likely=nearest(name, dict.fromkeys(named)),
            mend="correct the name, or take the section out",
        )
        for name in job.groups
        if name not in named
    ]


_ESTIMATED = {
    "free_scale": "baselines",
    "free_turn": "baselines",
    "free_shift": "positions",
}
"""What may be estimated of a group, and the table whose rows have it."""


def _estimated(job: Job, tables: Mapping[str, Table]) -> list[Finding]:
    """Return the queries of what is to be estimated of no row."""
    found = []
    for name, group in job.groups.items():
        for key, table in _ESTIMATED.items():
            rows = tables[table].word("group") if table in tables else ()
            if getattr(group, key) and name not in rows:
                found.append(_no_effect(name, key, table))
    return found


def _no_effect(name: str, key: str, table: str) -> Finding:
    return Finding(
        "key-without-effect",
        "query",
        f"[group.{name}]",
        file="job.toml",
        column=key,
        booked=f"{key} = true",
        against=f"no row of {table} is in this group",
        mend="name the group of such rows, or take the key out",
    )


def _no_set_ups(job: Job, tables: Mapping[str, Table]) -> list[Finding]:
    if job.no_set_ups or "baselines" not in tables:
        return []
    table = tables["baselines"]
    bare = ~(table.has("from_set_up") & table.has("to_set_up"))
    rows = np.flatnonzero(bare)
    if not len(rows):
        return []
    return [
        table.finding_of(
            "no-set-ups",
            "query",
            rows,
            f"vectors of {table.name}.csv",
            "from_set_up, to_set_up",
            "ends given by station only",
            against="set-ups in set_ups.csv; without them centring and height are "
            "taken as exact, and no height blunder at a set-up can be found",
            mend="book the set-ups, or state [set_up] none = true",
        )
    ]
