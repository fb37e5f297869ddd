"""A part of a network by itself: the rest folded into what it says of the part's edge.

Unknowns of the rest are eliminated: S = N_kk − N_ko N_oo⁻¹ N_ok stands for all of its
observations, so that what is switched inside the part has its full effect there.
"""

from collections.abc import Collection, Sequence
from dataclasses import dataclass

import numpy as np

from ...networks.covariances import Floats, Ints
from ..adjustment import Adjustment
from .block import Block


@dataclass(frozen=True, slots=True)
class Rest:
    """What the rest of a network says of the k unknowns that it shares with a part.

    Its weighted square sum, where these shift by x, is c − 2 rᵀx + xᵀSx.
    """

    columns: Ints
    """(k,) of the adjustment."""
    matrix: Floats
    """(k, k) S."""
    right: Floats
    """(k,) r."""
    vtpv: float
    """c."""
    rows: int
    """Observed components less unknowns of its own."""


def parted(
    adjustment: Adjustment, blocks: Sequence[Block], chosen: Collection[int]
) -> tuple[list[Block], Rest]:
    """Return the blocks that touch chosen marks alone, and what the others say.

    Parameters
    ----------
    adjustment : Adjustment
    blocks : sequence of Block
        Of the adjustment.
    chosen : collection of int
        Marks.

    Returns
    -------
    inside : list of Block
    rest : Rest
    """
    inside: list[Block] = []
    outside: list[Block] = []
    wanted = set(chosen)
    for block in blocks:
        marks = {mark for one in block.observations for mark in one.nodes}
        # What touches no mark, a parameter's own prior, goes with the rest.
        (inside if marks and marks <= wanted else outside).append(block)
    kept = {c for block in inside for c in block.columns.tolist()}
    own = adjustment.columns[sorted(wanted)].ravel()
    return inside, said_by(outside, kept | set(own[own >= 0].tolist()))


def said_by(blocks: Sequence[Block], kept: Collection[int]) -> Rest:
    """Return blocks with all unknowns eliminated but those that are kept.

    Parameters
    ----------
    blocks : sequence of Block
    kept : collection of int
        Columns.
    """
    from scipy.sparse import coo_matrix
    from scipy.sparse.linalg import splu

    columns = sorted({c for block in blocks for c in block.columns.tolist()})
    place = {c: k for k, c in enumerate(columns)}
    at, values, right = [], [], np.zeros(len(columns))
    vtpv, rows = 0.0, 0
    for block in blocks:
        weighted = np.linalg.solve(
            block.whole, np.column_stack([block.design, block.misclosure])
        )
        where = np.array([place[c] for c in block.columns.tolist()], dtype=np.int64)
        values.append((block.design.T @ weighted[:, :-1]).ravel())
        size = len(where)
        at.append(np.stack([np.repeat(where, size), np.tile(where, size)]))
        right[where] += block.design.T @ weighted[:, -1]
        vtpv += float(block.misclosure @ weighted[:, -1])
        rows += len(block.misclosure)
    edge = np.array([k for k, c in enumerate(columns) if c in kept], dtype=np.int64)
    own = np.array([k for k, c in enumerate(columns) if c not in kept], dtype=np.int64)
    if not columns:
        return Rest(edge, np.zeros((0, 0)), right, 0.0, 0)
    both = np.concatenate(at, axis=1)
    normal = coo_matrix((np.concatenate(values), (both[0], both[1]))).tocsc()
    matrix, reduced = normal[edge][:, edge].toarray(), right[edge]
    if len(own):
        across = normal[own][:, edge].toarray()
        solver = splu(normal[own][:, own])
        solved = solver.solve(np.column_stack([across, right[own]]))
        matrix = matrix - across.T @ solved[:, :-1]
        reduced = reduced - across.T @ solved[:, -1]
        vtpv -= float(right[own] @ solved[:, -1])
    return Rest(
        np.array([columns[k] for k in edge.tolist()], dtype=np.int64),
        (matrix + matrix.T) / 2,
        reduced,
        vtpv,
        rows - len(own),
    )


def neighbourhood(adjustment: Adjustment, count: int) -> Ints:
    """Return the worst placed mark and those nearest to it, (count,) in order.

    The worst placed is the one with the largest variance of its estimated components.

    Parameters
    ----------
    adjustment : Adjustment
    count : int
    """
    marks = np.arange(len(adjustment.network.marks))
    spread = np.einsum("nii->n", adjustment.covariance(marks, marks))
    placed = adjustment.estimated.any(axis=1)
    worst = int(np.argmax(np.where(placed, spread, -1.0)))
    places = adjustment.nodes.xyz[: len(marks)]
    far = np.linalg.norm(places - places[worst], axis=1)
    near: Ints = np.argsort(far, kind="stable")[:count]
    return np.sort(near)
