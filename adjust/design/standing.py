"""How a network stands: what nothing checks, what is too imprecise, what could hide."""

from collections.abc import Sequence

import numpy as np

from ...networks.covariances import Bools, Floats
from ..judge.verdicts import UNCHECKED
from .state import State


def unchecked(share: Floats) -> Bools:
    """Return whether nothing checks some direction of a blunder, (…, H)."""
    return np.asarray(np.linalg.eigvalsh(share)[..., 0] < UNCHECKED)


def blind_of(state: State) -> list[int]:
    """Return the numbers of the possible blunders that nothing checks.

    Parameters
    ----------
    state : State
    """
    return [int(k) for k in np.flatnonzero(unchecked(state.share))]


def shares_of(state: State, pairs: Floats) -> Floats:
    """Return shares of the limits, (…, P, 2), plan and height; NaN without a limit.

    Parameters
    ----------
    state : State
    pairs : ndarray, shape (…, P, 3, 3)
        Covariances, m².
    """
    return shares_from(state, [pairs[..., a, b] for a, b in PAIR_ENTRIES])


PAIR_ENTRIES = ((0, 0), (1, 1), (2, 2), (0, 1))
"""Entries of a covariance that a share of a limit needs: east, north, up, and east
with north."""


def shares_from(state: State, parts: Sequence[Floats]) -> Floats:
    """Return ``shares_of`` from the ``PAIR_ENTRIES`` of the covariances, m²."""
    ee, nn, uu, en = parts
    major = np.sqrt((ee + nn) / 2 + np.hypot((nn - ee) / 2, en))
    both = np.stack([major, np.sqrt(np.maximum(uu, 0.0))], axis=-1)
    return np.asarray(both * state.multipliers / state.limit)


def over_count(state: State) -> int:
    """Return how many lines of the specification are over their limit.

    Parameters
    ----------
    state : State
    """
    return int((shares_of(state, state.pairs) > 1).sum())


def worst_share(state: State) -> float:
    """Return the largest share of a limit; without a specification the size, m.

    Parameters
    ----------
    state : State
    """
    return float(np.nanmax(shares_of(state, state.pairs), initial=0.0))


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


def sizes_of(state: State, lambda0: float) -> Floats:
    """Return the smallest detectable size of each possible blunder; inf for none.

    Parameters
    ----------
    state : State
    lambda0 : float
        Non-centrality of a blunder that is just detected.
    """
    return detectable(state, state.share, lambda0)


def worst_hidden(state: State, lambda0: float) -> float:
    """Return the largest blunder that could hide at a set-up, m.

    The largest of the smallest detectable height blunders; of observations where no
    set-up is booked; inf where nothing checks one of them.

    Parameters
    ----------
    state : State
    lambda0 : float
        Non-centrality of a blunder that is just detected.
    """
    size = sizes_of(state, lambda0)
    heights = np.array([h.kind == "set-up height" for h in state.hypotheses])
    return float(size[heights if heights.any() else state.metres].max(initial=0.0))
