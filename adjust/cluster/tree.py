"""Who eliminates which unknown: domains their inside, separators what is shared.

The domains are the leaves of a binary tree: number k of 2^levels stands at place
2^levels + k, and the place above p is p // 2. An unknown that several domains have is
eliminated at the lowest place above all of them.
"""

from dataclasses import dataclass

import numpy as np

from ...networks import Network
from ...networks.covariances import Ints
from .domains import each_domain, nodes_of
from .touched import Touched


@dataclass(frozen=True, slots=True)
class Tree:
    """The places of a tree of domains and separators."""

    levels: int
    leaves: tuple[int, ...]
    """Places of the domains that there are."""
    owner: Ints
    """(u,) place that eliminates each unknown; −1: a domain, which alone has it."""

    def own(self, place: int) -> Ints:
        """Return the unknowns that a separator eliminates."""
        return np.flatnonzero(self.owner == place)

    def separators(self) -> list[int]:
        """Return the places above domains, each before those above it."""
        above = set()
        for leaf in self.leaves:
            while leaf > 1:
                leaf //= 2
                above.add(leaf)
        return sorted(above, reverse=True)

    def below(self, place: int) -> list[int]:
        """Return the one or two places right below a separator."""
        there = {*self.leaves, *self.separators()}
        return [p for p in (2 * place, 2 * place + 1) if p in there]


def tree(
    network: Network,
    columns: Ints,
    kinds: tuple[Touched, ...],
    domain_of: list[Ints],
    levels: int,
) -> Tree:
    """Return the tree of domains.

    Parameters
    ----------
    network : Network
    columns : ndarray of int, shape (N + q, 3)
    kinds : tuple of Touched
    domain_of : list of ndarray of int
        As from ``divide``.
    levels : int
        With no level there is one domain, and one separator that has nothing to do.
    """
    levels = max(levels, 1)
    first = np.full(len(columns), 1 << levels + 1)
    last = np.full(len(columns), -1)
    leaves = []
    for number, rows in each_domain(domain_of):
        nodes = nodes_of(network, kinds, rows)
        place = (1 << levels) + number
        np.minimum.at(first, nodes, place)
        np.maximum.at(last, nodes, place)
        leaves.append(place)
    count = int(columns.max(initial=-1)) + 1
    low, high = np.full(count + 1, 1 << levels + 1), np.full(count + 1, -1)
    np.minimum.at(low, columns, first[:, None])
    np.maximum.at(high, columns, last[:, None])
    return Tree(levels, tuple(sorted(leaves)), _lowest_above(low[:-1], high[:-1]))


def _lowest_above(low: Ints, high: Ints) -> Ints:
    """Return the lowest place above two leaves; −1 where they are one.

    Examples
    --------
    >>> _lowest_above(np.array([4, 4, 6]), np.array([5, 7, 6])).tolist()
    [2, 1, -1]
    """
    apart = np.frexp((low ^ high).astype(np.float64))[1]
    return np.where(low == high, -1, low >> apart)
