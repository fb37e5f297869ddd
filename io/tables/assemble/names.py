"""Names of marks: which there are, what else they are called, what a slip meant."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from ....networks.covariances import Ints
from ....networks.findings import Finding
from ..spelling import MOST_SPELLINGS, nearest
from ..table import Table
from .free_stations import free_station_names

# Tables that may bring in a mark by themselves where there is no stations table.
_NAMED_IN = (
    ("set_ups", "station"),
    ("baselines", "from_station"),
    ("baselines", "to_station"),
    ("positions", "station"),
    ("total_station", "target_station"),
    ("total_station", "back_station"),
    ("levels", "from_station"),
    ("levels", "to_station"),
)


@dataclass(frozen=True, slots=True)
class MarkNames:
    """The marks of a job, in order, and the other names under which they are booked."""

    names: tuple[str, ...]
    number: Mapping[str, int]
    alias: Mapping[str, str]
    """Name used to the station's own name."""

    def find(self, name: str) -> int:
        """Return the number of a mark by any of its names; −1 if there is none."""
        return self.number.get(self.alias.get(name, name), -1)


def mark_names(tables: Mapping[str, Table]) -> MarkNames:
    """Return the marks in the order of stations.csv, then as first met elsewhere.

    Control may name marks of its own: a known mark that is not in the stations table
    is no fault. Where there is no stations table, every table may.
    """
    listed: dict[str, None] = {}
    alias = _aliases(tables)
    sources = [("stations", "station"), ("control", "station")]
    if "stations" not in tables or not len(tables["stations"]):
        sources += list(_NAMED_IN)
    for table, column in sources:
        if table in tables:
            for name in tables[table].word(column):
                if name:
                    listed.setdefault(alias.get(name, name))
    for name in free_station_names(tables):
        listed.setdefault(name)
    names = tuple(listed)
    return MarkNames(names, {name: k for k, name in enumerate(names)}, alias)


def _aliases(tables: Mapping[str, Table]) -> dict[str, str]:
    if "names" not in tables:
        return {}
    table = tables["names"]
    pairs = zip(table.word("name_used"), table.word("station"), strict=True)
    return {used: station for used, station in pairs if used and used != station}


def resolve(
    marks: MarkNames, table: Table, column: str, findings: list[Finding]
) -> Ints:
    """Return the marks that a column names, −1 where it is empty or unknown.

    An unknown name is added to ``findings`` with its nearest spelling.
    """
    words, number, alias = table.word(column), marks.number, marks.alias
    found = (number.get(alias.get(name, name), -1) for name in words)
    numbers = np.fromiter(found, dtype=np.int64, count=len(table))
    unknown = np.flatnonzero((numbers < 0) & (words != ""))
    findings.extend(unknown_names(table, unknown, column, marks.names))
    return numbers


def unknown_names(
    table: Table, rows: Ints, column: str, known: tuple[str, ...] | list[str]
) -> list[Finding]:
    """Return the faults of names that nothing else knows, the first with a likely one.

    Where thousands are wrong the cause is one, and spelling is not it.
    """
    return [
        unknown_name(table, i, column, known, seek=k < MOST_SPELLINGS)
        for k, i in enumerate(rows.tolist())
    ]


def unknown_name(
    table: Table,
    i: int,
    column: str,
    known: tuple[str, ...] | list[str],
    *,
    seek: bool = True,
) -> Finding:
    """Return the fault of a name that nothing else knows; ``seek`` its spelling."""
    name = str(table.word(column)[i])
    likely = nearest(name, known) if seek else ""
    what = "set-up" if column.endswith("set_up") else "station"
    mend = f"add it to {'set_ups' if what == 'set-up' else 'stations'}.csv"
    if likely:
        rename = f"brasscap decide rename {what} '{name}' '{likely}'"
        mend = f"if it is {likely}:  {rename}; otherwise {mend}"
    home = "set_ups.csv" if what == "set-up" else "stations.csv"
    return table.finding(
        "unknown-name",
        "fault",
        i,
        (column,),
        against=f"the {len(known)} names of {home}",
        likely=likely,
        mend=mend,
    )


def check_aliases(marks: MarkNames, tables: Mapping[str, Table]) -> list[Finding]:
    """Return the faults of names.csv: a station that does not exist."""
    if "names" not in tables:
        return []
    table = tables["names"]
    return [
        unknown_name(table, i, "station", marks.names)
        for i, station in enumerate(table.word("station"))
        if station and station not in marks.number
    ]


def no_marks() -> Finding:
    """Return the fault of a job that names no mark anywhere."""
    return Finding(
        "no-marks",
        "fault",
        "the job",
        file="stations.csv",
        booked="no mark in any table",
        against="marks in stations.csv, and observations between them",
        mend="brasscap new DIR --example  shows a complete job",
    )
