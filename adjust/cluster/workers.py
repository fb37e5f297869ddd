"""Who does the work: the same tasks in this process, or elsewhere."""

from collections.abc import Callable, Sequence
from typing import Any, Protocol

Tell = Callable[[str], None]


class Workers(Protocol):
    """Whatever takes functions and gives back tickets for what they return."""

    @property
    def count(self) -> int:
        """How many work at once."""

    def submit(
        self, function: Callable[..., Any], *arguments: Any, share: float = 0.0
    ) -> Any:
        """Have a function called, and return a ticket for its value.

        Parameters
        ----------
        function : callable
            Of a module, without side effects: it may be called more than once.
        arguments
            Values, or tickets for values.
        share : float
            From 0 to 1: who of the workers should do it, if there is a choice.
        """

    def gather(self, tickets: Sequence[Any], tell: Tell | None = None) -> list[Any]:
        """Return the values of tickets; ``tell`` hears how many there are yet."""


class InProcess:
    """No workers: every task is done at once, here."""

    count = 1

    def submit(
        self, function: Callable[..., Any], *arguments: Any, share: float = 0.0
    ) -> Any:
        """Call the function; the ticket is the value."""
        return function(*arguments)

    def gather(self, tickets: Sequence[Any], tell: Tell | None = None) -> list[Any]:
        """Return the values."""
        return list(tickets)


class InMemory:
    """Domains and results kept in this process."""

    def __init__(self) -> None:
        self._domains: dict[int, Any] = {}
        self._results: dict[int, Any] = {}

    def put(self, domain: Any) -> None:
        """Keep a domain."""
        self._domains[domain.number] = domain

    def get(self, number: int) -> Any:
        """Return a domain."""
        return self._domains[number]

    def keep(self, number: int, arrays: dict[str, Any]) -> int:
        """Keep a result."""
        self._results[number] = arrays
        return sum(array.nbytes for array in arrays.values())

    def kept(self, number: int, names: Sequence[str] = ()) -> dict[str, Any]:
        """Return some columns of a result; all, without names."""
        found = self._results[number]
        return {name: found[name] for name in names or found}
