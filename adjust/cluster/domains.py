"""A domain: the part of a network that one worker holds, cut out of its columns."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, fields, replace
from typing import Any

import numpy as np

from ...networks import Network
from ...networks.covariances import Batch, Bools, Covariances, Floats, Ints
from ...networks.distinct import distinct
from ...networks.part import Part
from ..datum import Datum
from ..nodes import Nodes
from ..observed import observed_components
from .touched import Touched

_PARAMETERS = "parameter"


@dataclass(frozen=True, slots=True)
class Domain:
    """A part of a network, its unknowns numbered from 0 and in the whole."""

    number: int
    network: Network
    """Its ``part`` says what the whole observes."""
    hold: Datum
    nodes: Ints
    """(n,) the number of each of its nodes in the whole."""
    own: Bools
    """(n,) whether this domain, of those that have the node, answers for it."""
    columns: Ints
    """(n, 3) column of each component in the domain; −1 for none."""
    unknowns: Ints
    """(u,) the number of each column in the whole."""
    kept: Bools
    """(u,) whether other domains have the unknown too, or the root must see it."""
    numbers: Mapping[str, Ints]
    """Kind to (n,) the numbers that its observations have in the whole."""
    xyz: Floats
    """(marks and set-ups, 3) where the iteration starts."""
    values: Floats


def cut(
    network: Network,
    hold: Datum,
    columns: Ints,
    start: Nodes,
    kinds: tuple[Touched, ...],
    domain_of: list[Ints],
    owner: Ints,
) -> Iterator[Domain]:
    """Yield the domains one after the other; no two are in memory unless kept.

    Parameters
    ----------
    network : Network
    hold : Datum
    columns : ndarray of int, shape (N + q, 3)
    start : Nodes
    kinds : tuple of Touched
    domain_of : list of ndarray of int
        As from ``divide``.
    owner : ndarray of int, shape (u,)
        The separator that eliminates each unknown, −1 for inside a domain.
    """
    observed = observed_components(network)
    seen = np.zeros(len(columns), dtype=bool)
    for number, rows in each_domain(domain_of):
        nodes = nodes_of(network, kinds, rows)
        part, local_hold, numbers = _cut(network, hold, nodes, kinds, rows, observed)
        local = columns[nodes]
        unknowns = distinct(local[local >= 0])
        at = np.where(local >= 0, np.searchsorted(unknowns, local), -1)
        places = int(np.searchsorted(nodes, len(start.xyz)))
        own = ~seen[nodes]
        seen[nodes] = True
        yield Domain(
            number,
            part,
            local_hold,
            nodes,
            own,
            at,
            unknowns,
            owner[unknowns] >= 0,
            numbers,
            start.xyz[nodes[:places]],
            start.values[nodes[places:] - len(start.xyz)],
        )


def each_domain(domain_of: list[Ints]) -> Iterator[tuple[int, list[Ints]]]:
    """Yield the number of each domain, and its observations of each kind.

    Those that lie farthest apart come first, so that every worker soon has one:
    0, 4, 2, 6, 1, 5, 3, 7.
    """
    there = distinct(np.concatenate([np.zeros(0, np.int64), *domain_of]))
    for number in sorted(there[there >= 0].tolist(), key=_backwards):
        yield number, [np.flatnonzero(where == number) for where in domain_of]


def _backwards(number: int) -> str:
    """Return the digits of a number, to the base of 2, from the last to the first.

    Examples
    --------
    >>> sorted(range(8), key=_backwards)
    [0, 4, 2, 6, 1, 5, 3, 7]
    """
    return f"{number:064b}"[::-1]


def nodes_of(network: Network, kinds: tuple[Touched, ...], rows: list[Ints]) -> Ints:
    """Return the nodes that some observations touch, and the marks they are over."""
    marks, places = len(network.marks), len(network.marks) + len(network.set_ups)
    found = [np.zeros(0, np.int64)]
    found += [distinct(k.node[some]) for k, some in zip(kinds, rows, strict=True)]
    nodes = distinct(np.concatenate(found))
    nodes = nodes[nodes >= 0]
    stood = nodes[(nodes >= marks) & (nodes < places)]
    return distinct(np.concatenate([nodes, network.set_ups.mark[stood - marks]]))


def _cut(
    network: Network,
    hold: Datum,
    nodes: Ints,
    kinds: tuple[Touched, ...],
    rows: list[Ints],
    observed: Bools,
) -> tuple[Network, Datum, dict[str, Ints]]:
    """Return the network of a domain, its datum, and what its observations are."""
    marks, places = len(network.marks), len(network.marks) + len(network.set_ups)
    where = _where(network, nodes)
    a, b = np.searchsorted(nodes, [marks, places]).tolist()
    numbers = {kind.kind: some for kind, some in zip(kinds, rows, strict=True)}
    stood, priors = nodes[a:b] - marks, nodes[b:] - places
    part = Part(
        observed[nodes[:b]],
        np.isin(stood, numbers["set-up"]),
        np.isin(priors, numbers["parameter"]),
    )
    numbers |= {"set-up": stood, "parameter": priors}
    numbers["known mark"] = _known_rows(network, hold, where, numbers["known mark"])
    sights = [where.edges(some, numbers[some.kind]) for some in network.sights]
    made: dict[str, Any] = {
        "marks": _taken(network.marks, nodes[:a]),
        "set_ups": where.moved(_taken(network.set_ups, stood), "mark"),
        "parameters": _taken(network.parameters, priors),
        "vectors": where.edges(network.vectors, numbers["baseline"]),
        "sights": tuple(some for some in sights if len(some)),
        "positions": where.edges(network.positions, numbers["position"]),
        "known": where.edges(network.known, numbers["known mark"]),
        "part": part,
    }
    if network.levels is not None:
        levels = where.edges(network.levels, numbers["level difference"])
        made["levels"] = levels if len(levels) else None
    if network.undulations is not None:
        made["undulations"] = where.undulations(network, nodes[:a])
    here = np.isin(numbers["known mark"], rows[-3])
    return replace(network, **made), _datum(hold, numbers["known mark"], here), numbers


def _known_rows(network: Network, hold: Datum, where: "_Where", weighted: Ints) -> Ints:
    """Return weighted known rows of the domain, and all that hold a mark of it."""
    held = hold.held_rows.any(axis=1) & (where.node[network.known.mark] >= 0)
    return distinct(np.concatenate([weighted, np.flatnonzero(held)]))


def _datum(hold: Datum, rows: Ints, here: Bools) -> Datum:
    """Return the datum of some known rows, which are weighted only here."""
    weighted = hold.weighted[rows] & here[:, None]
    return Datum(hold.mode, hold.text, hold.held_rows[rows], weighted, hold.held)


def _where(network: Network, nodes: Ints) -> "_Where":
    places = len(network.marks) + len(network.set_ups)
    number = np.full(places + len(network.parameters) + 1, -1)
    number[nodes] = np.arange(len(nodes))
    parameter = number[places:]
    before = int(np.searchsorted(nodes, places))
    return _Where(number, np.where(parameter >= 0, parameter - before, -1))


@dataclass(frozen=True, slots=True)
class _Where:
    """Numbers in the domain of nodes and of parameters; −1 for those of others."""

    node: Ints
    parameter: Ints

    def edges(self, table: Any, rows: Ints) -> Any:
        """Return rows of a table of observations."""
        names = ("start", "end", "node", "at", "to", "back", "mark")
        made = self.moved(_taken(table, rows), *names)
        if getattr(made, _PARAMETERS, None) is not None:
            numbers = self.parameter[made.parameter]
            made = replace(made, parameter=numbers)
        return made

    def moved(self, table: Any, *names: str) -> Any:
        """Return a table with the nodes of some columns numbered in the domain."""
        there = {f.name for f in fields(table)} & set(names)
        return replace(
            table, **{name: self.node[getattr(table, name)] for name in there}
        )

    def undulations(self, network: Network, marks: Ints) -> Any:
        """Return the undulations of some marks; the middle stays that of the job."""
        whole = network.undulations
        assert whole is not None
        shift, east, north = self.parameter[list(whole.common)].tolist()
        place = None if whole.place is None else whole.place[marks]
        return replace(
            whole,
            value=whole.value[marks],
            sd=whole.sd[marks],
            common=(shift, east, north),
            place=place,
        )


def _taken(table: Any, rows: Ints) -> Any:
    """Return some rows of a table of columns."""
    made: dict[str, Any] = {}
    for field in fields(table):
        column = getattr(table, field.name)
        if field.name == "covariances":
            made[field.name] = _clusters(column, rows, len(table))
        elif isinstance(column, np.ndarray):
            made[field.name] = column[rows]
        elif isinstance(column, tuple):
            made[field.name] = tuple(map(column.__getitem__, rows.tolist()))
    return replace(table, **made)


def _clusters(covariances: Covariances, rows: Ints, count: int) -> Covariances:
    """Return the clusters that are chosen whole."""
    number = np.full(count, -1)
    number[rows] = np.arange(len(rows))
    made = []
    for batch in covariances:
        some = (number[batch.members] >= 0).all(axis=1)
        if some.any():
            made.append(Batch(number[batch.members[some]], batch.matrix[some]))
    return tuple(made)
