"""Lines of descent: shot, then its base or check shots, then marks, then the record."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from ...networks.covariances import Bools, Ints
from ...networks.network import Network
from ...networks.observations import Names
from ...networks.shots import Bases, PolarShots, Shots
from ...networks.topo_day import Day

if TYPE_CHECKING:
    from networkx import DiGraph


@dataclass(frozen=True, slots=True)
class Descent:
    """What each shot hangs on."""

    mark: Ints
    """(n,) the mark under the base; −1 for a shot of a real-time network, and where
    the line is broken."""
    service_marks: tuple[Ints, ...]
    """Of each real-time network the marks on which check shots were taken."""
    broken: tuple[str, ...]
    """(n,) where the line breaks, in words; empty where it does not."""
    record: Ints
    """(n,) issue of the record; 0 = not yet in one."""

    @property
    def whole(self) -> Bools:
        """(n,) whether the line reaches a mark of the network."""
        return np.array([not words for words in self.broken], dtype=bool)


FREE = "free station "
"""How the mark of a set-up over no mark is called: nothing is below it."""
NO_SOURCE = "no base and no real-time network is booked"
NO_BASE = "its base is not in the job"
NO_MARK = "its base stands over no mark of the network"
NO_CHECK = "no check shot at control ties its real-time network to the marks"


def descent(shots: Shots, bases: Bases) -> Descent:
    """Return what each shot hangs on.

    Parameters
    ----------
    shots : Shots
    bases : Bases

    Returns
    -------
    Descent
    """
    of_base = np.append(bases.mark, -1)
    mark = np.where(shots.base >= 0, of_base[shots.base], -1)
    service = shots.service.number
    tied = [
        np.unique(shots.station[(service == k) & shots.is_check])
        for k in range(len(shots.service.names))
    ]
    has_ties = np.append([len(marks) > 0 for marks in tied], False).astype(bool)
    booked = np.array([name != "" for name in shots.base_booked], dtype=bool)
    states = np.select(
        [
            mark >= 0,
            (service >= 0) & has_ties[service],
            service >= 0,
            booked & (shots.base < 0),
            booked,
        ],
        ["", "", NO_CHECK, NO_BASE, NO_MARK],
        NO_SOURCE,
    )
    return Descent(mark, tuple(tied), tuple(states.tolist()), shots.record)


def descent_graph(day: Day, network: Network) -> "DiGraph":
    """Return the graph of what hangs on what; an edge leads to what carries.

    Nodes are pairs of a kind and a name: ``("shot", "101")``, ``("point", "H1")`` for
    what is made from others, ``("base", "B1")``, ``("real-time network", …)``,
    ``("check shot", …)``, ``("instrument", …)``, ``("mark", …)``,
    ``("record", "issue 1")``.

    Parameters
    ----------
    day : Day
    network : Network

    Returns
    -------
    networkx.DiGraph
    """
    from networkx import DiGraph

    graph: DiGraph = DiGraph()
    graph.add_nodes_from(("shot", name) for name in day.shots.name)
    graph.add_edges_from(_edges(day.shots, day.bases, network))
    if day.polar is not None:
        for one in instruments(day.polar, network):
            own = ("instrument", one.name)
            graph.add_edges_from((("shot", day.polar.name[i]), own) for i in one.shots)
            graph.add_edges_from((own, ("mark", name)) for name in one.marks)
    kinds = ["shot"] * day.roots + ["point"] * len(day.constructions)
    names = day.names
    for i, parents in enumerate(day.constructions.parents.tolist()):
        point = ("point", day.constructions.name[i])
        graph.add_node(point)
        graph.add_edges_from((point, (kinds[p], names[p])) for p in parents if p >= 0)
    return graph


@dataclass(frozen=True, slots=True)
class Instrument:
    """A total station's set-up, what it hangs on, and the shots that hang on it."""

    name: str
    marks: Names
    """The mark below; of a free station those that it sighted."""
    shots: tuple[int, ...]
    """Numbers of polar shots."""


def instruments(polar: PolarShots | None, network: Network) -> tuple[Instrument, ...]:
    """Return the instruments of polar shots, in the order of their nodes.

    Parameters
    ----------
    polar : PolarShots or None
    network : Network
    """
    if polar is None:
        return ()
    made = []
    for node in np.unique(polar.at).tolist():
        mark = int(network.mark_of(np.array([node]))[0])
        names: Names = (network.marks.name[mark],)
        if names[0].startswith(FREE):
            names = _sighted(network, node, mark)
        rows = np.flatnonzero(polar.at == node).tolist()
        made.append(Instrument(network.node_name(node), names, tuple(rows)))
    return tuple(made)


def _sighted(network: Network, node: int, own: int) -> Names:
    """Return the marks that a free station sighted, in the order of the network."""
    some = [sight.to[sight.used & (sight.at == node)] for sight in network.sights]
    nodes = np.concatenate([np.zeros(0, dtype=np.int64), *some])
    marks = np.unique(network.mark_of(nodes)).tolist()
    return tuple(network.marks.name[m] for m in marks if m != own)


def _edges(
    shots: Shots, bases: Bases, network: Network
) -> Iterator[tuple[tuple[str, str], tuple[str, str]]]:
    """Yield an edge from each thing to what carries it."""
    names = network.marks.name
    for k, base in enumerate(bases.name):
        if bases.mark[k] >= 0:
            yield ("base", base), ("mark", names[bases.mark[k]])
    for k, name in enumerate(shots.service.names):
        service = ("real-time network", name)
        for i in np.flatnonzero((shots.service.number == k) & shots.is_check).tolist():
            yield service, ("check shot", shots.name[i])
            yield ("check shot", shots.name[i]), ("mark", names[shots.station[i]])
    for j, name in enumerate(shots.name):
        if shots.record[j] > 0:
            yield ("shot", name), ("record", f"issue {shots.record[j]}")
        if shots.base[j] >= 0:
            yield ("shot", name), ("base", bases.name[shots.base[j]])
        elif shots.service.number[j] >= 0:
            yield ("shot", name), ("real-time network", shots.service.word(j))
