"""What is known of a network, and what it would be with one observation more.

With a candidate's rows A, their covariance Q and the covariance C of the marks,
N = Q + A C Aᵀ, and C becomes C − C Aᵀ N⁻¹ A C: exact, without a new adjustment. A
blunder ∇ that moves the marks by B∇ and is checked by M shows in the new rows as A B∇:
M becomes M + (A B)ᵀ N⁻¹ (A B) and B becomes B − C Aᵀ N⁻¹ A B (sequential least squares;
any text, derived here).
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from ...networks.covariances import Bools, Floats, Ints
from ..adjustment import Adjustment
from ..judge.external import marks_follow
from ..judge.hypotheses import Hypothesis
from ..judge.shifts import SEEN
from ..judge.unseen import information_of
from .observable import Observable


@dataclass(frozen=True, slots=True)
class State:
    """m marks, P pairs and H possible blunders of at most three components.

    Blunders are measured against what their own rows know of them: a share of 1 is as
    good as that, 0 is unchecked. Components that a blunder lacks have a share of 1 and
    move nothing.
    """

    covariance: Floats
    """(3 m, 3 m) of east, north, up of the marks, m²."""
    ends: Ints
    """(P, 2) marks whose relative position matters; a first of −1: to the datum."""
    difference: Floats
    """(P, 3, 6) what makes it of both marks."""
    limit: Floats
    """(P, 2) limits in plan and in height, m; NaN for none."""
    multipliers: Floats
    """(P, 2) of the semi-major axis, and of the height's sd."""
    share: Floats
    """(H, 3, 3) how well the rest checks each blunder."""
    root: Floats
    """(H, 3, 3) shift in its own unit of a unit of share, columns."""
    moves: Floats
    """(H, 3 m, 3) how marks follow a unit of share, m."""
    hypotheses: tuple[Hypothesis, ...]
    metres: Bools
    """(H,) whether a blunder's components are lengths."""
    place: Ints
    """(M,) where each of the network's marks stands among the m that are kept here;
    −1 for one that is not."""

    def places(self, marks: Ints) -> Ints:
        """Return where marks stand among those kept; the last for −1, to no effect.

        Parameters
        ----------
        marks : ndarray of int

        Raises
        ------
        IndexError
            One of them is not kept.
        """
        found = np.where(marks < 0, 0, self.place[marks])
        if (found < 0).any():
            raise IndexError("a mark that the state does not keep")
        return np.asarray(found)

    @property
    def pairs(self) -> Floats:
        """(P, 3, 3) covariance of each pair, m²."""
        at = columns_of(self.places(self.ends))
        both = self.covariance[at[:, :, None], at[:, None, :]]
        made: Floats = self.difference @ both @ np.swapaxes(self.difference, 1, 2)
        return made


def state_of(
    adjustment: Adjustment,
    ends: Ints,
    limit: Floats,
    multipliers: Floats,
    hypotheses: Sequence[Hypothesis],
    marks: Ints | None = None,
) -> State:
    """Return what is known of a network before anything more is observed.

    Parameters
    ----------
    adjustment : Adjustment
        Minimal or constrained; the kept marks' covariance is formed whole.
    ends : ndarray of int, shape (P, 2)
        Marks whose relative position matters; −1 first: the second to the datum.
    limit : ndarray, shape (P, 2)
        m, in plan and height; NaN for none.
    multipliers : ndarray, shape (P, 2)
        Of a semi-major axis and of a height's sd, for the limits' confidence.
    hypotheses : sequence of Hypothesis
        Those of more than three components are left out.
    marks : ndarray of int, optional
        Those that are kept, ends and candidates among them; all if not given.

    Returns
    -------
    State
    """
    every = len(adjustment.network.marks)
    keep = np.arange(every) if marks is None else np.unique(marks)
    place = np.full(every, -1)
    place[keep] = np.arange(len(keep))
    axes = adjustment.nodes.axes
    columns = adjustment.columns[keep].ravel()
    turn = axes[ends[:, 0]] @ np.swapaxes(axes[ends[:, 1]], 1, 2)
    first = np.broadcast_to(-np.eye(3), turn.shape).copy()
    alone = ends[:, 0] < 0
    first[alone], turn[alone] = 0.0, np.eye(3)
    kept = [one for one in hypotheses if len(one.axes) <= 3]
    made = [_measured(adjustment, one, keep) for one in kept]
    return State(
        adjustment.factor.blocks(columns, columns),
        ends,
        np.concatenate([first, turn], axis=2),
        limit,
        multipliers,
        np.array([share for share, _, _ in made]).reshape(-1, 3, 3),
        np.array([root for _, root, _ in made]).reshape(-1, 3, 3),
        np.array([moves for _, _, moves in made]).reshape(-1, 3 * len(keep), 3),
        tuple(kept),
        np.array([one.measure == "m" for one in kept], dtype=bool),
        place,
    )


def columns_of(marks: Ints) -> Ints:
    """Return the rows of marks in a covariance, (…, 3 w) for (…, w) marks.

    Examples
    --------
    >>> columns_of(np.array([[0, 2]])).tolist()
    [[0, 1, 2, 6, 7, 8]]
    """
    at = 3 * marks[..., None] + np.arange(3)
    return np.asarray(at.reshape(*marks.shape[:-1], -1))


def _measured(
    adjustment: Adjustment, hypothesis: Hypothesis, keep: Ints
) -> tuple[Floats, Floats, Floats]:
    """Return share, root and moves of a blunder, filled up to three components."""
    own, at, coupling = information_of(hypothesis)
    size = len(own)
    lost = coupling.T @ adjustment.factor.blocks(at, at) @ coupling
    folded = np.linalg.solve(np.eye(size) + own @ hypothesis.noise, own)
    values, ways = np.linalg.eigh((folded + folded.T) / 2)
    real = values > SEEN * max(float(values.max(initial=0.0)), 1e-300)
    root = ways[:, real] / np.sqrt(values[real])
    seen = root.shape[1]
    share = np.eye(3)
    share[:seen, :seen] = root.T @ (own - lost) @ root
    padded = np.zeros((3, 3))
    padded[:size, :seen] = root
    moves = np.zeros((3 * len(keep), 3))
    follow = marks_follow(adjustment, hypothesis, at, coupling)[keep]
    moves[:, :seen] = follow.reshape(-1, size) @ root
    return share, padded, moves


def observed(state: State, candidate: Observable) -> State:
    """Return the state with one thing more observed.

    Parameters
    ----------
    state : State
    candidate : Observable

    Returns
    -------
    State
    """
    at = columns_of(state.places(np.array(candidate.marks)))
    across = state.covariance[:, at] @ candidate.design.T
    whole = candidate.covariance + candidate.design @ across[at]
    lower = np.linalg.cholesky(whole)
    gain = np.linalg.solve(lower, across.T).T
    white = np.linalg.solve(lower, candidate.design)
    seen = white @ state.moves[:, at]
    return replace(
        state,
        covariance=state.covariance - gain @ gain.T,
        share=state.share + np.swapaxes(seen, 1, 2) @ seen,
        moves=state.moves - gain @ seen,
    )
