"""Up the tree and down again: eliminations, solutions and covariances as tasks."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from ...networks.covariances import Floats
from . import separators, tasks
from .tree import Tree
from .workers import Tell, Workers

Tickets = Mapping[int, Any]
"""Place in the tree to ticket."""


@dataclass(frozen=True, slots=True)
class Passes:
    """A tree of domains and those who work on it."""

    tree: Tree
    workers: Workers

    def share(self, place: int) -> float:
        """Return whose work a place is: leaves from left to right, evenly."""
        while place < 1 << self.tree.levels:
            place *= 2
        left = sum(leaf < place for leaf in self.tree.leaves)
        return left / len(self.tree.leaves)

    def submit(self, place: int, function: Callable[..., Any], *given: Any) -> Any:
        """Have a task of a place done."""
        return self.workers.submit(function, *given, share=self.share(place))

    def each(
        self, function: Callable[..., Any], stages: Tickets, *given: Any
    ) -> dict[int, Any]:
        """Have a task done for every domain; return tickets by place."""
        return {
            leaf: self.submit(leaf, function, stages[leaf], *given)
            for leaf in self.tree.leaves
        }

    def gather(self, tickets: Tickets, tell: Tell | None = None) -> dict[int, Any]:
        """Return values by place."""
        values = self.workers.gather(list(tickets.values()), tell)
        return dict(zip(tickets, values, strict=True))

    def joined(self, stages: Tickets) -> dict[int, Any]:
        """Return tickets for the separators, eliminated from the domains' borders."""
        said = self.each(tasks.border_of, stages)
        made = {}
        for place in self.tree.separators():
            parts = [said[below] for below in self.tree.below(place)]
            own = self.tree.own(place)
            made[place] = self.submit(place, separators.joined, own, *parts)
            said[place] = self.submit(place, separators.border, made[place])
        return made

    def solved(
        self,
        above: Tickets,
        sides: Tickets,
        own: Mapping[int, Floats] | None = None,
    ) -> dict[int, Any]:
        """Return tickets for the solutions of the separators.

        Parameters
        ----------
        above : mapping of int to ticket
            Separators.
        sides : mapping of int to ticket
            Right sides of the domains, reduced.
        own : mapping of int to ndarray, shape (own, k), optional
            What unknowns of separators have besides.
        """
        said, up = dict(sides), {}
        down: dict[int, Any] = {}
        order = self.tree.separators()
        for place in order:
            parts = [said[below] for below in self.tree.below(place)]
            more = None if own is None else own[place]
            up[place] = self.submit(
                place, separators.raised, above[place], more, *parts
            )
            said[place] = self.submit(place, separators.rest, up[place])
        for place in reversed(order):
            given = down.get(place // 2)
            down[place] = self.submit(
                place, separators.lowered, above[place], up[place], given
            )
        return down

    def inverted(self, above: Tickets) -> dict[int, Any]:
        """Return tickets for the inverse among the unknowns of each separator."""
        down: dict[int, Any] = {}
        for place in reversed(self.tree.separators()):
            given = down.get(place // 2)
            down[place] = self.submit(place, separators.inverted, above[place], given)
        return down
