"""What observations are called, looked up at the edge of the program."""

import numpy as np

from ...networks import Network
from ...networks.covariances import Ints


def names(network: Network, kind: str, used: Ints) -> tuple[str, ...]:
    """Return the names of some observations of a kind, as booked."""
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
    if kind not in words:
        return names(network, kind, used)
    return tuple(words[kind](network, int(i)) for i in used)


def rows(network: Network, kind: str) -> Ints:
    """Return the rows of the table that a kind is booked in."""
    tables = {
        "baseline": network.vectors.row,
        "set-up": network.set_ups.row,
        "position": network.positions.row,
    }
    return tables.get(kind, network.known.row)


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
