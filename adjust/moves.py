"""Nodes moved: by a shift of the unknowns, and back to where they are held."""

from dataclasses import replace

import numpy as np

from ..networks import Network, NoSolution
from ..networks.covariances import Floats, Ints
from .datum import Datum
from .equations.known_marks import known_minus
from .nodes import Nodes, last_first, nodes_at
from .observed import free_components

CONVERGED = 1e-5
"""m: 0.01 mm."""


def bends(network: Network) -> bool:
    """Return whether partials change as the unknowns do."""
    return bool(network.sights) or network.vectors.parameter is not None


def moved_by(network: Network, nodes: Nodes, columns: Ints, shift: Floats) -> Nodes:
    """Return the nodes moved by a shift of the unknowns, (u,), m and rad.

    Where nothing bends, axes and partials stay those for which the matrix was factored:
    what is judged is judged in one place, and what nothing checks is that to rounding.
    Axes of a place a metre off are turned by 2e-7.
    """
    padded = np.concatenate([shift, [0.0]])
    where = nodes.moved(padded[columns])
    if not bends(network):
        return _in_axes(nodes, *where)
    del nodes
    return _nodes_after(network, *where)


def _in_axes(nodes: Nodes, xyz: Floats, values: Floats) -> Nodes:
    """Return the nodes elsewhere, in the axes that they have."""
    there = last_first(np.ascontiguousarray(xyz.T))
    return replace(nodes, xyz=there, values=values)


def _nodes_after(network: Network, xyz: Floats, values: Floats) -> Nodes:
    """Return the nodes with the axes laid anew where the marks now are."""
    marks = len(network.marks)
    return nodes_at(network, xyz[:marks], xyz[marks:], values)


def laid_anew(network: Network, nodes: Nodes) -> Nodes:
    """Return the nodes where they are, with the axes of that place."""
    return _nodes_after(network, nodes.xyz, nodes.values)


def on_held(
    network: Network, hold: Datum, nodes: Nodes, *, anew: bool = False
) -> Nodes:
    """Return the nodes with held components exactly at their known values.

    Set-ups that are exact there move along with their marks.

    Parameters
    ----------
    network : Network
    hold : Datum
    nodes : Nodes
    anew : bool, optional
        Whether the axes are those of where the nodes come to be: before anything is
        factored, while they may be far from there.
    """
    rows = hold.held_rows
    if not rows.any():
        return nodes
    shift = np.zeros((len(nodes.xyz) + len(nodes.values), 3))
    for _ in range(2):
        # A height laid after the plan moved: twice, since the two touch.
        shift[:] = 0
        difference = known_minus(network, nodes)
        row, way = np.nonzero(rows)
        shift[network.known.mark[row], way] = difference[row, way]
        moved = nodes.moved(_with_set_ups(network, shift))
        if anew or bends(network):
            del nodes
            nodes = _nodes_after(network, *moved)
        else:
            nodes = _in_axes(nodes, *moved)
    return nodes


def refuse_held_twice(network: Network, hold: Datum, nodes: Nodes) -> None:
    """Refuse a mark that two rows of control.csv hold at different places."""
    off = off_held(network, hold, nodes)
    apart = np.flatnonzero(off > CONVERGED)
    if len(apart):
        names = [network.marks.name[mark] for mark in network.known.mark[apart]]
        raise NoSolution(
            f"{', '.join(names)}: held at two places, {1000 * off.max():.1f} mm apart",
            names,
            mend="hold one of its rows in control.csv, set the other to check-only",
        )


def off_held(network: Network, hold: Datum, nodes: Nodes) -> Floats:
    """Return (n,) how far nodes are from where each known row holds them, m."""
    difference = np.abs(known_minus(network, nodes))
    off = np.where(hold.held_rows, difference, 0.0)
    return np.asarray(off.max(axis=1, initial=0.0))


def _with_set_ups(network: Network, shift: Floats) -> Floats:
    count = len(network.marks)
    along = shift[:count][network.set_ups.mark]
    places = count + len(network.set_ups)
    shift[count:places] = np.where(free_components(network), 0.0, along)
    return shift
