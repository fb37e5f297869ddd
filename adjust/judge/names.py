"""What observations are called, looked up at the edge of the program."""

import numpy as np

from ...networks import Levels, Network, Parameters, Sights
from ...networks.covariances import Ints

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
    words = {"baseline": _vector, "set-up": _set_up, "position": _position}
    if kind in _SIGHTS:
        return tuple(_sight(network, kind, int(i)) for i in used)
    if kind == "level difference":
        return tuple(_level(network, int(i)) for i in used)
    if kind not in words:
        return names(network, kind, used)
    return tuple(words[kind](network, int(i)) for i in used)


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


def _sight(network: Network, kind: str, i: int) -> str:
    (sights,) = (some for some in network.sights if some.kind == kind)
    ends = [sights.at[i], sights.to[i]]
    at, to = network.mark_of(np.array(ends))
    marks = network.marks.name
    words = f"{sights.name[i]} {marks[at]} – {marks[to]}"
    if sights.back[i] >= 0:
        (back,) = network.mark_of(sights.back[i : i + 1])
        words = f"{sights.name[i]} at {marks[at]}, {marks[back]} to {marks[to]}"
    return words


def _level(network: Network, i: int) -> str:
    if network.levels is None:
        return ""
    ends = [network.levels.start[i], network.levels.end[i]]
    start, end = network.mark_of(np.array(ends))
    marks = network.marks.name
    return f"{network.levels.name[i]} {marks[start]} – {marks[end]}"


def _vector(network: Network, i: int) -> str:
    vectors = network.vectors
    start, end = network.mark_of(np.array([vectors.start[i], vectors.end[i]]))
    marks = network.marks.name
    words = f"{vectors.name[i]} {marks[start]} – {marks[end]}"
    return words + _in_session(network, int(vectors.session[i]))


def _set_up(network: Network, i: int) -> str:
    set_ups = network.set_ups
    inside = network.marks.name[set_ups.mark[i]]
    if set_ups.session[i] >= 0:
        inside += f", session {network.sessions[set_ups.session[i]]}"
    return f"{set_ups.name[i]} ({inside})"


def _position(network: Network, i: int) -> str:
    positions = network.positions
    (mark,) = network.mark_of(positions.node[i : i + 1])
    return f"{positions.name[i]} at {network.marks.name[mark]}"


def _in_session(network: Network, session: int) -> str:
    return f", session {network.sessions[session]}" if session >= 0 else ""
