"""Adjustments whose variance factor is that of the whole: of a domain, and of all."""

from dataclasses import dataclass
from typing import TYPE_CHECKING

from ..adjustment import Adjustment
from .store import Store
from .tested import joined_tests, names_of

if TYPE_CHECKING:
    from ..judge.edge_tests import EdgeTests


@dataclass(frozen=True, slots=True)
class PartAdjustment(Adjustment):
    """The adjustment of a domain, its variance factor that of the whole."""

    square_sum: float = float("nan")
    freedom: int = 0

    @property
    def vtpv(self) -> float:
        """The weighted square sum of the residuals of the whole network."""
        return self.square_sum

    @property
    def degrees_of_freedom(self) -> int:
        """Those of the whole network."""
        return self.freedom


@dataclass(frozen=True, slots=True)
class PartedAdjustment(PartAdjustment):
    """The adjustment of a whole network, whose observations workers have tested."""

    store: Store | None = None
    numbers: tuple[int, ...] = ()
    """Of the domains."""

    def tests_left(self, kind: str) -> "EdgeTests | None":
        """Return the tests of a kind that workers left; None where there are none."""
        assert self.store is not None
        names = names_of(kind)
        return joined_tests(kind, (self.store.kept(n, names) for n in self.numbers))
