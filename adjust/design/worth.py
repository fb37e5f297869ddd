"""What candidates would buy, many at once, in the order of what matters most."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from ...networks.covariances import Bools, Floats, Ints
from ..judge.verdicts import UNCHECKED
from .observable import Observable
from .state import State, columns_of

ORDER = (
    "specification failures removed",
    "unchecked removed",
    "suspects parted",
    "smallest detectable blunder",
    "worst pair",
)
"""What is bought, what matters most first; the user may reorder it."""

NAMES = (*ORDER, "unseen movement")
"""Everything that can count."""

STEP = 10.0
"""How much more each is worth than the next: counts of one do not make up for one of
the other unless ten of them do."""

_AT_ONCE = 20_000
"""Blocks formed at once: what stays near the processor (measured)."""


@dataclass(frozen=True, slots=True)
class Scores:
    """What each of k candidates would buy beside what is there.

    Counts, and logarithms of ratios before to after (0.1 is a tenth smaller).
    """

    failures: Floats
    """(k,) lines of the specification that would meet it."""
    unchecked: Floats
    """(k,) blunders that would be checked."""
    parted: Floats
    """(k,) groups of suspects that it would tell apart."""
    detectable: Floats
    """(k,) mean logarithm by which the smallest detectable blunders shrink."""
    pair: Floats
    """(k,) logarithm by which the worst pair's share of its limit shrinks."""
    exposed: Floats
    """(k,) mean logarithm by which the smallest detectable blunders shrink, each
    weighed by how far it would move marks unseen."""

    def of(self, some: Sequence[int]) -> "Scores":
        """Return the scores of some candidates."""
        return Scores(
            self.failures[some],
            self.unchecked[some],
            self.parted[some],
            self.detectable[some],
            self.pair[some],
            self.exposed[some],
        )

    def worth(self, order: Sequence[str] = ORDER) -> Floats:
        """Return one figure a candidate: each thing weighs ten times the next.

        Parameters
        ----------
        order : sequence of str
            Some of ``NAMES``, the most important first; what is not named is not
            counted.

        Examples
        --------
        >>> one = np.array([1.0, 0.0])
        >>> Scores(one, 2 * one, 0 * one, one, one, one).worth().tolist()
        [1201.1, 0.0]
        """
        parts = dict(
            zip(
                NAMES,
                (
                    self.failures,
                    self.unchecked,
                    self.parted,
                    self.detectable,
                    self.pair,
                    self.exposed,
                ),
                strict=True,
            )
        )
        weights = STEP ** np.arange(len(ORDER) - 2, -2, -1.0)
        total = sum(
            weight * parts[name] for name, weight in zip(order, weights, strict=False)
        )
        return np.asarray(total, dtype=np.float64)


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
    at = columns_of(state.places(state.ends))
    rows = state.difference @ state.covariance[at]
    pairs = state.pairs
    shares = shares_of(state, pairs[None])[0]
    blind = unchecked(state.share[None])[0]
    usable = np.flatnonzero(~blind & state.metres)
    size = hidden_sizes(state.root[usable], state.share[usable])
    usable, size = usable[size > 0], size[size > 0]
    root = state.root[usable]
    return _Standing(
        _side_by_side(np.moveaxis(rows, 2, 1)),
        tuple(pairs[:, a, b] for a, b in _WANTED),
        shares > 1,
        float(np.nanmax(shares, initial=0.0)),
        np.flatnonzero(blind),
        usable,
        size,
        _six(np.swapaxes(root, 1, 2) @ root),
        _six(state.share[usable]),
        _weights(state, usable),
        _side_by_side(state.moves),
    )


def _side_by_side(values: Floats) -> Floats:
    """Return (n, 3 k) of (k, n, 3), a component after the other."""
    across = np.ascontiguousarray(np.moveaxis(values, (1, 2), (0, 1)))
    return across.reshape(across.shape[0], -1)


def _weights(state: State, usable: Ints) -> Floats:
    """Return shares of how far unseen blunders move marks, root of the summed squares.

    Over the ellipsoid of what is just unseen: the trace of B S⁻¹ Bᵀ at the mark where
    it is largest.
    """
    moves = state.moves[usable].reshape(len(usable), -1, 3, 3)
    half = np.linalg.inv(np.linalg.cholesky(state.share[usable]))
    far = np.einsum("hmij,hkj->hmik", moves, half)
    most = np.sqrt((far**2).sum(axis=(2, 3)).max(axis=1, initial=0.0))
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
    shares = _shares(
        state, [one - np.einsum("krp,krp->kp", gain[:, :, a], gain[:, :, b])
                for one, (a, b) in zip(before.pairs, _WANTED, strict=True)]
    )  # fmt: skip
    seen = white @ before.moves[at]
    seen = seen.reshape(*seen.shape[:2], 3, len(state.share))
    blind = state.share[before.blind] + _whole(_squares(seen, before.blind))
    squares = _squares(seen, before.usable)
    share = [own + more for own, more in zip(before.share, squares, strict=True)]
    shrunk = np.log(before.size / _hidden(before.root, share))
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


_SIX = ((0, 0), (0, 1), (0, 2), (1, 1), (1, 2), (2, 2))
"""Entries of a symmetric 3 × 3 matrix, kept as six columns: no small matrices."""


def _six(matrix: Floats) -> list[Floats]:
    return [np.ascontiguousarray(matrix[..., a, b]) for a, b in _SIX]


def _squares(seen: Floats, some: Ints) -> list[Floats]:
    """Return SᵀS of some, six of (k, h), for S of (k, r, 3, H)."""
    own = seen if len(some) == seen.shape[-1] else seen[..., some]
    return [np.einsum("krh,krh->kh", own[:, :, a], own[:, :, b]) for a, b in _SIX]


def _whole(six: Sequence[Floats]) -> Floats:
    """Return (…, 3, 3) of six columns."""
    made = np.empty((*six[0].shape, 3, 3))
    for (a, b), values in zip(_SIX, six, strict=True):
        made[..., a, b] = made[..., b, a] = values
    return made


def hidden_sizes(root: Floats, share: Floats) -> Floats:
    """Return √ of the largest eigenvalue of R S⁻¹ Rᵀ, (…, H), in closed form.

    Times √λ0 it is the smallest detectable size in the worst direction.

    Parameters
    ----------
    root : ndarray, shape (H, 3, 3)
    share : ndarray, shape (…, H, 3, 3)
        Positive definite: checked in every direction.

    Examples
    --------
    A share of a quarter hides twice as much.

    >>> hidden_sizes(np.eye(3)[None], np.diag([1.0, 0.25, 1.0])[None]).round(6)
    array([2.])
    """
    return _hidden(_six(np.swapaxes(root, -1, -2) @ root), _six(share))


def _hidden(root: Sequence[Floats], share: Sequence[Floats]) -> Floats:
    """Return the same of RᵀR and S: roots of det(RᵀR − λ S), by the cosine.

    Where two directions hide alike, half of the digits are lost.
    """
    minors, determinant = _minors(share)
    own, least = _minors(root)
    one = _dot(minors, root) / determinant
    two = _dot(own, share) / determinant
    three = least / determinant
    spread = np.sqrt(np.maximum(one * one - 3 * two, 0.0)) / 3
    half = (one * (2 * one * one - 9 * two) + 27 * three) / 54
    with np.errstate(divide="ignore", invalid="ignore"):
        angle = np.nan_to_num(half / (spread * spread * spread))
    turn = np.cos(np.arccos(np.clip(angle, -1.0, 1.0)) / 3)
    return np.asarray(np.sqrt(np.maximum(one / 3 + 2 * spread * turn, 0.0)))


def _minors(six: Sequence[Floats]) -> tuple[list[Floats], Floats]:
    """Return the adjugate of symmetric 3 × 3 matrices, and their determinant."""
    a, b, c, d, e, f = six
    made = [
        d * f - e * e, c * e - b * f, b * e - c * d,
        a * f - c * c, b * c - a * e, a * d - b * b,
    ]  # fmt: skip
    return made, a * made[0] + b * made[1] + c * made[2]


def _dot(one: Sequence[Floats], other: Sequence[Floats]) -> Floats:
    """Return the trace of the product of symmetric 3 × 3 matrices."""
    made = one[0] * other[0] + one[3] * other[3] + one[5] * other[5]
    made = made + 2 * (one[1] * other[1] + one[2] * other[2] + one[4] * other[4])
    return np.asarray(made)


def shares_of(state: State, pairs: Floats) -> Floats:
    """Return shares of the limits, (…, P, 2), plan and height; NaN without a limit.

    Parameters
    ----------
    state : State
    pairs : ndarray, shape (…, P, 3, 3)
        Covariances, m².
    """
    return _shares(state, [pairs[..., a, b] for a, b in _WANTED])


_WANTED = ((0, 0), (1, 1), (2, 2), (0, 1))


def _shares(state: State, parts: Sequence[Floats]) -> Floats:
    """Return the same from variances east, north, up, and covariance east north."""
    ee, nn, uu, en = parts
    major = np.sqrt((ee + nn) / 2 + np.hypot((nn - ee) / 2, en))
    both = np.stack([major, np.sqrt(np.maximum(uu, 0.0))], axis=-1)
    return np.asarray(both * state.multipliers / state.limit)


def unchecked(share: Floats) -> Bools:
    """Return whether nothing checks some direction of a blunder, (…, H)."""
    return np.asarray(np.linalg.eigvalsh(share)[..., 0] < UNCHECKED)


def detectable(state: State, share: Floats, lambda0: float) -> Floats:
    """Return the smallest detectable size in the worst direction, (…, H); inf for none.

    Parameters
    ----------
    state : State
    share : ndarray, shape (…, H, 3, 3)
    lambda0 : float
        Non-centrality of a blunder that is just detected.
    """
    values, ways = np.linalg.eigh(share)
    blind = values[..., 0] < UNCHECKED
    safe = np.where(values < UNCHECKED, 1.0, values)
    half = state.root @ ways / np.sqrt(safe)[..., None, :]
    most = np.linalg.norm(half, 2, axis=(-2, -1))
    return np.where(blind, np.inf, np.sqrt(lambda0) * most)
