"""The tests of a job as a table: columns now, words when they are asked for."""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import chain, repeat
from typing import overload

import numpy as np

from ...networks import Network
from ...networks.covariances import Bools, Floats, Ints
from .names import about, names
from .verdicts import Basis, Tested

_WORDED = 100
"""Tests that are put into words together."""
_MEASURES = {
    "slope distance": "m",
    "horizontal distance": "m",
    "level difference": "m",
    "direction": "rad",
    "angle": "rad",
    "azimuth": "rad",
    "zenith angle": "rad",
}
_OF_PARAMETERS = {
    "orientation": "rad",
    "vector turn": "rad",
    "distance constant": "m",
    "position shift": "m",
    "undulation": "m",
    "undulation shift": "m",
    "undulation tilt": "ratio",
    "distance scale": "ratio",
    "vector scale": "ratio",
    "refraction": "coefficient",
}


@dataclass(frozen=True, slots=True)
class Run:
    """Tests of one kind."""

    kind: str
    table: str
    """Where the things tested are kept: ``baseline``, ``set-up``, ``known mark`` …"""
    edge: Ints
    """(k,) their numbers there."""


@dataclass(frozen=True)
class BlunderTests:
    """One row a test, columns as arrays. Lengths in m, shifts east, north, up.

    Words are made when they are asked for: of very many tests few are shown.
    """

    network: Network
    runs: tuple[Run, ...]
    """The kinds of test, one after the other."""
    edge: Ints
    """Number of the vector, set-up, position or known row in the network."""
    row: Ints
    """Row of the table it was booked in."""
    is_observation: Bools
    """Whether its redundancy counts towards the degrees of freedom."""
    redundancy: Floats
    """Trace of the block of QvP; NaN for what is not an observation."""
    tests: Tested
    basis: Basis
    """The stated or estimated tests, as the options say."""
    family_probability: Floats
    """Chance that any test of the job is as large by chance (Šidák)."""
    verdict: tuple[str, ...]
    """meets, query (test over 1), fails (and unlikely over the whole job: family
    probability under 1 − confidence), unchecked."""

    def __len__(self) -> int:
        return len(self.edge)

    @cached_property
    def kind(self) -> tuple[str, ...]:
        """What each is a test of, such as ``baseline`` or ``set-up height``."""
        return self._said(lambda run: repeat(run.kind, len(run.edge)))

    @cached_property
    def name(self) -> tuple[str, ...]:
        """As booked."""
        return self._said(lambda run: names(self.network, run.table, run.edge))

    @cached_property
    def about(self) -> Sequence[str]:
        """In words: "B17 GROVE 3 – T104, session S4"; some at a time, as asked for."""
        return _About(self.network, self.runs)

    @cached_property
    def measure(self) -> tuple[str, ...]:
        """What shifts and detectable sizes are in.

        ``enu`` (m); ``m`` or ``rad``, a reading's own value in the first component; a
        parameter's may be ``ratio`` or ``coefficient`` too.
        """
        return self._said(lambda run: _measures(self.network, run))

    def _said(self, words: Callable[[Run], Iterable[str]]) -> tuple[str, ...]:
        return tuple(chain.from_iterable(map(words, self.runs)))

    def order(self) -> Ints:
        """Return the row numbers, largest test first, what cannot be judged last.

        Tests that are equal but for rounding stay in the order of the columns.
        """
        test = np.where(np.isfinite(self.basis.test), self.basis.test, -1.0)
        return np.argsort(-test.round(6), kind="stable")


class _About(Sequence[str]):
    """What tests are about, a block of words at a time: those of all are many."""

    def __init__(self, network: Network, runs: Sequence[Run]) -> None:
        self._network, self._runs = network, runs
        self._ends = np.cumsum([len(run.edge) for run in runs])
        self._first, self._words = 0, tuple[str, ...]()

    def __len__(self) -> int:
        return int(self._ends[-1]) if len(self._ends) else 0

    @overload
    def __getitem__(self, at: int) -> str: ...
    @overload
    def __getitem__(self, at: slice) -> Sequence[str]: ...
    def __getitem__(self, at: int | slice) -> str | Sequence[str]:
        numbers = range(len(self))[at]
        if isinstance(numbers, range):
            return tuple(map(self._said, numbers))
        return self._said(numbers)

    def _said(self, i: int) -> str:
        if not self._first <= i < self._first + len(self._words):
            number = int(np.searchsorted(self._ends, i, side="right"))
            run = self._runs[number]
            start = int(self._ends[number]) - len(run.edge)
            low = (i - start) // _WORDED * _WORDED
            edges = run.edge[low : low + _WORDED]
            self._first = start + low
            self._words = about(self._network, run.table, edges)
        return self._words[i - self._first]


def _measures(network: Network, run: Run) -> list[str]:
    """Return what the shifts of one kind are in; of a parameter its own unit."""
    if run.kind != "parameter":
        return [_MEASURES.get(run.kind, "enu")] * len(run.edge)
    kinds = network.parameters.kind
    return [_OF_PARAMETERS[kinds[i]] for i in run.edge]
