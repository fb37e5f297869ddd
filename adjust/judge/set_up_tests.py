"""Tests of set-ups, against all that was observed from them."""

from collections.abc import Iterator
from typing import NamedTuple

import numpy as np

from ...networks.covariances import Ints
from ..adjustment import Adjustment
from ..cliques import WIDE
from .edge_tests import EdgeTests, judge_of
from .set_ups import of_set_ups
from .shifts import some_of
from .touching import couplings, touched
from .verdicts import Tested, filled, part, stacked

PLACE, HEIGHT = "set-up, place and height", "set-up height"
"""What workers call the tests that they leave."""

_AT_ONCE = 100_000
"""Set-ups that are judged together; bounds the memory."""


class SetUpTests(NamedTuple):
    """Tests of set-ups; their redundancy is that of their own observation."""

    place: EdgeTests
    """Of place and height together."""
    height: EdgeTests
    """Of the height alone, where an observation sees it."""


def set_up_tests(adjustment: Adjustment, used: Ints) -> SetUpTests:
    """Return the tests of some set-ups, taken from workers where these left them.

    Parameters
    ----------
    adjustment : Adjustment
    used : ndarray of int, shape (k,)
        Numbers of the set-ups, sorted.
    """
    place, height = adjustment.tests_left(PLACE), adjustment.tests_left(HEIGHT)
    if place is None or height is None:
        return formed(adjustment, used)
    others = formed(adjustment, np.setdiff1d(used, place.edges))
    return SetUpTests(_both(place, others.place), _both(height, others.height))


def _both(first: EdgeTests, second: EdgeTests) -> EdgeTests:
    """Return the tests of two sets, sorted by the numbers of the set-ups."""
    assert first.tests is not None
    assert second.tests is not None
    if not len(second.edges):
        return first
    edges = np.concatenate([first.edges, second.edges])
    order = np.argsort(edges)
    together = stacked([first.tests, second.tests]).of(order)
    shares = np.concatenate([first.redundancy, second.redundancy])
    return EdgeTests(edges[order], shares[order], together)


def formed(adjustment: Adjustment, used: Ints) -> SetUpTests:
    """Return the tests of some set-ups, formed from covariances.

    Parameters
    ----------
    adjustment : Adjustment
    used : ndarray of int, shape (k,)
    """
    judge, shares = judge_of(adjustment), [np.zeros(0)]
    edges, heights = [np.zeros(0, np.int64)], []

    def places() -> Iterator[Tested]:
        for low in range(0, len(used), _AT_ONCE):
            some = used[low : low + _AT_ONCE]
            found, redundancy = of_set_ups(adjustment, some)
            shares.append(redundancy)
            height = part(found, [2])
            seen = np.flatnonzero(height.components.any(axis=1))
            edges.append(some[seen])
            heights.append(judge(some_of(height, seen)))
            yield judge(found)

    together = filled(places(), len(used))
    seen = np.concatenate(edges)
    heights.reverse()
    alone = filled((heights.pop() for _ in edges[1:]), len(seen))
    none = np.full(len(seen), np.nan)
    return SetUpTests(
        EdgeTests(used, np.concatenate(shares), together),
        EdgeTests(seen, none, alone),
    )


def narrow_ones(adjustment: Adjustment, some: Ints) -> Ints:
    """Return those of some set-ups for whose tests no equation is solved.

    Parameters
    ----------
    adjustment : Adjustment
    some : ndarray of int, shape (k,)
        Numbers of set-ups.
    """
    group = np.full(len(adjustment.columns) + 1, -1)
    group[len(adjustment.network.marks) + some] = np.arange(len(some))
    of, _, _ = couplings(list(touched(adjustment, group)), len(some))
    return some[np.bincount(of, minlength=len(some)) <= WIDE]
