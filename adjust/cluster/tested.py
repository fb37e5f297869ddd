"""Tests of observations as plain columns: left by workers, joined for whoever asks."""

from collections.abc import Iterable, Mapping

import numpy as np

from ...networks.covariances import Floats, Ints
from ..judge.edge_tests import EdgeTests
from ..judge.verdicts import Basis, Tested, stacked
from .store import Column

_OF_TESTED = {
    "components": "components",
    "shift": "shift",
    "sd of shift": "sd_shift",
    "smallest detectable": "smallest_detectable",
    "smallest detectable each way": "smallest_detectable_enu",
    "unchecked": "unchecked",
}
_OF_BASIS = ("statistic", "limit", "test", "probability")
_BASES = ("stated", "estimated")
_OF_NULLS = ("directions unchecked", "unchecked directions", "words")


def names_of(kind: str) -> tuple[str, ...]:
    """Return the names of all columns that tests of a kind may have."""
    bases = [f"{name}, {basis}" for basis in _BASES for name in _OF_BASIS]
    every = ("number", "redundancy", *_OF_TESTED, *bases, *_OF_NULLS)
    return tuple(f"{kind}: {name}" for name in every)


def columns_of(kind: str, numbers: Ints, made: EdgeTests) -> dict[str, Column]:
    """Return the tests of one kind as columns, each named after it.

    Parameters
    ----------
    kind : str
    numbers : ndarray of int, shape (k,)
        Of the observations in the whole network.
    made : EdgeTests

    Returns
    -------
    dict of str to ndarray
        ``KIND: number``, ``KIND: redundancy`` …; what nothing checks, mostly
        nothing, stands in columns of its own.
    """
    found: dict[str, Column] = {"number": numbers, "redundancy": made.redundancy}
    tests = made.tests
    if tests is not None:
        found |= {name: getattr(tests, field) for name, field in _OF_TESTED.items()}
        for basis in _BASES:
            one = getattr(tests, basis)
            found |= {f"{name}, {basis}": getattr(one, name) for name in _OF_BASIS}
        found |= _nulls(tests)
    return {f"{kind}: {name}": column for name, column in found.items()}


def _nulls(tests: Tested) -> dict[str, Column]:
    """Return the directions in which nothing checks, of those that have some."""
    rows = np.flatnonzero(tests.unchecked)
    spaces = [tests.null[i] for i in rows]
    count = np.array([some.shape[1] for some in spaces], np.int64)
    ways = np.concatenate([np.zeros((0, 3)), *(some.T for some in spaces)])
    words = np.array([tests.directions[i] for i in rows], dtype=np.str_)
    return dict(zip(_OF_NULLS, (count, ways, words), strict=True))


def joined_tests(kind: str, parts: Iterable[Mapping[str, Column]]) -> EdgeTests | None:
    """Return the tests of one kind that several domains left.

    Parameters
    ----------
    kind : str
    parts : iterable of mappings of str to ndarray
        Of domains, as ``columns_of`` makes them, one after the other.

    Returns
    -------
    EdgeTests or None
        Sorted by the numbers in the whole network; None where no domain has any.
    """
    numbers, shares, tests = [], [], []
    for part in parts:
        if f"{kind}: number" not in part:
            continue
        numbers.append(part[f"{kind}: number"])
        shares.append(part[f"{kind}: redundancy"])
        if f"{kind}: components" in part:
            tests.append(_tested(kind, part))
    if not numbers:
        return None
    edges, redundancy = np.concatenate(numbers), np.concatenate(shares)
    order = np.argsort(edges)
    together = stacked(tests).of(order) if tests else None
    return EdgeTests(edges[order], redundancy[order], together)


def _tested(kind: str, part: Mapping[str, Column]) -> Tested:
    def column(name: str) -> Column:
        return part[f"{kind}: {name}"]

    def basis(which: str) -> Basis:
        return Basis(*(column(f"{name}, {which}") for name in _OF_BASIS))

    plain = {field: column(name) for name, field in _OF_TESTED.items()}
    null, words = _spaces(plain["unchecked"], *map(column, _OF_NULLS))
    return Tested(
        **plain,
        stated=basis("stated"),
        estimated=basis("estimated"),
        null=null,
        directions=words,
    )


def _spaces(
    unchecked: Column, count: Ints, ways: Floats, words: Column
) -> tuple[tuple[Floats, ...], tuple[str, ...]]:
    """Return the null space of every test, and words; nothing for what is checked."""
    spaces, said = [np.zeros((3, 0))] * len(unchecked), [""] * len(unchecked)
    parts = np.split(ways, np.cumsum(count)[:-1])
    rows = np.flatnonzero(unchecked).tolist()
    for i, some, word in zip(rows, parts, words.tolist(), strict=False):
        spaces[i], said[i] = np.ascontiguousarray(some.T), word
    return tuple(spaces), tuple(said)
