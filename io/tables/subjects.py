"""What a decision is about: kinds of thing, and the rows that one of them means."""

from collections.abc import Mapping

import numpy as np

from ...networks.covariances import Ints
from .assemble.levels import level_name
from .assemble.names import mark_names
from .assemble.positions import position_names
from .cell_changes import Refused
from .spelling import nearest
from .table import Table

Rows = Ints

SIGHTS = (
    "direction",
    "zenith angle",
    "slope distance",
    "horizontal distance",
    "angle",
    "azimuth",
)
"""What one pointing may have read; each can be left out alone."""

KINDS: Mapping[str, str] = {
    "baseline": "baselines",
    "position": "positions",
    "set-up": "set_ups",
    "known mark": "control",
    "known mark plan": "control",
    "known mark height": "control",
    "antenna": "antennas",
    "mark": "stations",
    "station": "stations",
    "undulation": "geoid",
    "pointing": "total_station",
    "levelled run": "levels",
    "level difference": "levels",
    "instrument": "instruments",
    **dict.fromkeys(SIGHTS, "total_station"),
}
"""Kind of thing to the table whose rows are of that kind."""

_OF_OBSERVATIONS = ("session", "group", "tripod")


def rows_named(tables: Mapping[str, Table], kind: str, name: str) -> tuple[Table, Rows]:
    """Return the table of a kind of thing and the rows of that name.

    Raises
    ------
    Refused
        The kind is unknown, or nothing of it has that name.
    """
    if kind not in KINDS:
        raise Refused(
            f"one of {', '.join(KINDS)} as the kind of thing",
            "give the kind as the report prints it",
            likely=nearest(kind, KINDS),
            slug="unknown-kind",
        )
    table = tables.get(KINDS[kind])
    names = [] if table is None else _names(tables, table)
    # The mean of two faces has the names of both.
    meant = name.split(" + ") if kind in SIGHTS or kind == "pointing" else [name]
    rows = np.array([i for i, n in enumerate(names) if n in meant], dtype=np.int64)
    if table is None or not len(rows):
        raise Refused(
            f"the {len(names)} names of {KINDS[kind]}.csv",
            "give the name as booked",
            likely=nearest(name, names),
            slug="unknown-name",
        )
    return table, rows


def _names(tables: Mapping[str, Table], table: Table) -> list[str]:
    if table.name == "positions":
        return position_names(table)
    if table.name == "levels":
        return [level_name(table, i) for i in range(len(table))]
    names = [str(name) for name in table.word(table.key)]
    if table.name in ("control", "geoid"):
        alias = mark_names(tables).alias
        return [alias.get(name, name) for name in names]
    return names


def control_rows(tables: Mapping[str, Table], kind: str, name: str) -> dict[str, Rows]:
    """Return the rows of control.csv whose plan, and whose height, is meant.

    Returns
    -------
    dict of str to ndarray of int
        ``use_plan`` and ``use_height`` to rows.

    Raises
    ------
    Refused
        It is not about a known mark, or nothing of it is booked.
    """
    if not kind.startswith("known mark"):
        raise Refused(
            "known mark, known mark plan or known mark height as the kind of thing",
            "brasscap decide hold 'known mark' NAME",
            likely="known mark",
            slug="unknown-kind",
        )
    table, rows = rows_named(tables, kind, name)
    plan = table.has("latitude") | table.has("north") | table.has("x")
    height = table.has("ellipsoidal_height") | table.has("height") | table.has("x")
    meant = {"use_plan": rows[plan[rows]], "use_height": rows[height[rows]]}
    if kind != "known mark":
        meant = {f"use_{kind.split()[-1]}": meant[f"use_{kind.split()[-1]}"]}
    meant = {column: some for column, some in meant.items() if len(some)}
    if not meant:
        raise Refused(
            f"a {kind.removeprefix('known mark ')} of {name} in control.csv",
            "book it first",
        )
    return meant


def concerned(tables: Mapping[str, Table], kind: str, name: str) -> dict[str, Rows]:
    """Return the rows, by table, that go with a thing when it is left out.

    Without a set-up goes what was observed from it or to it, without a tripod
    or an antenna those of its set-ups.

    Raises
    ------
    Refused
        The kind is unknown, or nothing of it has that name.
    """
    if kind in ("set-up", "set-up height") and name.startswith("target "):
        return {"total_station": _sights_of_target(tables, name)}
    forced = _forced(tables, name) if kind == "set-up" else np.zeros(0, np.int64)
    if len(forced):
        found = {"set_ups": forced}
    elif kind in _OF_OBSERVATIONS or kind == "antenna":
        found = _of_column(tables, kind, name)
    else:
        table, rows = rows_named(tables, kind, name)
        found = {table.name: rows}
    if kind in SIGHTS:
        return {part_of("total_station", kind): rows}
    if kind in ("mark", "station", "undulation", "instrument"):
        raise Refused(
            "baseline, pointing, levelled run, position, set-up, known mark, session, "
            "group, tripod or antenna",
            "leave out what was observed there",
            slug="unknown-kind",
        )
    if kind in ("known mark plan", "known mark height"):
        raise Refused(
            "known mark: a part of one is made check-only",
            f"brasscap decide check-only '{kind}' '{name}'",
            slug="unknown-kind",
        )
    set_ups = found.get("set_ups")
    if set_ups is not None:
        for other, more in _observed_from(tables, set_ups).items():
            found[other] = np.union1d(found.get(other, more), more)
    return {table: rows for table, rows in found.items() if len(rows)}


def _forced(tables: Mapping[str, Table], name: str) -> Rows:
    """Return the rows of set-ups on one forced centring, which goes by its own name."""
    table = tables.get("set_ups")
    if table is None or name in table.word("set_up"):
        return np.zeros(0, dtype=np.int64)
    return np.flatnonzero(table.word("forced_centring") == name)


def part_of(table: str, kind: str) -> str:
    """Return the key under which one reading of a table's rows is left out.

    Examples
    --------
    >>> part_of("total_station", "direction")
    'total_station: direction'
    """
    return f"{table}: {kind}"


def _of_column(tables: Mapping[str, Table], kind: str, name: str) -> dict[str, Rows]:
    """Return the rows of observations that have a name in a column of that kind."""
    columns = {
        "session": ("baselines", "positions"),
        "group": ("baselines", "positions", "total_station"),
        "tripod": ("set_ups",),
        "antenna": ("set_ups",),
    }[kind]
    held = [tables[table] for table in columns if table in tables]
    found = {t.name: np.flatnonzero(t.word(kind) == name) for t in held}
    if not any(len(rows) for rows in found.values()):
        known = sorted({str(n) for t in held for n in t.word(kind) if n})
        raise Refused(
            f"the {len(known)} names in the column {kind}",
            "give the name as booked",
            likely=nearest(name, known),
            slug="unknown-name",
        )
    return found


def _sights_of_target(tables: Mapping[str, Table], name: str) -> Rows:
    """Return the pointings at a target that only total_station.csv names.

    Such a target is called "target C from T1", with " at 1.5000 m" where it stood at
    several heights.
    """
    table = tables.get("total_station")
    names: list[str] = []
    if table is not None:
        alias = mark_names(tables).alias
        marks = [alias.get(str(n), str(n)) for n in table.word("target_station")]
        heights = table.number("target_height")
        names = [
            f"target {mark} from {set_up} at {height:.4f} m"
            for mark, set_up, height in zip(
                marks, table.word("set_up"), heights, strict=True
            )
        ]
    rows = [i for i, n in enumerate(names) if n == name or n.startswith(name + " at ")]
    if not rows:
        known = sorted({n.rsplit(" at ", 1)[0] for n in names})
        raise Refused(
            f"the {len(known)} targets of total_station.csv",
            "give the name as the report prints it",
            likely=nearest(name, known),
            slug="unknown-name",
        )
    return np.array(rows, dtype=np.int64)


def _observed_from(tables: Mapping[str, Table], set_ups: Rows) -> dict[str, Rows]:
    names = {str(name) for name in tables["set_ups"].word("set_up")[set_ups]}
    columns = {
        "baselines": ("from_set_up", "to_set_up"),
        "positions": ("set_up",),
        "total_station": ("set_up", "target_set_up"),
    }
    found = {}
    for table, ends in columns.items():
        if table in tables:
            used = [[n in names for n in tables[table].word(end)] for end in ends]
            found[table] = np.flatnonzero(np.any(used, axis=0))
    return found
