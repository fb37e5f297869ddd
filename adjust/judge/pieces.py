"""The whitened columns of a blunder, cluster by cluster: of rows, and of nodes."""

from collections.abc import Iterator, Sequence

import numpy as np

from ...networks.covariances import Floats, Ints
from ..adjustment import Adjustment
from .shifts import SEEN, Edge, by_cluster

Place = tuple[Edge, int]
"""Batch and cluster with the inverse of its Cholesky factor, and the row's place."""


def places_of(
    adjustment: Adjustment, kind: str, edges: Ints | None = None
) -> dict[int, Place]:
    """Return where each edge of a kind, or some, stands among the whitened rows."""
    found: dict[int, Place] = {}
    for batch in adjustment.whitened:
        if batch.kind != kind:
            continue
        wanted = np.ones(batch.members.shape, dtype=bool)
        if edges is not None:
            wanted = np.isin(batch.members, edges)
        clusters = np.flatnonzero(wanted.any(axis=1))
        inverse = np.linalg.inv(batch.lower[clusters])
        at, places = np.nonzero(wanted[clusters])
        which = batch.members[clusters[at], places].tolist()
        for edge, n, k in zip(which, at.tolist(), places.tolist(), strict=True):
            found[edge] = ((batch, int(clusters[n]), inverse[n]), k)
    return found


def piece(place: Place, turned: Floats) -> Edge:
    """Return the whitened columns of a shift of one row of a cluster."""
    (batch, c, inverse), k = place
    rows = len(turned)
    return batch, c, inverse[:, k * rows : (k + 1) * rows] @ turned


def session_pieces(
    adjustment: Adjustment, place: dict[int, Place], rows: Ints
) -> Iterator[Edge]:
    """Yield the columns of all vectors of a session, each wrong in its own way."""
    (some,) = (e for e in adjustment.equations if e.kind == "baseline")
    active = np.flatnonzero(some.active[rows[0]])
    size = len(active)
    columns = []
    for k, row in enumerate(rows.tolist()):
        batch, c, column = piece(place[row], np.eye(3)[:, active])
        wide = np.zeros((len(column), size * len(rows)))
        wide[:, k * size : (k + 1) * size] = column
        columns.append((batch, c, wide))
    yield from by_cluster(columns)


def at_nodes(
    touching: dict[int, list[Edge]], nodes: Sequence[int]
) -> tuple[list[Edge], list[int]]:
    """Return the columns of nodes that move together, and which axes are seen."""
    edges = by_cluster(edge for node in nodes for edge in touching.get(node, ()))
    own = sum((np.sum(column**2, axis=0) for _, _, column in edges), np.zeros(3))
    seen = np.flatnonzero(own > SEEN * max(own.max(), 1e-300))
    # Booked too large by ∇ means that the node stood ∇ lower: C = −A.
    return [(batch, c, -column) for batch, c, column in edges], seen.tolist()


def some_columns(pieces: Sequence[Edge], kept: list[int]) -> tuple[Edge, ...]:
    """Return the columns along some axes alone."""
    return tuple((batch, c, column[:, kept]) for batch, c, column in pieces)
