"""A sequence that is made when it is first looked at."""

from collections.abc import Callable, Iterator, Sequence
from typing import TypeVar, overload

T = TypeVar("T")


class Remade(Sequence[T]):
    """A sequence that is made when it is first looked at.

    Examples
    --------
    >>> squares = Remade(lambda: [k * k for k in range(4)])
    >>> squares[2], len(squares)
    (4, 4)

    What was made may be handed over; it is then made again.

    >>> squares.spent(), squares[3]
    ([0, 1, 4, 9], 9)
    """

    def __init__(
        self, make: Callable[[], Sequence[T]], made: Sequence[T] | None = None
    ) -> None:
        self._make = make
        self._made = made

    @property
    def whole(self) -> Sequence[T]:
        """The sequence, made."""
        if self._made is None:
            self._made = self._make()
        return self._made

    def spent(self) -> list[T]:
        """Return a list of the sequence, and forget it."""
        whole = list(self.whole)
        self.forget()
        return whole

    def forget(self) -> None:
        """Let go of what was made."""
        self._made = None

    def __iter__(self) -> Iterator[T]:
        return iter(self.whole)

    def __len__(self) -> int:
        return len(self.whole)

    @overload
    def __getitem__(self, at: int) -> T: ...
    @overload
    def __getitem__(self, at: slice) -> Sequence[T]: ...
    def __getitem__(self, at: int | slice) -> T | Sequence[T]:
        return self.whole[at]
