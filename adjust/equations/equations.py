"""The linearised equations of one kind of edge."""

from dataclasses import dataclass

import numpy as np

from ...networks.covariances import Batch, Bools, Covariances, Floats, Ints


@dataclass(frozen=True, slots=True)
class Equations:
    """m edges of one kind, r rows each, touching at most k nodes.

    A row that is not active (a plan-only position has no height row) stays in the
    arrays with zero design and misclosure and unit variance, so that shapes are
    regular; it counts nowhere.
    """

    kind: str
    misclosure: Floats
    """(m, r) observed minus computed, m."""
    design: Floats
    """(m, r, k, 3) partials with respect to east, north, up of each node."""
    node: Ints
    """(m, k) node numbers; −1 for none."""
    active: Bools
    """(m, r)"""
    covariances: Covariances
    """m²; an edge in no batch is not in use."""

    @property
    def used(self) -> Bools:
        """(m,) whether the edge is in a batch."""
        used = np.zeros(len(self.node), dtype=bool)
        for batch in self.covariances:
            used[batch.members] = True
        return used


def masked(covariances: Covariances, active: Bools) -> Covariances:
    """Return the covariances with unit variance in rows that are not active.

    Examples
    --------
    >>> batch = Batch(np.array([[0]]), np.array([[[4.0, 1.0], [1.0, np.nan]]]))
    >>> masked((batch,), np.array([[True, False]]))[0].matrix.tolist()
    [[[4.0, 0.0], [0.0, 1.0]]]
    """
    if active.all():
        return covariances
    made = []
    for batch in covariances:
        on = active[batch.members].reshape(len(batch.members), -1)
        some = np.flatnonzero(~on.all(axis=1))
        both = on[some][:, :, None] & on[some][:, None, :]
        matrix = batch.matrix.copy()
        matrix[some] = np.where(both, matrix[some], np.eye(on.shape[1]))
        made.append(Batch(batch.members, matrix))
    return tuple(made)
