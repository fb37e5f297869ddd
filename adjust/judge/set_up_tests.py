"""Tests of set-ups, against all that was observed from them."""

from typing import NamedTuple

import numpy as np

from ...networks.covariances import Ints
from ..adjustment import Adjustment
from ..cliques import WIDE
from .edge_tests import EdgeTests, judge_of
from .shifts import of_nodes, some_of
from .touching import couplings, touched
from .verdicts import part, stacked

PLACE, HEIGHT = "set-up, place and height", "set-up height"
"""What workers call the tests that they leave."""


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
    return EdgeTests(edges[order], np.full(len(edges), np.nan), together)


def formed(adjustment: Adjustment, used: Ints) -> SetUpTests:
    """Return the tests of some set-ups, formed from covariances.

    Parameters
    ----------
    adjustment : Adjustment
    used : ndarray of int, shape (k,)
    """
    judge, count = judge_of(adjustment), len(used)
    nodes = len(adjustment.network.marks) + used
    found = of_nodes(adjustment, nodes, np.arange(count), count)
    height = part(found, [2])
    seen = np.flatnonzero(height.components.any(axis=1))
    none = np.full(count, np.nan)
    return SetUpTests(
        EdgeTests(used, none, judge(found)),
        EdgeTests(used[seen], none[seen], judge(some_of(height, seen))),
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
