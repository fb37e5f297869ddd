"""What is known of a network, and what it would be with one observation more.

With a candidate's rows A, their covariance Q and the covariance C of the marks,
N = Q + A C Aᵀ, and C becomes C − C Aᵀ N⁻¹ A C: exact, without a new adjustment. A
blunder ∇ that moves the marks by B∇ and is checked by M shows in the new rows as A B∇:
M becomes M + (A B)ᵀ N⁻¹ (A B) and B becomes B − C Aᵀ N⁻¹ A B (sequential least squares;
any text, derived here). A pair whose covariance with the marks is R goes as a blunder
does: R becomes R − C Aᵀ N⁻¹ A R, and the pair's own covariance loses (A R)ᵀ N⁻¹ (A R).
So only the marks that candidates touch are kept, not the pairs' own.
"""

from dataclasses import dataclass, replace

import numpy as np

from ...networks.covariances import Bools, Floats, Ints
from ..judge.hypotheses import Hypothesis
from .observable import Observable


@dataclass(frozen=True, slots=True)
class State:
    """m marks kept, P pairs and H possible blunders of at most three components.

    Blunders are measured against what their own rows know of them: a share of 1 is as
    good as that, 0 is unchecked. Components that a blunder lacks have a share of 1 and
    move nothing.
    """

    covariance: Floats
    """(3 m, 3 m) of east, north, up of the marks that are kept, m²."""
    ends: Ints
    """(P, 2) marks whose relative position matters; a first of −1: to the datum."""
    pairs: Floats
    """(P, 3, 3) covariance of each pair's relative position, m²."""
    across: Floats
    """(3 m, 3, P) covariance of the kept marks with it, by component, m²."""
    limit: Floats
    """(P, 2) limits in plan and in height, m; NaN for none."""
    multipliers: Floats
    """(P, 2) of the semi-major axis, and of the height's sd."""
    share: Floats
    """(H, 3, 3) how well the rest checks each blunder."""
    root: Floats
    """(H, 3, 3) shift in its own unit of a unit of share, columns."""
    moves: Floats
    """(3 m, 3, H) how kept marks follow a unit of share, by component, m."""
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


NO_MARKS: Ints = np.zeros(0, dtype=np.int64)


def keeping(state: State, marks: Ints) -> State:
    """Return the state with some of its marks alone.

    Parameters
    ----------
    state : State
    marks : ndarray of int
        Kept already; none: how the network stands, and nothing to go on from.
    """
    some = np.unique(marks).astype(np.int64)
    at = columns_of(state.places(some))
    place = np.full(len(state.place), -1)
    place[some] = np.arange(len(some))
    return replace(
        state,
        covariance=state.covariance[np.ix_(at, at)],
        across=state.across[at],
        moves=state.moves[at],
        place=place,
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
    of_pairs, pairs = _less(gain, white, at, state.across)
    moves, seen = _less(gain, white, at, state.moves)
    return replace(
        state,
        covariance=state.covariance - gain @ gain.T,
        pairs=state.pairs - pairs,
        across=of_pairs,
        share=state.share + seen,
        moves=moves,
    )


def _less(gain: Floats, white: Floats, at: Ints, rows: Floats) -> tuple[Floats, Floats]:
    """Return (3 m, 3, k) rows less what is seen of them, and (k, 3, 3) its squares."""
    wide = rows.reshape(len(rows), -1)
    seen = white @ wide[at]
    left = wide - gain @ seen
    own = seen.reshape(len(seen), *rows.shape[1:])
    return left.reshape(rows.shape), np.einsum("rak,rbk->kab", own, own)
