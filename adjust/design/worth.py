"""What candidates would buy, many at once, in the order of what matters most."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from ...networks.covariances import Bools, Floats, Ints
from .hidden import SIX, hidden_of, hidden_sizes, inverse_of, six_of, whole_of
from .observable import Observable
from .scored import Scores
from .standing import PAIR_ENTRIES, shares_from, shares_of, unchecked
from .state import State, columns_of

_AT_ONCE = 20_000
"""Blocks formed at once: what stays near the processor (measured)."""


def scores(
    state: State,
    candidates: Sequence[Observable],
    parted: Floats | None = None,
) -> Scores:
    """Return what each candidate would buy, exactly.

    Parameters
    ----------
    state : State
    candidates : sequence of Observable
    parted : ndarray, shape (k,), optional
        Groups of suspects that each would part; none if not given.

    Returns
    -------
    Scores
    """
    count = len(candidates)
    made = np.zeros((5, count))
    before = _standing(state)
    for rows in _alike(candidates, len(state.ends) + len(state.share)):
        made[:, rows] = _bought(state, before, [candidates[k] for k in rows])
    groups = np.zeros(count) if parted is None else parted
    return Scores(made[0], made[1], groups, made[2], made[3], made[4])


def gained(before: State, after: State) -> Scores:
    """Return what was bought from one state to another, arrays of one.

    Of a set of observations, in whichever order they were made.

    Parameters
    ----------
    before, after : State

    Returns
    -------
    Scores
    """
    standing = _standing(before)
    shares = shares_of(after, after.pairs)
    blind, usable = standing.blind, standing.usable
    then = hidden_sizes(before.root[usable], after.share[usable])
    shrunk = np.log(standing.size / then)
    worst = float(np.nanmax(shares, initial=0.0))
    pair = np.log(standing.worst / worst) if worst > 0 else 0.0
    checked = ~unchecked(after.share[blind])
    return Scores(
        np.array([float((standing.failing & ~(shares > 1)).sum())]),
        np.array([float(checked.sum())]),
        np.zeros(1),
        np.array([float(shrunk.mean()) if len(usable) else 0.0]),
        np.array([pair]),
        np.array([float(shrunk @ standing.weight)]),
    )


def _alike(candidates: Sequence[Observable], each: int) -> Iterator[Ints]:
    """Yield the numbers of candidates of one shape, a bounded number at a time."""
    shapes: dict[tuple[int, int], list[int]] = {}
    for k, one in enumerate(candidates):
        shapes.setdefault((len(one.marks), len(one.design)), []).append(k)
    most = max(1, _AT_ONCE // max(each, 1))
    for rows in shapes.values():
        for first in range(0, len(rows), most):
            yield np.array(rows[first : first + most])


@dataclass(frozen=True, slots=True)
class _Standing:
    """How pairs and blunders stand before anything more is observed."""

    pair_rows: Floats
    """(3 m, 3 P) covariance of the marks with each pair, by component."""
    pairs: tuple[Floats, ...]
    """(P,) variances east, north, up of each pair, and covariance east north, m²."""
    failing: Bools
    """(P, 2)"""
    worst: float
    blind: Ints
    """Numbers of the blunders that nothing checks: more observations check more, so
    that only these are looked at again."""
    usable: Ints
    """Numbers of those whose smallest detectable size may shrink, in metres."""
    size: Floats
    """Of those, without √λ0."""
    root: list[Floats]
    """Of those, six columns of RᵀR."""
    share: list[Floats]
    weight: Floats
    """Of those, summing to 1: how far each just unseen moves the mark it moves most."""
    moves: Floats
    """(3 m, 3 H) all moves side by side, by component."""


def _standing(state: State) -> _Standing:
    pairs = state.pairs
    shares = shares_of(state, pairs[None])[0]
    blind = unchecked(state.share[None])[0]
    usable = np.flatnonzero(~blind & state.metres)
    size = hidden_sizes(state.root[usable], state.share[usable])
    usable, size = usable[size > 0], size[size > 0]
    root = state.root[usable]
    return _Standing(
        state.across.reshape(len(state.covariance), -1),
        tuple(pairs[:, a, b] for a, b in PAIR_ENTRIES),
        shares > 1,
        float(np.nanmax(shares, initial=0.0)),
        np.flatnonzero(blind),
        usable,
        size,
        six_of(np.swapaxes(root, 1, 2) @ root),
        six_of(state.share[usable]),
        _weights(state, usable),
        state.moves.reshape(len(state.covariance), -1),
    )


def _weights(state: State, usable: Ints) -> Floats:
    """Return shares of how far unseen blunders move marks, root of the summed squares.

    Over the ellipsoid of what is just unseen: the trace of B S⁻¹ Bᵀ at the mark, of
    those that are kept, where it is largest.
    """
    inverse = inverse_of(six_of(state.share[usable]))
    moves = state.moves
    if len(usable) < moves.shape[2]:
        moves = moves[:, :, usable]
    moves = moves.reshape(-1, 3, 3, len(usable))
    far = np.zeros((len(moves), len(usable)))
    for own, (a, b) in zip(inverse, SIX, strict=True):
        both = np.einsum("mih,mih->mh", moves[:, :, a], moves[:, :, b])
        far += both * (own if a == b else 2 * own)
    most = np.sqrt(np.maximum(far.max(axis=0, initial=0.0), 0.0))
    total = float(most.sum())
    return np.asarray(most / total if total > 0 else most)


def _bought(
    state: State, before: _Standing, candidates: Sequence[Observable]
) -> Floats:
    """Return (5, k): failures, unchecked, detectable, worst pair, unseen movement."""
    at = columns_of(state.places(np.array([one.marks for one in candidates])))
    white = _white(state, candidates, at)
    gain = white @ before.pair_rows[at]
    gain = gain.reshape(*gain.shape[:2], 3, len(state.ends))
    shares = shares_from(
        state, [one - np.einsum("krp,krp->kp", gain[:, :, a], gain[:, :, b])
                for one, (a, b) in zip(before.pairs, PAIR_ENTRIES, strict=True)]
    )  # fmt: skip
    seen = white @ before.moves[at]
    seen = seen.reshape(*seen.shape[:2], 3, len(state.share))
    blind = state.share[before.blind] + whole_of(_squares(seen, before.blind))
    squares = _squares(seen, before.usable)
    share = [own + more for own, more in zip(before.share, squares, strict=True)]
    shrunk = np.log(before.size / hidden_of(before.root, share))
    worst = np.nanmax(shares.reshape(len(shares), -1), axis=1, initial=0.0)
    with np.errstate(divide="ignore", invalid="ignore"):
        pair = np.where(worst > 0, np.log(before.worst / worst), 0.0)
    return np.stack(
        [
            (before.failing & ~(shares > 1)).sum(axis=(1, 2)),
            (~unchecked(blind)).sum(axis=1),
            shrunk.mean(axis=1) if len(before.size) else np.zeros(len(shares)),
            pair,
            shrunk @ before.weight,
        ]
    )


def _white(state: State, candidates: Sequence[Observable], at: Ints) -> Floats:
    """Return L⁻¹A of each candidate, (k, r, 3 w), with N = L Lᵀ."""
    design = np.array([one.design for one in candidates])
    noise = np.array([one.covariance for one in candidates])
    there = state.covariance[at[:, :, None], at[:, None, :]]
    whole = noise + design @ there @ np.swapaxes(design, 1, 2)
    return np.asarray(np.linalg.solve(np.linalg.cholesky(whole), design))


def _squares(seen: Floats, some: Ints) -> list[Floats]:
    """Return SᵀS of some, six of (k, h), for S of (k, r, 3, H)."""
    own = seen if len(some) == seen.shape[-1] else seen[..., some]
    return [np.einsum("krh,krh->kh", own[:, :, a], own[:, :, b]) for a, b in SIX]
