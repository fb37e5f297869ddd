"""Observations in blocks on marks alone, and the normal equations of some blocks."""

from dataclasses import dataclass

import numpy as np

from ...networks.covariances import Floats, Ints


@dataclass(frozen=True, slots=True)
class Folded:
    """One observation in a block."""

    kind: str
    name: str
    row: int
    """Of its table; 0 for none."""
    first: int
    """Where its rows start in the block."""
    count: int
    turn: Floats
    """(count, p) what a shift in its own amounts (east, north, up of a vector; the
    value of a reading) does to its rows."""
    nodes: tuple[int, ...]
    """Marks it touches."""
    session: int
    group: int
    edge: int = -1
    """Its number among those of its kind."""
    axes: tuple[int, ...] = ()
    """Which of the kind's components its rows are."""
    set_ups: tuple[int, ...] = ()
    """Set-ups it was observed from or to, exact ones too."""


@dataclass(frozen=True, slots=True)
class Stand:
    """A set-up in a block: its effect on the rows, and how well it stands."""

    set_up: int
    effect: Floats
    """(r, 3) of a shift east, north, up of the set-up on the computed rows."""
    sd: Floats
    """(3,) m."""


@dataclass(frozen=True, slots=True)
class Block:
    """Rows that are correlated: a session, all from one instrument set-up."""

    observations: tuple[Folded, ...]
    columns: Ints
    """(k,) unknowns."""
    design: Floats
    """(r, k)."""
    covariance: Floats
    """(r, r) as booked, without set-ups."""
    stands: tuple[Stand, ...]
    misclosure: Floats
    """(r,) minus the residuals at the solution."""

    @property
    def whole(self) -> Floats:
        """(r, r) covariance with the set-ups folded in."""
        made = self.covariance.copy()
        for stand in self.stands:
            half = stand.effect * stand.sd
            made += half @ half.T
        return made


def unfolded(blocks: list[Block], unknowns: int) -> tuple[Floats, Floats]:
    """Return normal matrix and right side of blocks: what the page starts from.

    Parameters
    ----------
    blocks : list of Block
    unknowns : int

    Returns
    -------
    matrix : ndarray, shape (u, u)
    right_side : ndarray, shape (u,)
    """
    matrix, right = np.zeros((unknowns, unknowns)), np.zeros(unknowns)
    for block in blocks:
        weighted = np.linalg.solve(block.whole, block.design)
        at = np.ix_(block.columns, block.columns)
        matrix[at] += block.design.T @ weighted
        right[block.columns] += weighted.T @ block.misclosure
    return matrix, right
