"""Set-ups that shots hang on: which marks they stand on, and since when."""

from dataclasses import dataclass

import numpy as np

from ....networks.covariances import Ints
from ....networks.findings import Finding
from ....networks.shots import Bases, labels
from ..spelling import nearest
from ..table import Table
from .surroundings import Surroundings


@dataclass(frozen=True, slots=True)
class Stood:
    """The set-ups that a table names, and which of them each row is of."""

    bases: Bases
    of_row: Ints
    """(n,) set-up of each row; −1 where none is named or it is not in the job."""


def job_bases(table: Table, around: Surroundings, findings: list[Finding]) -> Stood:
    """Return the set-ups that the rows of a table name in ``set_up``.

    A set-up that is not in set_ups.csv, or stands over no mark of the network, is a
    query: its shots hang on nothing, and nothing else is lost.

    Parameters
    ----------
    table : Table
        Of shots, with ``set_up`` and ``start``.
    around : Surroundings
    findings : list of Finding
    """
    asked = labels(table.word("set_up"))
    set_ups = around.tables.get("set_ups")
    known = {} if set_ups is None else _rows(set_ups)
    there = [known.get(name, -1) for name in asked.names]
    for k, row in enumerate(there):
        if row < 0:
            rows = np.flatnonzero(asked.number == k)
            findings.append(_no_base(table, rows, asked.names[k], tuple(known)))
    rows = np.array([row for row in there if row >= 0], dtype=np.int64)
    number = np.cumsum([row >= 0 for row in there]) - 1
    number = np.append(np.where(np.array(there, dtype=int) >= 0, number, -1), -1)
    bases = _bases(set_ups, rows, around)
    found = Stood(bases, number.astype(np.int64)[asked.number])
    for k in np.flatnonzero(bases.mark < 0).tolist():
        findings.append(_no_mark(table, np.flatnonzero(found.of_row == k), bases, k))
    return found


def no_bases() -> Bases:
    """Return the set-ups of shots where there are none."""
    never = np.zeros(0, dtype="datetime64[ms]")
    zero, whole = np.zeros(0), np.zeros(0, dtype=np.int64)
    return Bases((), whole, whole, zero, zero, never, never, whole)


def _rows(set_ups: Table) -> dict[str, int]:
    return {str(name): i for i, name in enumerate(set_ups.word("set_up")) if name}


def _bases(set_ups: Table | None, rows: Ints, around: Surroundings) -> Bases:
    if set_ups is None or not len(rows):
        return no_bases()
    names = [str(name) for name in set_ups.word("set_up")[rows]]
    station = set_ups.word("station")[rows]
    free = [s or f"free station {n}" for s, n in zip(station, names, strict=True)]
    mark = np.array([around.mark.get(str(s), -1) for s in free], dtype=np.int64)
    nodes = {name: k for k, name in enumerate(around.network.set_ups.name)}
    tripods = set_ups.word("forced_centring")[rows]
    own = [nodes.get(str(t or n), -1) for t, n in zip(tripods, names, strict=True)]
    node = np.array(own, dtype=np.int64)
    stands = node >= 0
    node = np.where(stands, node + len(around.network.marks), mark)
    sd = _sds(set_ups, rows, around)
    sd[stands | (mark < 0)] = 0.0
    return Bases(
        tuple(names),
        mark,
        node,
        sd[:, 0],
        sd[:, 1],
        set_ups.instant("start")[rows],
        set_ups.instant("stop")[rows],
        set_ups.row[rows],
    )


def _sds(set_ups: Table, rows: Ints, around: Surroundings) -> np.ndarray:
    kinds = around.job.set_up_kinds
    booked = np.stack(
        [set_ups.number("sd_centring")[rows], set_ups.number("sd_height")[rows]], axis=1
    )
    supports = [str(name) for name in set_ups.word("support")[rows]]
    of_kind = np.array(
        [
            (kinds[s].sd_centring, kinds[s].sd_height) if s in kinds else (np.nan,) * 2
            for s in supports
        ]
    ).reshape(-1, 2)
    return np.where(np.isnan(booked), of_kind, booked)


def _no_base(table: Table, rows: Ints, name: str, known: tuple[str, ...]) -> Finding:
    return table.finding(
        "base-not-in-job",
        "query",
        int(rows[0]),
        ("set_up",),
        against=f"the set-ups of set_ups.csv; {_named(len(rows))}",
        likely=nearest(name, known),
        mend="add the set-up with its station to set_ups.csv, or correct its name; "
        "till then these shots hang on nothing and cannot be judged or moved",
    )


def _no_mark(table: Table, rows: Ints, bases: Bases, k: int) -> Finding:
    return table.finding(
        "base-without-mark",
        "query",
        int(rows[0]),
        ("set_up",),
        against=f"set-up {bases.name[k]}, set_ups.csv row {bases.row[k]}, stands over "
        f"no mark of the network; {_named(len(rows))}",
        mend="fill its station, and observe that mark; till then these shots hang on "
        "nothing",
    )


def _named(count: int) -> str:
    return "1 shot names it" if count == 1 else f"{count} shots name it"
