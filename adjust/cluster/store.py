"""Where domains wait for workers, and where these leave their results."""

from collections.abc import Sequence
from typing import Any, Protocol

from numpy.typing import NDArray

from .domains import Domain

Column = NDArray[Any]
"""Numbers, yes and no, or words."""


class Aside(Protocol):
    """Something large that is not needed for a while."""

    def back(self) -> Any:
        """Return it."""


class Store(Protocol):
    """Where domains wait for workers, and where these leave their results."""

    def aside(self, value: Any) -> Aside:
        """Set something aside that the same worker needs again; nobody else sees it."""

    def put(self, domain: Domain) -> None:
        """Keep a domain."""

    def get(self, number: int) -> Domain:
        """Return a domain."""

    def keep(self, number: int, arrays: dict[str, Column]) -> int:
        """Keep the result of a domain and return how many bytes it has."""

    def kept(self, number: int, names: Sequence[str] = ()) -> dict[str, Column]:
        """Return those of some columns that the result of a domain has; or all."""


class InHand:
    """Something that stays where it is."""

    def __init__(self, value: Any) -> None:
        self._value = value

    def back(self) -> Any:
        """Return it."""
        return self._value


class InMemory:
    """Domains and results kept in this process."""

    def __init__(self) -> None:
        self._domains: dict[int, Domain] = {}
        self._results: dict[int, dict[str, Column]] = {}

    def aside(self, value: Any) -> InHand:
        """Set nothing aside."""
        return InHand(value)

    def put(self, domain: Domain) -> None:
        """Keep a domain."""
        self._domains[domain.number] = domain

    def get(self, number: int) -> Domain:
        """Return a domain."""
        return self._domains[number]

    def keep(self, number: int, arrays: dict[str, Column]) -> int:
        """Keep a result."""
        self._results[number] = arrays
        return sum(array.nbytes for array in arrays.values())

    def kept(self, number: int, names: Sequence[str] = ()) -> dict[str, Column]:
        """Return those of some columns that a result has; all, without names."""
        found = self._results[number]
        return {name: found[name] for name in names or found if name in found}
