"""Covariances of GNSS vectors: their own, between those of a session, multiplied."""

from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from ....networks.covariances import Batch, Covariances, Floats, Ints, clustered
from ....networks.findings import Finding
from ..job import Group
from ..table import Table
from .cross import Blocks, CrossBlock, in_axes
from .uncertainty import SIX, from_sds, symmetric

_LEVEL_SIX = ("cov_ee", "cov_en", "cov_eu", "cov_nn", "cov_nu", "cov_uu")


def own_covariance(table: Table, axes: Floats) -> Floats:
    """Return (n, 3, 3) covariance in cartesian axes, NaN where none is booked."""
    ways = [
        symmetric(table, SIX),
        from_sds(table, ("sd_x", "sd_y", "sd_z"), ("corr_xy", "corr_xz", "corr_yz")),
    ]
    level = [
        symmetric(table, _LEVEL_SIX),
        from_sds(table, ("sd_e", "sd_n", "sd_u"), ("corr_en", "corr_eu", "corr_nu")),
    ]
    ways += [np.swapaxes(axes, 1, 2) @ way @ axes for way in level]
    own = np.full((len(table), 3, 3), np.nan)
    for way in ways:
        fresh = np.isnan(own).any(axis=(1, 2)) & np.isfinite(way).all(axis=(1, 2))
        own[fresh] = way[fresh]
    return own


def covariances_in_use(
    table: Table,
    keep: Ints,
    own: Floats,
    blocks: Blocks,
    axes: Floats,
    groups: Mapping[str, Group],
) -> Covariances:
    """Return the covariances of the rows kept, multiplied as their groups say."""
    place = {int(i): k for k, i in enumerate(keep)} if blocks else {}
    cross = {}
    for (i, j), block in blocks.items():
        whole = np.isfinite(block.covariance).all()
        if i != j and i in place and j in place and whole:
            turned = in_axes(block, axes[i], axes[j], level=False)
            cross[place[i], place[j]] = turned
    covariances, _ = clustered(own[keep], cross)
    factors = multipliers(table, groups)[keep]
    if (factors == 1.0).all():
        return covariances
    scale = np.swapaxes(axes[keep], 1, 2) @ (factors[:, :, None] * axes[keep])
    return scaled(covariances, scale)


def multipliers(table: Table, groups: Mapping[str, Group]) -> Floats:
    """Return (n, 3) factors of the standard deviations in east, north, up.

    Rows without a group are in the group of their table's name.
    """
    names, factors = table.word("group"), np.ones((len(table), 3))
    for name, group in groups.items():
        plan, height = group.sd_multiplier_plan, group.sd_multiplier_height
        if (plan, height) != (1.0, 1.0):
            # A row that books the table's name is in the same group.
            of_group = (names == name) | ((names == "") & (name == table.name))
            factors[of_group] = plan, plan, height
    return factors


def scaled(covariances: Covariances, scale: Floats) -> Covariances:
    """Return covariances with each observation's rows multiplied by a matrix.

    Parameters
    ----------
    covariances : tuple of Batch
    scale : ndarray, shape (n, 3, 3)
        Standard deviations are multiplied, in whatever axes: S C Sᵀ.
    """
    batches = []
    for batch in covariances:
        c, s = batch.members.shape
        tiles = batch.matrix.reshape(c, s, 3, s, 3)
        left = scale[batch.members]
        tiles = np.einsum("csij,csjtk,ctlk->csitl", left, tiles, left)
        batches.append(Batch(batch.members, tiles.reshape(c, s * 3, s * 3)))
    return tuple(batches)


def incomplete_sessions(table: Table, blocks: Blocks) -> list[Finding]:
    """Return the sessions of which some cross covariances are given, but not all."""
    found = []
    session = table.word("session")
    sets: dict[str, list[tuple[int, int]]] = {}
    for i, j in blocks:
        if i != j:
            name = str(session[i]) if session[i] == session[j] else ""
            sets.setdefault(name, []).append((i, j))
    for name, given in sets.items():
        rows = np.flatnonzero(session == name).tolist() if name else []
        pairs = [(i, j) for k, i in enumerate(rows) for j in rows[k + 1 :]]
        lacking = [pair for pair in pairs if pair not in blocks]
        short = [pair for pair in given if np.isnan(blocks[pair].covariance).any()]
        if lacking or short:
            block = blocks[given[0]]
            found.append(_lacks(block, table, name, lacking, short))
    return found


def sessions_without(table: Table, blocks: Blocks) -> list[Finding]:
    """Return a note of the sessions whose vectors have no covariance between them.

    Vectors that were computed together share observations; booked without what they
    have in common they count as independent.
    """
    session = table.word("session")
    names, counts = np.unique(session.astype(str), return_counts=True)
    given = {str(session[i]) for i, j in blocks if i != j}
    lacking = [
        str(name)
        for name, count in zip(names, counts, strict=True)
        if name and count > 1 and str(name) not in given
    ]
    if not lacking:
        return []
    some = ", ".join(lacking[:5]) + (
        f" and {len(lacking) - 5} more" * (len(lacking) > 5)
    )
    row = int(np.flatnonzero(session == lacking[0])[0])
    return [
        replace(
            table.finding(
                "covariance-not-given",
                "note",
                row,
                ("session",),
                against=f"covariances between the vectors of session {some}; none is "
                "given, and they are taken as independent",
                mend="export the sessions with them into covariances.csv, if they "
                "were computed together",
            ),
            about=f"session {some}",
        )
    ]


def _lacks(
    block: CrossBlock,
    table: Table,
    session: str,
    lacking: list[tuple[int, int]],
    short: list[tuple[int, int]],
) -> Finding:
    names = table.word("baseline")
    shown = ", ".join(f"{names[i]} – {names[j]}" for i, j in (lacking + short)[:5])
    what = [f"{_pairs(lacking)} not given"] if lacking else []
    what += [f"{_pairs(short)} with fewer than nine values"] if short else []
    of_session = f"session {session}" if session else "vectors of different sessions"
    return Finding(
        "session-covariance-incomplete",
        "fault",
        of_session,
        file=block.file,
        row=block.row,
        line=block.line,
        column="cov",
        booked=f"{', '.join(what)}: {shown}",
        against="all pairs of a session or none, nine values a pair",
        mend="give them all, zero where there is none, or give none",
    )


def _pairs(some: list[tuple[int, int]]) -> str:
    return "1 pair" if len(some) == 1 else f"{len(some)} pairs"
