"""What the tables of a job say of its marks, for their control sheets."""

from collections.abc import Iterator, Mapping
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from brasscap.io.tables.load import Loaded
    from brasscap.io.tables.table import Table
    from brasscap.networks import Network
    from brasscap.reports.document import Document
    from brasscap.reports.heading import Heading
    from brasscap.reports.judged import Judged
    from brasscap.reports.mark_notes import MarkNotes

MOST = 500
"""Sheets in one file."""


def sheets_of(
    loaded: "Loaded", judged: "Judged", heading: "Heading"
) -> "Iterator[Document]":
    """Yield the control sheets of a job, at most ``MOST`` to a document.

    Parameters
    ----------
    loaded : Loaded
    judged : Judged
    heading : Heading
    """
    from brasscap.plotting import hidden_in
    from brasscap.reports.content_mark_sheets import sheets_documents

    hidden = hidden_in(judged.adjustment)
    yield from sheets_documents(judged, hidden, heading, notes_of(loaded), MOST)


def notes_of(loaded: "Loaded") -> "dict[str, MarkNotes]":
    """Return what is booked of every mark, by name.

    Parameters
    ----------
    loaded : Loaded
    """
    from brasscap.reports.mark_notes import MarkNotes

    tables = loaded.tables
    days, files = observed_days(tables, idle_set_ups(loaded)), _files(loaded)
    names = dict.fromkeys(loaded.network.marks.name)
    found = {
        name: MarkNotes(observed=days.get(name, ""), files=files.get(name, ()))
        for name in names
    }
    if "stations" not in tables:
        return found
    table = tables["stations"]
    for i, name in enumerate(table.word("station").tolist()):
        found[name] = replace(
            found.get(name, MarkNotes()),
            stamping=str(table.word("stamping")[i]),
            kind=str(table.word("mark_kind")[i]),
            ties=str(table.word("ties")[i]),
            access=str(table.word("access_note")[i]),
            sky=str(table.word("sky")[i]),
        )
    return found


def idle_set_ups(loaded: "Loaded") -> set[str]:
    """Return the set-ups of the table from or to which nothing in use was observed.

    Those of detail are among them, but not where an instrument stood free.

    Parameters
    ----------
    loaded : Loaded
    """
    if "set_ups" not in loaded.tables:
        return set()
    table, used = loaded.tables["set_ups"], _used(loaded.network)
    columns = ("set_up", "forced_centring", "station")
    rows = zip(*(table.word(name).tolist() for name in columns), strict=True)
    return {
        name
        for name, forced, station in rows
        if station and used.isdisjoint((name, forced))
    }


def _used(network: "Network") -> set[str]:
    vectors, positions = network.vectors, network.positions
    nodes = [
        vectors.start[vectors.used],
        vectors.end[vectors.used],
        positions.node[positions.used],
    ]
    for some in network.sights:
        nodes += [ends[some.used] for ends in (some.at, some.to, some.back)]
    every = len(network.marks) + np.arange(len(network.set_ups))
    used = np.flatnonzero(np.isin(every, np.concatenate(nodes)))
    return {network.set_ups.name[i] for i in used.tolist()}


def observed_days(tables: "Mapping[str, Table]", idle: set[str]) -> dict[str, str]:
    """Return the first and last day, UTC, on which each mark was observed.

    Of a row without a time the one of its set-ups counts.

    Parameters
    ----------
    tables : mapping of str to Table
    idle : set of str
        Set-ups of which nothing is in use; what was seen there does not count.
    """
    names: list[NDArray[np.object_]] = []
    times: list[NDArray[np.datetime64]] = []
    for station, when in _standings(tables, idle):
        names.append(station)
        times.append(when)
    if not names:
        return {}
    name, when = np.concatenate(names), np.concatenate(times)
    some = (name != "") & ~np.isnat(when)
    marks, place = np.unique(name[some].astype(str), return_inverse=True)
    day = when[some].astype("datetime64[D]")
    first = np.full(len(marks), np.datetime64("9999-12-31"))
    last = np.full(len(marks), np.datetime64("0001-01-01"))
    np.minimum.at(first, place, day)
    np.maximum.at(last, place, day)
    return {
        str(mark): str(a) if a == b else f"{a} to {b}"
        for mark, a, b in zip(marks, first, last, strict=True)
    }


_ENDS = ("", "from_", "to_", "target_")
"""Of a row: where it stood, and what it reached."""


def _standings(
    tables: "Mapping[str, Table]", idle: set[str]
) -> "Iterator[tuple[NDArray[np.object_], NDArray[np.datetime64]]]":
    """Yield stations and times, row by row, of all that was observed."""
    over: dict[str, str] = {}
    stood: list[dict[str, np.datetime64]] = [{}, {}]
    if "set_ups" in tables:
        table = tables["set_ups"]
        names = table.word("set_up").tolist()
        over = dict(zip(names, table.word("station").tolist(), strict=True))
        stood = [
            dict(zip(names, table.instant(time), strict=True))
            for time in ("start", "stop")
        ]
    for kind in ("baselines", "positions", "levels", "total_station"):
        if kind not in tables:
            continue
        table = tables[kind]
        set_ups = [table.word(f"{end}set_up").tolist() for end in _ENDS]
        through = list(zip(*set_ups, strict=True))
        counts = np.array([idle.isdisjoint(names) for names in through], dtype=bool)
        for when in _times(table, stood, through):
            seen = np.where(counts, when, np.datetime64("NaT"))
            for end, names in zip(_ENDS, set_ups, strict=True):
                station = table.word(f"{end}station").astype(object)
                below = np.array([over.get(name, "") for name in names], dtype=object)
                yield np.where(station == "", below, station), seen


def _times(
    table: "Table",
    stood: list[dict[str, np.datetime64]],
    through: list[tuple[str, ...]],
) -> "Iterator[NDArray[np.datetime64]]":
    """Yield when rows began and ended; where that is not booked, their set-ups."""
    began = table.instant("start")
    began = np.where(np.isnat(began), table.instant("time"), began)
    booked = ~np.isnat(began)
    for own, times in zip((began, table.instant("stop")), stood, strict=True):
        of_set_ups = [_first(times, names) for names in through]
        yield np.where(booked, own, np.array(of_set_ups, "datetime64[ms]"))


def _first(stood: dict[str, np.datetime64], names: tuple[str, ...]) -> np.datetime64:
    times = (stood[name] for name in names if name in stood)
    return next(times, np.datetime64("NaT"))


def _files(loaded: "Loaded") -> dict[str, tuple[tuple[str, str], ...]]:
    """Return photographs and evidence of each mark, with their hashes."""
    named: dict[str, dict[str, None]] = {}
    for kind in ("stations", "set_ups"):
        if kind in loaded.tables:
            table = loaded.tables[kind]
            for station, photo in zip(
                table.word("station").tolist(),
                table.word("photo").tolist(),
                strict=True,
            ):
                if photo:
                    named.setdefault(station, {})[photo] = None
    for decision in loaded.decisions:
        if decision.evidence and decision.about_kind.split(" ")[0] in _ABOUT_MARKS:
            named.setdefault(decision.about, {})[decision.evidence] = None
    return {
        station: tuple((name, _hash(loaded.folder, name)) for name in names)
        for station, names in named.items()
    }


_ABOUT_MARKS = ("known", "mark", "station")
_PLACES = ("", "photos", "evidence")
"""Folders of a job in which a photograph is looked for."""


def _hash(folder: Path, name: str) -> str:
    """Return the SHA-256 of a file of the job; words where there is none."""
    from brasscap.io.streams import file_hash

    inside = folder.resolve()
    for place in _PLACES:
        try:
            path = (inside / place / name).resolve()
            if path.is_relative_to(inside) and path.is_file():
                return f"SHA-256 {file_hash(path)}"
        except (OSError, ValueError):
            return "named only: it cannot be read"
    return "named only: no such file in the job's folder"
