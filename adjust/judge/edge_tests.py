"""Tests of observations one by one: formed here, or by workers who left them."""

from collections import deque
from collections.abc import Callable, Iterator
from typing import NamedTuple

import numpy as np

from ...networks.covariances import Floats, Ints
from ..adjustment import Adjustment
from ..equations import Equations
from .edges import edges_in_parts
from .shifts import Shifts, some_of
from .verdicts import Tested, filled, tested

_AT_ONCE = 1 << 14
"""Shifts that are judged together."""

Judge = Callable[[Shifts], Tested]


class EdgeTests(NamedTuple):
    """The observations of one kind in use, each by itself."""

    edges: Ints
    """(k,) their numbers, sorted."""
    redundancy: Floats
    """(k,) trace of the block of QvP; NaN where it is exact."""
    tests: Tested | None
    """None: of set-ups, which are tested against all that was observed from them."""


def judge_of(adjustment: Adjustment) -> Judge:
    """Return what makes tests of shifts, part by part to bound the memory.

    Parameters
    ----------
    adjustment : Adjustment
    """
    options, vtpv = adjustment.network.options, adjustment.vtpv
    freedom = adjustment.degrees_of_freedom

    def judge(found: Shifts) -> Tested:
        parts = (
            tested(some_of(found, slice(low, low + _AT_ONCE)), options, vtpv, freedom)
            for low in range(0, len(found.pull), _AT_ONCE)
        )
        return filled(parts, len(found.pull))

    return judge


def edge_tests(adjustment: Adjustment, some: Equations) -> EdgeTests:
    """Return the tests of one kind of observation, as the rows were booked.

    Parameters
    ----------
    adjustment : Adjustment
    some : Equations

    Returns
    -------
    EdgeTests
        Those that workers left, where the adjustment has such.
    """
    left = adjustment.tests_left(some.kind)
    return formed(adjustment, some) if left is None else left


def formed(adjustment: Adjustment, some: Equations) -> EdgeTests:
    """Return the tests of one kind of observation, formed from covariances.

    Parameters
    ----------
    adjustment : Adjustment
    some : Equations
    """
    judge = None if some.kind == "set-up" else judge_of(adjustment)
    edges, redundancy = [np.zeros(0, np.int64)], [np.zeros(0)]

    def shifts() -> Iterator[Shifts]:
        for one in edges_in_parts(adjustment, some):
            edges.append(one.edges)
            redundancy.append(one.redundancy)
            yield one.shifts

    together = None
    if judge is None:
        deque(shifts(), maxlen=0)
    else:
        together = filled(map(judge, shifts()), int(some.used.sum()))
    used, shares = np.concatenate(edges), np.concatenate(redundancy)
    if (np.diff(used) < 0).any():
        order = np.argsort(used)
        used, shares = used[order], shares[order]
        together = None if together is None else together.of(order)
    return EdgeTests(used, shares, together)
