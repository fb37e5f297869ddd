"""Marks: observed or not, hanging on one vector, named almost alike."""

import numpy as np

from ....networks.connections import hanging, pieces, tied_marks
from ....networks.findings import Finding
from ....networks.look_alikes import spelled_alike
from ....networks.network import Network
from ..spelling import nearest
from ..table import Table

SHOWN = 12


def check_marks(network: Network, tables: dict[str, Table]) -> list[Finding]:
    """Return the queries about marks that the graph of the network raises."""
    names = network.marks.name
    lonely = _unobserved(network)
    found = [_no_observation(network, mark, tables) for mark in lonely]
    found += _floating(network, set(lonely))
    loose = hanging(network)
    rows = _rows_of_vectors(tables) if loose else {}
    found += [
        _hangs_loose(network, hangs.vector, hangs.marks, tables["baselines"], rows)
        for hangs in loose
    ]
    return found + [_alike(list(same)) for same in spelled_alike(names)]


def check_control(network: Network) -> list[Finding]:
    """Return a note where nothing says where the network lies; it is no fault.

    Some networks hang on nothing: they are adjusted by an approximate position.
    """
    if len(network.known) or network.positions.used.any():
        return []
    return [
        Finding(
            "no-known-mark",
            "note",
            "known marks",
            file="control.csv",
            booked="missing, or no row in it",
            against="a known mark, or a position: without one nothing says where the "
            "network lies, and nothing outside checks it",
            mend="book the known marks in control.csv, with use_plan and use_height; a "
            "network that hangs on none needs one mark's approximate position in "
            "stations.csv, and  brasscap adjust minimal",
        )
    ]


def listed(names: list[str]) -> str:
    """Return names for a message, the first dozen of them."""
    more = f" and {len(names) - SHOWN} more" if len(names) > SHOWN else ""
    return ", ".join(names[:SHOWN]) + more


def _unobserved(network: Network) -> list[int]:
    """Return the marks that no observation in use reaches."""
    vectors, positions = network.vectors, network.positions
    reached = np.zeros(len(network.marks), dtype=bool)
    seen = [
        vectors.start[vectors.used],
        vectors.end[vectors.used],
        positions.node[positions.used],
    ]
    for some in network.sights:
        back = some.back[some.used]
        seen += [some.at[some.used], some.to[some.used], back[back >= 0]]
    if network.levels is not None:
        levels = network.levels
        seen += [levels.start[levels.used], levels.end[levels.used]]
    for nodes in seen:
        reached[network.mark_of(nodes)] = True
    return np.flatnonzero(~reached).tolist()


def _no_observation(network: Network, mark: int, tables: dict[str, Table]) -> Finding:
    name = network.marks.name[mark]
    row = int(network.marks.row[mark])
    in_control = not row
    likely = ""
    if in_control:
        # A mark of stations.csv that nothing reaches is no slip of the pen.
        likely = nearest(name, [other for other in network.marks.name if other != name])
    return Finding(
        "no-observation",
        "query",
        f"mark {name}",
        file="control.csv" if in_control else _file(tables, "stations"),
        row=_control_row(tables, name) if in_control else row,
        column="station",
        booked=name,
        against="no observation in use reaches it",
        likely=f"another spelling of {likely}" if likely else "",
        mend="observe it, correct its name, or accept that it stays out",
    )


def _file(tables: dict[str, Table], name: str) -> str:
    table = tables.get(name)
    return str(table.file[0]) if table is not None and len(table) else f"{name}.csv"


def _control_row(tables: dict[str, Table], name: str) -> int:
    if "control" not in tables:
        return 0
    rows = np.flatnonzero(tables["control"].word("station") == name)
    return int(tables["control"].row[rows[0]]) if len(rows) else 0


def _floating(network: Network, lonely: set[int]) -> list[Finding]:
    """Return a query for each piece that nothing known ties down."""
    tied = tied_marks(network)
    loose = [
        piece
        for piece in pieces(network)
        if not tied & set(piece) and not set(piece) <= lonely
    ]
    if len(loose) == 1 and not tied:
        return []
    names = network.marks.name
    return [
        Finding(
            "piece-floats",
            "query",
            f"{len(piece)} marks: {listed([names[m] for m in piece])}",
            file="control.csv",
            booked="no observation to the rest of the network",
            against="a known mark or a position in every connected piece",
            mend="observe to the rest, book a known mark in it, or leave it out",
        )
        for piece in loose
    ]


def _rows_of_vectors(tables: dict[str, Table]) -> dict[tuple[int, str], int]:
    """Return where each vector stands in its table, by row of the file and name."""
    table = tables["baselines"]
    keys = zip(table.row.tolist(), table.word("baseline"), strict=True)
    return {(row, str(name)): i for i, (row, name) in enumerate(keys)}


def _hangs_loose(
    network: Network,
    vector: int,
    marks: tuple[int, ...],
    table: Table,
    rows: dict[tuple[int, str], int],
) -> Finding:
    names = [network.marks.name[m] for m in marks]
    row = int(network.vectors.row[vector])
    i = rows[row, network.vectors.name[vector]]
    word = "mark" if len(names) == 1 else "marks"
    return Finding(
        "hangs-loose",
        "query",
        f"{word} {listed(names)}",
        file=str(table.file[i]),
        row=row,
        line=int(table.line[i]),
        booked=table.about(i),
        against="a second vector: one alone is checked by nothing",
        mend="observe one more vector, or accept",
    )


def _alike(names: list[str]) -> Finding:
    return Finding(
        "names-alike",
        "query",
        f"marks {' and '.join(names)}",
        file="stations.csv",
        column="station",
        booked=", ".join(names),
        against="names that differ by more than case, blanks, hyphens, O and 0",
        likely="one mark under two names",
        mend=f"brasscap decide rename station '{names[-1]}' '{names[0]}', or accept",
    )
