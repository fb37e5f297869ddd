"""What floats, in words: the marks, their freedoms, and what would mend it."""

from collections.abc import Sequence

import numpy as np

from ..networks import Network, NoSolution
from ..networks.covariances import Bools, Floats, Ints
from ..networks.undulations import SHIFT
from .nodes import Nodes

_SHIFTS = ("shift in east", "shift in north", "shift in height")
_TURN, _SCALE = "turn about the vertical", "change of scale"
_ACROSS = 1000.0
"""m over which a tilt is compared with a shift: about the size of a site."""
_CLOSE = 1e-3
"""A freedom is named when the null space holds all of it but this share."""


def floating(network: Network, nodes: Nodes, columns: Ints, null: Floats) -> NoSolution:
    """Return the exception that says which marks float.

    Parameters
    ----------
    network : Network
    nodes : Nodes
    columns : ndarray of int, shape (N + q, 3)
    null : ndarray, shape (u, d)
        Directions in the unknowns that cost nothing.
    """
    marks = len(network.marks)
    padded = np.concatenate([null, np.zeros((1, null.shape[1]))])
    moves = padded[columns[:marks]]
    size = np.abs(moves).max(axis=2)
    floats: Bools = np.asarray(size > _CLOSE * size.max())
    names = [network.marks.name[m] for m in np.flatnonzero(floats.any(axis=1))]
    if not names:
        return _of_parameters(network, nodes, columns, padded)
    few = _few(names)
    geoid = _geoid_names(network, nodes, columns, padded, float(size.max()))
    if geoid:
        return NoSolution(
            f"{_few(geoid)} cannot be told from the heights of {few}",
            names,
            geoid,
            "a shift of the geoid is found between heights of both kinds, a tilt at "
            "four marks that are not in one line: hold or weigh an ellipsoidal height "
            "too, or weigh another benchmark",
        )
    freedoms = _freedoms(nodes, moves, floats)
    return NoSolution(
        f"{few} float: nothing fixes their {' and '.join(freedoms)}",
        names,
        freedoms,
        _mend(freedoms, few),
    )


def _geoid_names(
    network: Network, nodes: Nodes, columns: Ints, padded: Floats, size: float
) -> list[str]:
    """Return what of the undulations floats with the marks."""
    if network.undulations is None:
        return []
    found = []
    for number in network.undulations.estimated.tolist():
        moves = np.abs(padded[columns[len(nodes.xyz) + number, 0]]).max()
        shift = network.parameters.kind[number] == SHIFT
        if moves * (1.0 if shift else _ACROSS) > _CLOSE * size:
            found.append(network.parameters.name[number])
    return found


def _freedoms(nodes: Nodes, moves: Floats, floats: Bools) -> list[str]:
    """Return the freedoms in words, from the null space of the marks' moves."""
    span, _ = np.linalg.qr(moves.reshape(-1, moves.shape[2]))
    rigid = _rigid(nodes, floats)
    named = [word for word, move in rigid.items() if _inside(move, span)]
    turning = [word for word in (_TURN, _SCALE) if word in rigid and word not in named]
    if len(named) < span.shape[1] and turning:
        # A turn about a held mark: a turn about the middle, and a shift.
        with_shifts, _ = np.linalg.qr(
            np.column_stack([span, *(rigid[w] for w in _SHIFTS if w in rigid)])
        )
        named += [word for word in turning if _inside(rigid[word], with_shifts)]
    if named:
        return named
    return [str(word) for word in np.array(_SHIFTS)[floats.any(axis=0)]]


def _rigid(nodes: Nodes, floats: Bools) -> dict[str, Floats]:
    """Return the moves of a piece as a whole, (3m,) each; those that move it."""
    marks = len(floats)
    inside = floats.any(axis=1)
    middle = nodes.xyz[:marks][inside].mean(axis=0)
    axes, arm = nodes.axes[:marks], nodes.xyz[:marks] - middle
    ways = axes[np.flatnonzero(inside)[0]]
    moves = {
        word: np.broadcast_to(ways[k], arm.shape) for k, word in enumerate(_SHIFTS)
    }
    moves[_TURN] = np.cross(ways[2], arm)
    moves[_SCALE] = arm - np.outer(arm @ ways[2], ways[2])
    local = {
        word: (np.einsum("mij,mj->mi", axes, move) * floats).ravel()
        for word, move in moves.items()
    }
    least = 1e-6 * max(float(np.abs(move).max()) for move in local.values())
    return {word: move for word, move in local.items() if np.abs(move).max() > least}


def _inside(move: Floats, span: Floats) -> bool:
    rest = move - span @ (span.T @ move)
    return bool(np.linalg.norm(rest) < _CLOSE * np.linalg.norm(move))


def _mend(freedoms: Sequence[str], marks: str) -> str:
    if list(freedoms) == [_TURN]:
        return (
            "hold a second known mark in control.csv, observe an azimuth, or sight a "
            f"known mark from one of {marks}"
        )
    if list(freedoms) == [_SCALE]:
        return f"measure a distance, or hold a second known mark among {marks}"
    return (
        f"hold or weigh a known mark among {marks} in control.csv, "
        "or observe from one of them to the rest of the network"
    )


def _of_parameters(
    network: Network, nodes: Nodes, columns: Ints, padded: Floats
) -> NoSolution:
    places = len(nodes.xyz)
    free = np.abs(padded[columns[places:, 0]]).max(axis=1)
    names = [network.parameters.name[i] for i in np.flatnonzero(free > 0)]
    return NoSolution(
        f"{_few(names) or 'a parameter'} cannot be estimated: too few observations",
        (),
        names,
        "state a standard deviation for it, or observe to one more mark",
    )


def _few(names: Sequence[str]) -> str:
    shown = ", ".join(names[:8])
    return shown if len(names) <= 8 else f"{shown} and {len(names) - 8} more"
