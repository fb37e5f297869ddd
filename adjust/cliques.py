"""Unknowns whose covariances a possible blunder needs though no observation joins them.

A shift of all that was observed from one node moves its neighbours together. The
pattern of the inverse is widened by them, so that no equation is solved for a test.
"""

from collections.abc import Sequence

import numpy as np

from ..networks import Network
from ..networks.covariances import Bools, Ints
from ..networks.distinct import distinct
from .datum import Datum
from .equations import Equations
from .normal import Whitened

WIDE = 90
"""Unknowns up to which covariances are read; for more, equations are solved."""


def cause_cliques(
    network: Network,
    hold: Datum,
    columns: Ints,
    system: Sequence[Equations],
    rows: Sequence[Whitened],
) -> list[Ints]:
    """Return the unknowns around each node that may be wrong by itself, (k, w) arrays.

    Of set-ups, of rounds by their orientations, of sessions, and of held marks with
    all that stands over them.

    Parameters
    ----------
    network : Network
    hold : Datum
    columns : ndarray of int, shape (N + q, 3)
    system, rows : sequences of Equations and Whitened
    """
    marks, places = len(network.marks), len(network.marks) + len(network.set_ups)
    group = np.full(len(columns) + 1, -1)
    group[marks:places] = np.arange(places - marks)
    circles = np.array([kind == "orientation" for kind in network.parameters.kind])
    group[places:-1][circles.astype(bool)] = places - marks + np.arange(circles.sum())
    made = padded_columns(system, rows, group, places - marks + int(circles.sum()))
    made += _of_sessions(network, rows)
    group[:] = -1
    held = np.flatnonzero(hold.held_marks(network).any(axis=1))
    if hold.mode == "constrained" and len(held):
        # Held marks have no column, so that nothing else joins their neighbours.
        number = np.full(marks, -1)
        number[held] = np.arange(len(held))
        group[:places] = number[network.mark_of(np.arange(places))]
        made += padded_columns(system, rows, group, len(held))
    return made


def _of_sessions(network: Network, rows: Sequence[Whitened]) -> list[Ints]:
    """Return the unknowns that the vectors of each session have."""
    session, count = network.vectors.session, len(network.sessions)
    keys, wide = [np.zeros(0, dtype=np.int64)], 1
    batches = [batch for batch in rows if batch.kind == "baseline"]
    wide += max((int(batch.columns.max(initial=-1)) for batch in batches), default=0)
    for batch in batches:
        of = session[batch.members[:, 0]]
        key = of[:, None] * wide + batch.columns
        keys.append(distinct(key[(batch.columns >= 0) & (of >= 0)[:, None]]))
    every = distinct(np.concatenate(keys))
    return _padded(every // wide, every % wide, count)


def padded_columns(
    system: Sequence[Equations], rows: Sequence[Whitened], group: Ints, count: int
) -> list[Ints]:
    """Return the unknowns that observations at groups of nodes have, a row a group.

    Groups with more than ``WIDE`` are left out, and those that one cluster of
    observations alone has: they are joined already.

    Parameters
    ----------
    system, rows : sequences of Equations and Whitened
    group : ndarray of int, shape (N + q + 1,)
        Group of each node, −1 for none; one more for node −1.
    count : int
        How many groups there are.
    """
    kinds = {some.kind: some for some in system}
    seen = np.zeros(count, dtype=np.int64)
    pairs = []
    for batch in rows:
        if batch.kind == "set-up":
            continue
        nodes = kinds[batch.kind].node[batch.members].reshape(len(batch.members), -1)
        c, slot = np.nonzero(group[nodes] >= 0)
        key = distinct(c * count + group[nodes[c, slot]])
        c, of = key // max(count, 1), key % max(count, 1)
        seen += np.bincount(of, minlength=count)
        pairs.append((batch, c, of))
    keys = [np.zeros(0, dtype=np.int64)]
    wide = 1 + max((int(batch.columns.max(initial=-1)) for batch in rows), default=0)
    for batch, c, of in pairs:
        some = seen[of] > 1
        at = batch.columns[c[some]]
        key = of[some][:, None] * wide + at
        keys.append(distinct(key[at >= 0]))
    every = distinct(np.concatenate(keys))
    return _padded(every // wide, every % wide, count)


def _padded(of: Ints, column: Ints, count: int) -> list[Ints]:
    """Return the columns of each group in rows of equal length, −1 at the end."""
    size = np.bincount(of, minlength=count)
    place = np.arange(len(of)) - (np.cumsum(size) - size)[of]
    made = []
    low = 0
    for high in (12, 24, 48, WIDE):
        some: Bools = (size > low) & (size <= high)
        if some.any():
            number = np.cumsum(some) - 1
            rows = np.full((int(some.sum()), high), -1)
            here = some[of]
            rows[number[of[here]], place[here]] = column[here]
            made.append(rows)
        low = high
    return made
