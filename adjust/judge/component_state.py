"""Rows that share multipliers, and how their residuals stand with given ones."""

from dataclasses import dataclass
from typing import Protocol

import numpy as np

from ...networks.covariances import Floats, Ints
from ..normal import Whitened


@dataclass(frozen=True, slots=True)
class Stack:
    """Clusters of equal size that have the same components in the same rows."""

    label: Ints
    """(q,) component of each row in its own axes; −1 where nothing is estimated."""
    root: Floats
    """(c, q, q) from rows in their own axes to whitened rows."""
    back: Floats
    """(c, q, q) its inverse."""
    rows: Whitened
    """With the covariances as stated."""

    @property
    def components(self) -> list[int]:
        """Numbers of the components that rows are of."""
        return [k for k in sorted(set(self.label.tolist())) if k >= 0]

    def share(self, component: int) -> Floats:
        """Return (c, q, q) how the covariance of whitened rows changes with log f²."""
        at = self.label == component
        part = self.root[:, :, at] @ self.back[:, at]
        return np.asarray((part + np.swapaxes(part, 1, 2)) / 2)

    def rescaled(self, log_variance: Floats) -> Whitened:
        """Return the rows whitened by multiplied covariances.

        Parameters
        ----------
        log_variance : ndarray, shape (K,)
            log f² of each component.
        """
        rows, turn = self.rows, self.turn(log_variance)
        return Whitened(
            rows.kind,
            rows.members,
            rows.lower,
            turn @ rows.design,
            np.einsum("cqr,cr->cq", turn, rows.misclosure),
            rows.columns,
        )

    def turn(self, log_variance: Floats) -> Floats:
        """Return (c, q, q) what whitens whitened rows again, once multiplied."""
        inverse_root = np.append(np.exp(-log_variance / 2), 1.0)
        return np.asarray((self.root * inverse_root[self.label]) @ self.back)

    def squares(self, left: Floats) -> Floats:
        """Return (q,) what residuals add to vᵀPv, row by row in their own axes.

        Parameters
        ----------
        left : ndarray, shape (c, q)
            Whitened.
        """
        pulled = np.einsum("cqr,cq->cr", self.root, left)
        turned = np.einsum("crq,cq->cr", self.back, left)
        return np.asarray((pulled * turned).sum(axis=0))


@dataclass(frozen=True, slots=True)
class State:
    """How residuals stand with given multipliers."""

    square_sum: Floats
    """(K,) vᵀPv of each component, with these multipliers."""
    redundancy: Floats
    """(K,) trace of QvP over its rows; all rows together: the degrees of freedom."""
    information: Floats
    """(K, K) of log f²."""
    criterion: float
    """−2 log of the restricted likelihood, but for what no multiplier changes."""
    informed_at: Floats
    """(K,) log f² for which the information was worked out."""


class System(Protocol):
    """Rows and their unknowns, solved again with any multipliers."""

    def state(self, log_variance: Floats, like: State | None = None) -> State:
        """Return how the residuals stand.

        Parameters
        ----------
        log_variance : ndarray, shape (K,)
        like : State, optional
            Whose information will do, where it costs much to work it out anew.
        """
