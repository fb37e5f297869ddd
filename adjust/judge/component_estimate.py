"""Restricted maximum likelihood of multipliers of standard deviations.

Rows of a component k share an unknown multiplier f: the covariance is D Q D, with f on
the diagonal of D. The likelihood of what the unknowns leave over (Patterson and
Thompson 1971; Koch; from memory) is greatest where vᵀPv of every component equals its
redundancy, which is also where Förstner's and Helmert's iterations come to rest. What
the residuals know of log f² is ½ tr(P dQ P dQ).
"""

from dataclasses import dataclass

import numpy as np

from ...networks.covariances import Bools, Floats
from .component_state import State, System

SETTLED = 1e-9
"""Change of log f² at which the iteration ends."""
_MOST_STEPS = 60
_RATIOS = 2
"""First steps go by the ratios of vᵀPv to redundancy, which may be far from 1."""
_CAP = 1.5
_LEAST, _LARGEST = -14.0, 46.0
"""log f²: f from a thousandth to ten thousand million."""
_ALIKE = 0.2
"""Change of log f² over which the information serves for another step: what it is off
by slows the iteration, and changes nothing of where that comes to rest."""


@dataclass(frozen=True, slots=True)
class Estimated:
    """The multipliers at which every vᵀPv equals its redundancy."""

    log_variance: Floats
    """(K,) log f²; 0 where it was not estimated."""
    state: State
    settled: bool
    steps: int


def estimated(
    system: System,
    asked: Bools,
    stated: State,
    start: Floats | None = None,
    near: float = SETTLED,
    most: int = _MOST_STEPS,
) -> Estimated:
    """Return the multipliers of some components, the others as stated.

    Parameters
    ----------
    system : System
    asked : ndarray of bool, shape (K,)
    stated : State
        With all as stated.
    start : ndarray, shape (K,), optional
        log f² to start from.
    near : float, optional
        Change of log f² at which the iteration ends.
    most : int, optional
        Steps.
    """
    log_variance = np.where(asked, 0.0 if start is None else start, 0.0)
    state = stated if not log_variance.any() else system.state(log_variance)
    for step in range(most):
        if not asked.any():
            return Estimated(log_variance, state, True, 0)
        by_ratio = step < _RATIOS and start is None
        change = _change(state, asked, by_ratio=by_ratio)
        after = np.clip(log_variance + change, _LEAST, _LARGEST)
        if np.abs(after - log_variance).max() < near:
            if (state.informed_at != log_variance).any():
                state = system.state(log_variance)
            return Estimated(log_variance, state, True, step)
        log_variance = after
        ratio_next = step + 1 < _RATIOS and start is None
        will_do = ratio_next or np.abs(after - state.informed_at).max() < _ALIKE
        state = system.state(log_variance, state if will_do else None)
    return Estimated(log_variance, state, False, most)


def _change(state: State, asked: Bools, *, by_ratio: bool) -> Floats:
    """Return the next step of log f²; 0 where nothing is asked."""
    change = np.zeros(len(asked))
    square = np.maximum(state.square_sum[asked], 1e-300)
    redundancy = np.maximum(state.redundancy[asked], 1e-300)
    if by_ratio:
        change[asked] = np.log(square) - np.log(redundancy)
        return change
    at = np.flatnonzero(asked)
    values, ways = np.linalg.eigh(state.information[np.ix_(at, at)])
    sound = np.maximum(values, 1e-9 * max(values.max(), 1e-300))
    step = ways @ ((ways.T @ (square - redundancy) / 2) / sound)
    change[asked] = np.clip(step, -_CAP, _CAP)
    return change
