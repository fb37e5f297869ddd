"""A sequence that is made when it is first looked at."""

from collections.abc import Callable, Sequence
from typing import TypeVar, overload

T = TypeVar("T")


class Remade(Sequence[T]):
    """A sequence that is made when it is first looked at.

    Examples
    --------
    >>> squares = Remade(lambda: [k * k for k in range(4)])
    >>> squares[2], len(squares)
    (4, 4)
    """

    def __init__(self, make: Callable[[], Sequence[T]]) -> None:
        self._make = make
        self._made: Sequence[T] | None = None

    @property
    def whole(self) -> Sequence[T]:
        """The sequence, made."""
        if self._made is None:
            self._made = self._make()
        return self._made

    def __len__(self) -> int:
        return len(self.whole)

    @overload
    def __getitem__(self, at: int) -> T: ...
    @overload
    def __getitem__(self, at: slice) -> Sequence[T]: ...
    def __getitem__(self, at: int | slice) -> T | Sequence[T]:
        return self.whole[at]
