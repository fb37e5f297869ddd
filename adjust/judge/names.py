"""What observations are called, looked up at the edge of the program."""

import numpy as np

from ...networks import Levels, Network, Parameters, Sights
from ...networks.covariances import Ints
from ...networks.observations import Names

_SIGHTS = (
    "slope distance",
    "horizontal distance",
    "direction",
    "angle",
    "azimuth",
    "zenith angle",
)
_PLAIN = (*_SIGHTS, "level difference", "parameter")


def names(network: Network, kind: str, used: Ints) -> tuple[str, ...]:
    """Return the names of some observations of a kind, as booked."""
    if kind in _PLAIN:
        return tuple(_columns(network, kind).name[i] for i in used)
    if kind == "baseline":
        return tuple(network.vectors.name[i] for i in used)
    if kind == "set-up":
        return tuple(network.set_ups.name[i] for i in used)
    if kind == "position":
        return tuple(network.positions.name[i] for i in used)
    return tuple(network.marks.name[network.known.mark[i]] for i in used)


def about(network: Network, kind: str, used: Ints) -> tuple[str, ...]:
    """Return the same in words, with the marks and the session."""
    words = {"baseline": _vectors, "set-up": _set_ups, "position": _positions}
    if kind in _SIGHTS:
        return _sights(network, kind, used)
    if kind == "level difference":
        return _levels(network, used)
    if kind not in words:
        return names(network, kind, used)
    return words[kind](network, used)


def rows(network: Network, kind: str) -> Ints:
    """Return the rows of the table that a kind is booked in."""
    if kind in _PLAIN:
        columns = _columns(network, kind)
        if isinstance(columns, Parameters):
            return np.zeros(len(columns), dtype=np.int64)
        return columns.row
    tables = {
        "baseline": network.vectors.row,
        "set-up": network.set_ups.row,
        "position": network.positions.row,
    }
    return tables.get(kind, network.known.row)


def _columns(network: Network, kind: str) -> Sights | Levels | Parameters:
    """Return the columns in which a kind is kept."""
    if kind == "parameter":
        return network.parameters
    if kind == "level difference" and network.levels is not None:
        return network.levels
    (sights,) = (some for some in network.sights if some.kind == kind)
    return sights


def _marks(network: Network, nodes: Ints) -> list[str]:
    """Return the marks over which nodes stand."""
    name = network.marks.name
    return [name[mark] for mark in network.mark_of(nodes).tolist()]


def _lines(
    network: Network, name: Names, used: Ints, start: Ints, end: Ints
) -> list[str]:
    ends = zip(_marks(network, start[used]), _marks(network, end[used]), strict=True)
    return [
        f"{name[i]} {a} – {b}" for i, (a, b) in zip(used.tolist(), ends, strict=True)
    ]


def _sights(network: Network, kind: str, used: Ints) -> tuple[str, ...]:
    (sights,) = (some for some in network.sights if some.kind == kind)
    words = _lines(network, sights.name, used, sights.at, sights.to)
    if kind != "angle":
        return tuple(words)
    at, to, back = (
        _marks(network, e[used]) for e in (sights.at, sights.to, sights.back)
    )
    return tuple(
        f"{sights.name[i]} at {a}, {b} to {c}"
        for i, a, b, c in zip(used.tolist(), at, back, to, strict=True)
    )


def _levels(network: Network, used: Ints) -> tuple[str, ...]:
    levels = network.levels
    if levels is None:
        return ("",) * len(used)
    return tuple(_lines(network, levels.name, used, levels.start, levels.end))


def _vectors(network: Network, used: Ints) -> tuple[str, ...]:
    vectors = network.vectors
    words = _lines(network, vectors.name, used, vectors.start, vectors.end)
    said = _in_sessions(network, vectors.session[used])
    return tuple(a + b for a, b in zip(words, said, strict=True))


def _in_sessions(network: Network, sessions: Ints) -> list[str]:
    """Return in words in which session each was observed; empty for none."""
    names = network.sessions
    return [f", session {names[k]}" if k >= 0 else "" for k in sessions.tolist()]


def _set_ups(network: Network, used: Ints) -> tuple[str, ...]:
    set_ups = network.set_ups
    marks = [network.marks.name[mark] for mark in set_ups.mark[used].tolist()]
    said = _in_sessions(network, set_ups.session[used])
    return tuple(
        f"{set_ups.name[i]} ({mark}{session})"
        for i, mark, session in zip(used.tolist(), marks, said, strict=True)
    )


def _positions(network: Network, used: Ints) -> tuple[str, ...]:
    positions = network.positions
    marks = _marks(network, positions.node[used])
    return tuple(
        f"{positions.name[i]} at {mark}"
        for i, mark in zip(used.tolist(), marks, strict=True)
    )
