"""What candidates would buy, many at once, in the order of what matters most."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from ...networks.covariances import Bools, Floats, Ints
from ..judge.limits import noncentrality
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

STEP = 10.0
"""How much more each is worth than the next: counts of one do not make up for one of
the other unless ten of them do."""

_AT_ONCE = 400_000
"""Blocks formed at once: bounds the memory of a screen."""


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

    def of(self, some: Sequence[int]) -> "Scores":
        """Return the scores of some candidates."""
        return Scores(
            self.failures[some],
            self.unchecked[some],
            self.parted[some],
            self.detectable[some],
            self.pair[some],
        )

    def worth(self, order: Sequence[str] = ORDER) -> Floats:
        """Return one figure a candidate: each thing weighs ten times the next.

        Parameters
        ----------
        order : sequence of str
            Names of ``ORDER``, the most important first; what is not named is not
            counted.

        Examples
        --------
        >>> one = np.array([1.0, 0.0])
        >>> Scores(one, 2 * one, 0 * one, one, one).worth().tolist()
        [1201.1, 0.0]
        """
        parts = dict(
            zip(
                ORDER,
                (
                    self.failures,
                    self.unchecked,
                    self.parted,
                    self.detectable,
                    self.pair,
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
    power: float,
    alpha: float,
    parted: Floats | None = None,
) -> Scores:
    """Return what each candidate would buy, exactly.

    Parameters
    ----------
    state : State
    candidates : sequence of Observable
    power, alpha : float
        Of a smallest detectable blunder.
    parted : ndarray, shape (k,), optional
        Groups of suspects that each would part; none if not given.

    Returns
    -------
    Scores
    """
    count = len(candidates)
    made = np.zeros((4, count))
    before = _standing(state, noncentrality(alpha, power))
    for rows in _alike(candidates, len(state.ends) + len(state.share)):
        made[:, rows] = _bought(state, before, [candidates[k] for k in rows])
    groups = np.zeros(count) if parted is None else parted
    return Scores(made[0], made[1], groups, made[2], made[3])


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
    """(P, 3, 3 m) covariance of each pair with the marks."""
    pairs: Floats
    failing: Bools
    """(P, 2)"""
    worst: float
    unchecked: Bools
    """(H,)"""
    size: Floats
    """(H,) smallest detectable; inf where unchecked."""
    lambda0: float


def _standing(state: State, lambda0: float) -> _Standing:
    at = columns_of(state.ends)
    rows = state.difference @ state.covariance[at]
    pairs = state.pairs
    shares = shares_of(state, pairs[None])[0]
    return _Standing(
        rows,
        pairs,
        shares > 1,
        float(np.nanmax(shares, initial=0.0)),
        unchecked(state.share[None])[0],
        detectable(state, state.share[None], lambda0)[0],
        lambda0,
    )


def _bought(
    state: State, before: _Standing, candidates: Sequence[Observable]
) -> Floats:
    """Return (4, k): failures, unchecked, detectable and worst pair of each."""
    at = columns_of(np.array([one.marks for one in candidates]))
    white = _white(state, candidates, at)
    across = np.moveaxis(before.pair_rows[:, :, at], 2, 0)
    gain = across @ np.swapaxes(white, 1, 2)[:, None]
    pairs = before.pairs - gain @ np.swapaxes(gain, 2, 3)
    shares = shares_of(state, pairs)
    seen = white[:, None] @ np.moveaxis(state.moves[:, at], 0, 1)
    share = state.share + np.swapaxes(seen, 2, 3) @ seen
    size = detectable(state, share, before.lambda0)
    usable = np.isfinite(before.size) & state.metres & (before.size > 0)
    shrunk = np.log(before.size[usable] / size[:, usable])
    worst = np.nanmax(shares.reshape(len(shares), -1), axis=1, initial=0.0)
    with np.errstate(divide="ignore", invalid="ignore"):
        pair = np.where(worst > 0, np.log(before.worst / worst), 0.0)
    return np.stack(
        [
            (before.failing & ~(shares > 1)).sum(axis=(1, 2)),
            (before.unchecked & ~unchecked(share)).sum(axis=1),
            shrunk.mean(axis=1) if usable.any() else np.zeros(len(shares)),
            pair,
        ]
    )


def _white(state: State, candidates: Sequence[Observable], at: Ints) -> Floats:
    """Return L⁻¹A of each candidate, (k, r, 3 w), with N = L Lᵀ."""
    design = np.array([one.design for one in candidates])
    noise = np.array([one.covariance for one in candidates])
    there = state.covariance[at[:, :, None], at[:, None, :]]
    whole = noise + design @ there @ np.swapaxes(design, 1, 2)
    return np.asarray(np.linalg.solve(np.linalg.cholesky(whole), design))


def shares_of(state: State, pairs: Floats) -> Floats:
    """Return shares of the limits, (…, P, 2), plan and height; NaN without a limit.

    Parameters
    ----------
    state : State
    pairs : ndarray, shape (…, P, 3, 3)
        Covariances, m².
    """
    ee, nn, en = pairs[..., 0, 0], pairs[..., 1, 1], pairs[..., 0, 1]
    major = np.sqrt((ee + nn) / 2 + np.hypot((nn - ee) / 2, en))
    up = np.sqrt(np.maximum(pairs[..., 2, 2], 0.0))
    both = np.stack([major, up], axis=-1)
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
