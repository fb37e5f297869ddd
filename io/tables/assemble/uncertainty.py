"""Booked uncertainties of coordinates, as covariance in east, north, up."""

import numpy as np

from ....networks.covariances import Bools, Floats
from ....networks.findings import Finding
from ....networks.frames import Frame
from ..table import Table

NORMAL_95 = 1.959964
"""Two-sided 95 % of the normal distribution, one component (NIST/SEMATECH
e-Handbook, 1.3.6.7.1)."""

SIX = ("cov_xx", "cov_xy", "cov_xz", "cov_yy", "cov_yz", "cov_zz")


def symmetric(table: Table, names: tuple[str, ...]) -> Floats:
    """Return (n, 3, 3) from six columns: 11, 12, 13, 22, 23, 33; NaN where empty."""
    six = np.stack([table.number(name) for name in names], axis=-1)
    order = [0, 1, 2, 1, 3, 4, 2, 4, 5]
    return six[:, order].reshape(-1, 3, 3)


def from_sds(
    table: Table, sds: tuple[str, str, str], correlations: tuple[str, str, str]
) -> Floats:
    """Return (n, 3, 3) from sd columns and correlations 12, 13, 23 (empty = 0)."""
    sd = np.stack([table.number(name) for name in sds], axis=-1)
    rho = np.zeros((len(table), 3, 3))
    for name, (i, j) in zip(correlations, ((0, 1), (0, 2), (1, 2)), strict=True):
        rho[:, i, j] = rho[:, j, i] = np.nan_to_num(table.number(name))
    rho[:, [0, 1, 2], [0, 1, 2]] = 1.0
    return rho * sd[:, :, None] * sd[:, None, :]


def place_covariance(table: Table, frame: Frame, xyz: Floats) -> Floats:
    """Return the covariance of booked coordinates in east, north, up.

    Parameters
    ----------
    table : Table
        With sd columns, or six covariances of geocentric coordinates.
    frame : Frame
    xyz : ndarray, shape (n, 3)
        Where the rows are, m; NaN where not known (then a six cannot be turned).

    Returns
    -------
    ndarray, shape (n, 3, 3)
        m²; NaN in the rows and columns of a component without a stated one.
    """
    order = ("sd_east", "sd_north", "sd_height")
    corr = ("corr_north_east", "corr_east_height", "corr_north_height")
    booked = from_sds(table, order, corr)
    level = table.word("stated_at") == "95 %"
    booked[level] /= NORMAL_95**2
    known = np.isfinite(xyz).all(axis=1)
    on_grid = (table.word("sd_axes") == "grid") & known
    if on_grid.any():
        turn = grid_turn(frame, xyz[on_grid])
        booked[on_grid] = turned(booked[on_grid], turn)
    six = symmetric(table, SIX)
    geocentric = np.isfinite(six).all(axis=(1, 2)) & known
    if geocentric.any():
        axes = frame.axes(xyz[geocentric])
        booked[geocentric] = axes @ six[geocentric] @ np.swapaxes(axes, 1, 2)
    return booked


def turned(covariance: Floats, turn: Floats) -> Floats:
    """Return covariances turned about the vertical, without losing what is stated.

    A height without an uncertainty is NaN and must not spread to the plan.
    """
    unknown = np.isnan(np.diagonal(covariance, axis1=1, axis2=2))
    hole = unknown[:, :, None] | unknown[:, None, :]
    filled = np.where(hole, 0.0, covariance)
    result = turn @ filled @ np.swapaxes(turn, 1, 2)
    plan = unknown[:, 0] | unknown[:, 1]
    lost = np.stack([plan, plan, unknown[:, 2]], axis=-1)
    return np.where(lost[:, :, None] | lost[:, None, :], np.nan, result)


def grid_turn(frame: Frame, xyz: Floats) -> Floats:
    """Return (n, 3, 3) that turns grid east, north, up into the local axes.

    The grid's north is found by going a metre north on the grid; its angle from true
    north, positive eastwards, is the convergence. On a conformal map, east follows.
    """
    places = frame.grid(xyz)
    north, east, height = places.T
    step = frame.place(north + 1.0, east, height) - xyz
    local = np.einsum("nij,nj->ni", frame.axes(xyz), step)
    angle = np.arctan2(local[:, 0], local[:, 1])
    turn = np.zeros((len(xyz), 3, 3))
    turn[:, 0, 0] = turn[:, 1, 1] = np.cos(angle)
    turn[:, 0, 1], turn[:, 1, 0] = np.sin(angle), -np.sin(angle)
    turn[:, 2, 2] = 1.0
    return turn


def note_95(table: Table) -> list[Finding]:
    """Return one note where standard deviations were booked at 95 %."""
    rows = np.flatnonzero(table.word("stated_at") == "95 %")
    if not len(rows):
        return []
    return [
        table.finding_of(
            "sd-from-95",
            "note",
            rows,
            f"rows of {table.name}.csv",
            "stated_at",
            "stated_at 95 %",
            against=f"divided by {NORMAL_95}, the 95 % of one component (common "
            "practice; a 95 % circle would need another figure)",
        )
    ]


def stated_parts(covariance: Floats) -> Bools:
    """Return (n, 2): whether plan, and height, have a stated uncertainty."""
    own = np.isfinite(np.diagonal(covariance, axis1=1, axis2=2))
    return np.stack([own[:, 0] & own[:, 1], own[:, 2]], axis=-1)
