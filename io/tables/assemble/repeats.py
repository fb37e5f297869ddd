"""Positions of one mark close in time: one observation, partly dependent, or two.

The errors of real-time positions stay alike for some 17 minutes in plan and 36 in
height (Odolinski, GPS Solutions, 2012): under 20 minutes apart they are one
observation, up to 45 partly dependent.
"""

from collections.abc import Container
from itertools import pairwise

import numpy as np

from ....networks.covariances import Bools, Floats, Ints
from ....networks.findings import Finding
from ....networks.positions_use import INDEPENDENT_MINUTES
from ..table import Table

DEPENDENT_MINUTES = 45.0


def merge_repeats(
    table: Table,
    names: list[str],
    node: Ints,
    mark: Ints,
    known: Bools,
    xyz: Floats,
    own: Floats,
    correlated: Container[int],
    used: Bools,
    findings: list[Finding],
) -> tuple[Floats, Floats, list[str], Bools]:
    """Return positions with those close in time meaned, and which rows are left.

    The mean is weighted by the variances of its members and kept with the larger of
    their covariances: what they have in common is not lessened by a repeat.

    Parameters
    ----------
    table : Table
        positions.
    names : list of str
    node, mark : ndarray of int, shape (n,)
    known : ndarray of bool, shape (n, 3)
        Components east, north, up.
    xyz : ndarray, shape (n, 3)
    own : ndarray, shape (n, 3, 3)
        Covariance in east, north, up, m².
    correlated : container of int
        Rows that have a covariance with others; they are not meaned.
    used : ndarray of bool, shape (n,)
        Rows that no decision leaves out.
    findings : list of Finding
        A note for what is meaned, a query for what is not, are added here.

    Returns
    -------
    xyz : ndarray, shape (n, 3)
    own : ndarray, shape (n, 3, 3)
    names : list of str
    left : ndarray of bool, shape (n,)
        False in rows that went into the mean of an earlier one.
    """
    xyz, own, names = xyz.copy(), own.copy(), list(names)
    left = np.ones(len(table), dtype=bool)
    for group in _close(table, mark, used):
        first = group[0]
        alike = (node[group] == node[first]).all() and not any(
            i in correlated for i in group
        )
        alike = alike and bool((known[group] == known[first]).all())
        sds = np.diagonal(own[group], axis1=1, axis2=2)[:, known[first]]
        if not (alike and (sds > 0).all()):
            findings += [_not_meaned(table, names, first, i) for i in group[1:]]
            continue
        findings.append(_meaned(table, names, group))
        xyz[first], own[first] = _mean(xyz[group], own[group], known[first])
        names[first] = " + ".join(names[i] for i in group)
        left[group[1:]] = False
    findings += _partly(table, names, mark, used & left)
    return xyz, own, names, left


def _in_time(table: Table, mark: Ints, used: Bools) -> list[int]:
    start = table.instant("start")
    rows = np.flatnonzero((mark >= 0) & used & ~np.isnat(start))
    return [int(i) for i in rows[np.lexsort((start[rows], mark[rows]))]]


def _minutes(table: Table, before: int, after: int) -> float:
    start = table.instant("start")
    return float((start[after] - start[before]) / np.timedelta64(1, "m"))


def _close(table: Table, mark: Ints, used: Bools) -> list[list[int]]:
    """Return rows of one mark that begin under 20 minutes after the first of them."""
    groups: list[list[int]] = []
    start = table.instant("start")
    limit = np.timedelta64(int(INDEPENDENT_MINUTES * 60), "s")
    for i in _in_time(table, mark, used):
        last = groups[-1] if groups else None
        if last and mark[last[0]] == mark[i] and start[i] - start[last[0]] < limit:
            last.append(i)
        else:
            groups.append([i])
    return [group for group in groups if len(group) > 1]


def _mean(xyz: Floats, own: Floats, known: Bools) -> tuple[Floats, Floats]:
    """Return the mean by inverse variances, and the largest covariance."""
    variance = np.diagonal(own, axis1=1, axis2=2)[:, known].mean(axis=1)
    weight = 1 / variance
    mean = (weight[:, None] * xyz).sum(axis=0) / weight.sum()
    return mean, own[int(np.argmax(variance))]


def _meaned(table: Table, names: list[str], group: list[int]) -> Finding:
    first, last = group[0], group[-1]
    minutes = _minutes(table, first, last)
    others = ", ".join(names[i] for i in group[1:])
    return table.finding(
        "positions-not-independent",
        "note",
        first,
        ("start",),
        against=f"{others}: {minutes:.0f} minutes later on the same mark; under "
        f"{INDEPENDENT_MINUTES:.0f} minutes they are one observation: their weighted "
        "mean, with the larger standard deviation",
        mend="observe again after 45 minutes or more",
    )


def _not_meaned(table: Table, names: list[str], first: int, i: int) -> Finding:
    return table.finding(
        "positions-not-independent",
        "query",
        i,
        ("start",),
        against=f"{names[first]}, {_minutes(table, first, i):.0f} minutes earlier on "
        f"the same mark; under {INDEPENDENT_MINUTES:.0f} minutes they are one "
        "observation, but set-up, components or covariances differ",
        mend="leave one out, or accept",
    )


def _partly(table: Table, names: list[str], mark: Ints, used: Bools) -> list[Finding]:
    found = []
    for before, after in pairwise(_in_time(table, mark, used)):
        minutes = _minutes(table, before, after)
        if mark[before] != mark[after]:
            continue
        if INDEPENDENT_MINUTES <= minutes < DEPENDENT_MINUTES:
            found.append(
                table.finding(
                    "positions-partly-dependent",
                    "query",
                    after,
                    ("start",),
                    against=f"{names[before]}, {minutes:.0f} minutes earlier on the "
                    f"same mark; under {DEPENDENT_MINUTES:.0f} minutes the two share "
                    "part of their errors",
                    mend="observe again after 45 minutes or more, or accept",
                )
            )
    return found
