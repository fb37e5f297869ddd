"""A network divided, and its domains handed to those who work on them."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from ...networks import Network
from ...networks.covariances import Floats, Ints
from ..datum import Datum
from ..estimate import begin_at, nothing_to_estimate
from ..nodes import Nodes
from ..unknowns import unknown_columns
from . import tasks
from .domains import cut
from .passes import Passes, Tickets
from .store import Store
from .touched import Touched, touched
from .tree import tree
from .workers import Tell, Workers

Division = Callable[[Network, tuple[Touched, ...], Floats, int], list[Ints]]
_PER_WORKER = 4
"""Domains a worker, about: so that all have work, though domains differ in size."""
_LEAST = 100
"""Marks a domain should have at least."""


def domains_wanted(marks: int, workers: int) -> int:
    """Return into how many domains to divide: a power of two.

    Parameters
    ----------
    marks, workers : int

    Returns
    -------
    int

    Examples
    --------
    >>> domains_wanted(200_000, 2), domains_wanted(150, 4)
    (8, 2)
    """
    most = max(2, marks // _LEAST)
    wanted = min(_PER_WORKER * workers, most)
    return 1 << max(1, int(np.log2(wanted)))


@dataclass(frozen=True, slots=True)
class Divided:
    """How to divide a network, and into how many domains at most."""

    division: Division
    count: int


@dataclass(frozen=True, slots=True)
class Parted:
    """A network divided, its domains with the workers."""

    network: Network
    hold: Datum
    columns: Ints
    begin: Nodes
    passes: Passes
    store: Store
    opened: Tickets
    unknowns: Mapping[int, Ints]
    elsewhere: Floats
    """(3,) sum of the positions of marks that no domain has."""

    @property
    def count(self) -> int:
        """How many unknowns there are."""
        return int(self.columns.max()) + 1

    @property
    def numbers(self) -> tuple[int, ...]:
        """Of the domains, from left to right."""
        tree = self.passes.tree
        return tuple(leaf - (1 << tree.levels) for leaf in tree.leaves)


def prepared(
    network: Network,
    hold: Datum,
    workers: Workers,
    store: Store,
    to: Divided,
    tell: Tell,
) -> tuple[Parted, dict[int, Any]]:
    """Divide a network; have every domain opened and eliminated by who will hold it.

    Returns
    -------
    parted : Parted
    begun : dict of int to ticket
        The domains, eliminated where the iteration starts.
    """
    columns = unknown_columns(network, hold)
    if not (columns >= 0).any():
        raise nothing_to_estimate(network)
    begin = begin_at(network, hold)
    kinds = touched(network, hold)
    levels = max(0, to.count.bit_length() - 1)
    marks = len(network.marks)
    tell(f"dividing into {to.count} domains")
    domain_of = to.division(network, kinds, begin.xyz[:marks], levels)
    plan = tree(network, columns, kinds, domain_of, levels)
    passes = Passes(plan, workers)
    middle = middle_of(network, begin.xyz[:marks].sum(axis=0))
    begun: dict[int, Any] = {}
    unknowns, reached = {}, np.zeros(marks, dtype=bool)
    for domain in cut(network, hold, columns, begin, kinds, domain_of, plan.owner):
        place = (1 << plan.levels) + domain.number
        store.put(domain)
        begun[place] = passes.submit(place, tasks.begun, store, domain.number, middle)
        unknowns[place] = domain.unknowns
        reached[domain.nodes[domain.nodes < marks]] = True
    elsewhere = begin.xyz[:marks][~reached].sum(axis=0)
    opened = passes.each(tasks.opened, begun)
    made = Parted(
        network, hold, columns, begin, passes, store, opened, unknowns, elsewhere
    )
    return made, begun


def middle_of(network: Network, total: Floats) -> Floats | None:
    """Return the middle of all marks, where anything is turned about it.

    Parameters
    ----------
    network : Network
    total : ndarray, shape (3,)
        The sum of the positions of all marks.
    """
    if network.vectors.parameter is None:
        return None
    return np.asarray(total / len(network.marks))
