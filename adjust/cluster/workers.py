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
