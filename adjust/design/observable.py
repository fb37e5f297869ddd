"""Observations that could be made, as rows on the marks of a solution.

Set-ups are fresh ones: their noise is folded into the rows, which is the same as
setting up a node for each and eliminating it.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ...networks.covariances import Floats
from ..adjustment import Adjustment


@dataclass(frozen=True, slots=True)
class Observable:
    """One thing that could be observed: r rows on w marks."""

    kind: str
    """``baseline``, ``position``, ``total-station round`` or ``levelling run``."""
    marks: tuple[int, ...]
    """(w,) in the order of the partials."""
    design: Floats
    """(r, 3 w) with respect to east, north, up of each mark."""
    covariance: Floats
    """(r, r) with the noise of fresh set-ups."""
    name: str = ""
    """Of the proposal; empty where nobody proposed it."""


def vector(
    adjustment: Adjustment,
    start: int,
    end: int,
    sd: tuple[float, float],
    set_up: tuple[float, float],
    name: str = "",
) -> Observable:
    """Return a GNSS vector between two marks, in east, north, up at its start.

    Parameters
    ----------
    adjustment : Adjustment
    start, end : int
        Marks.
    sd : tuple of float
        Plan per axis, and height, m.
    set_up : tuple of float
        Centring per axis, and height, of the set-up at each end, m.
    name : str, optional

    Returns
    -------
    Observable
    """
    turn = _turn(adjustment, start, end)
    design = np.concatenate([-np.eye(3), turn], axis=1)
    stand = np.diag([set_up[0], set_up[0], set_up[1]]) ** 2
    own = np.diag([sd[0], sd[0], sd[1]]) ** 2
    covariance = own + stand + turn @ stand @ turn.T
    return Observable("baseline", (start, end), design, covariance, name)


def session(
    adjustment: Adjustment,
    marks: Sequence[int],
    sds: Sequence[tuple[float, float]],
    set_up: tuple[float, float],
    name: str = "",
) -> Observable:
    """Return the vectors of a session, from its first mark to each other.

    They share the first set-up, and half the variance of each is the first receiver's,
    which all share (receivers as good as one another).

    Parameters
    ----------
    adjustment : Adjustment
    marks : sequence of int
        Two at the least.
    sds : sequence of tuple of float
        Of each vector: plan per axis, and height, m.
    set_up : tuple of float
        Centring per axis, and height, of every set-up, m.
    name : str, optional

    Returns
    -------
    Observable
    """
    count, first = len(marks) - 1, marks[0]
    design = np.zeros((3 * count, 3 * (count + 1)))
    own = np.array([[plan, plan, height] for plan, height in sds])
    stand = np.array([set_up[0], set_up[0], set_up[1]])
    design[:, :3] = np.tile(-np.eye(3), (count, 1))
    for k, other in enumerate(marks[1:]):
        rows = slice(3 * k, 3 * k + 3)
        design[rows, 3 * k + 3 : 3 * k + 6] = _turn(adjustment, first, other)
    shared = (np.ones((count, count)) + np.eye(count)) / 2
    wide = own.ravel()
    same = np.kron(np.ones((count, count)), np.eye(3))
    covariance = np.kron(shared, np.ones((3, 3))) * np.outer(wide, wide) * same
    covariance += np.kron(np.ones((count, count)), np.diag(stand**2))
    for k in range(count):
        rows = slice(3 * k, 3 * k + 3)
        turn = design[rows, 3 * k + 3 : 3 * k + 6]
        covariance[rows, rows] += turn @ np.diag(stand**2) @ turn.T
    return Observable("baseline", tuple(marks), design, covariance, name)


def position(
    mark: int, sd: tuple[float, float], set_up: tuple[float, float], name: str = ""
) -> Observable:
    """Return a position of a mark from outside the network.

    Parameters
    ----------
    mark : int
    sd, set_up : tuple of float
        Plan per axis, and height, m.
    name : str, optional

    Returns
    -------
    Observable

    Examples
    --------
    >>> position(4, (0.01, 0.02), (0.0, 0.0)).covariance.diagonal().tolist()
    [0.0001, 0.0001, 0.0004]
    """
    variances = np.array([sd[0], sd[0], sd[1]]) ** 2
    variances += np.array([set_up[0], set_up[0], set_up[1]]) ** 2
    return Observable("position", (mark,), np.eye(3), np.diag(variances), name)


def levelling(
    adjustment: Adjustment, start: int, end: int, sd: float, name: str = ""
) -> Observable:
    """Return a levelled height difference between two marks.

    Parameters
    ----------
    adjustment : Adjustment
    start, end : int
        Marks.
    sd : float
        m.
    name : str, optional

    Returns
    -------
    Observable
    """
    turn = _turn(adjustment, start, end)
    row = np.concatenate([[0.0, 0.0, -1.0], turn[2]])[None]
    return Observable("levelling run", (start, end), row, np.array([[sd**2]]), name)


def total_station_round(
    adjustment: Adjustment,
    at: int,
    targets: Sequence[int],
    sd: tuple[float, float, float, float],
    set_up: tuple[float, float],
    name: str = "",
) -> Observable:
    """Return a round of directions, zenith angles and distances from one mark.

    Three rows a target, as lengths: along the line, across it, and up. All directions
    share an orientation that nobody knows, so that one target alone says nothing
    across the line.

    Parameters
    ----------
    adjustment : Adjustment
    at : int
        Mark of the instrument.
    targets : sequence of int
        Marks.
    sd : tuple of float
        Direction and zenith angle (rad), distance (m and m per m).
    set_up : tuple of float
        Centring per axis, and height, of instrument and of each target, m.
    name : str, optional

    Returns
    -------
    Observable
    """
    xyz, axes = adjustment.nodes.xyz, adjustment.nodes.axes
    count = len(targets)
    design = np.zeros((3 * count, 3 * (count + 1)))
    variances, arms = np.zeros(3 * count), np.zeros(3 * count)
    common = np.zeros((3 * count, 3))
    for k, target in enumerate(targets):
        line = axes[at] @ (xyz[target] - xyz[at])
        level = float(np.hypot(line[0], line[1]))
        along = np.array([line[0], line[1], 0.0]) / level
        rows = np.stack([along, [along[1], -along[0], 0.0], [0.0, 0.0, 1.0]])
        at_rows = slice(3 * k, 3 * k + 3)
        design[at_rows, :3] = -rows
        turned = rows @ _turn(adjustment, at, target)
        design[at_rows, 3 * k + 3 : 3 * k + 6] = turned
        length = float(np.linalg.norm(line))
        variances[at_rows] = [
            (sd[2] + sd[3] * length) ** 2 + set_up[0] ** 2,
            (level * sd[0]) ** 2 + set_up[0] ** 2,
            (length * sd[1]) ** 2 + set_up[1] ** 2,
        ]
        arms[3 * k + 1] = level
        common[at_rows] = rows
    own = np.diag([set_up[0] ** 2, set_up[0] ** 2, set_up[1] ** 2])
    covariance = np.diag(variances) + common @ own @ common.T
    # Rows that a turn of the circle does not change: the orientation is eliminated.
    still = np.linalg.qr(arms[:, None], mode="complete")[0][:, 1:].T
    return Observable(
        "total-station round",
        (at, *targets),
        still @ design,
        still @ covariance @ still.T,
        name,
    )


def _turn(adjustment: Adjustment, start: int, end: int) -> Floats:
    """Return what takes east, north, up at the end to those at the start."""
    axes = adjustment.nodes.axes
    turn: Floats = axes[start] @ axes[end].T
    return turn
