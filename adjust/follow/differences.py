"""Differences that ought to be nothing, each tested against its own covariance."""

from dataclasses import dataclass

import numpy as np

from ...networks import Options
from ...networks.covariances import Bools, Floats, Ints
from ..judge.limits import normal_limit
from ..judge.verdicts import stated_basis


@dataclass(frozen=True, slots=True)
class Differences:
    """One row a difference, of up to three components; m."""

    first: Ints
    """(k,) number of the shot that is judged."""
    second: Ints
    """(k,) what it is compared with: a shot, a mark, by the kind of difference."""
    value: Floats
    """(k, 3) first minus second: east, north, up; NaN where one has none."""
    covariance: Floats
    """(k, 3, 3) m²; NaN where a part of it is not stated."""
    test: Floats
    """(k,) 1 is the limit; NaN where it cannot be judged."""
    probability: Floats
    """(k,) of a larger difference by chance alone, one test."""
    limit: Floats
    """(k, 3) of each component by itself, at the confidence of ``Options``."""
    verdict: tuple[str, ...]
    """``meets``, ``query``, ``fails``, or ``unchecked`` where it cannot be judged."""

    def __len__(self) -> int:
        return len(self.first)


def differences(
    first: Ints, second: Ints, value: Floats, covariance: Floats, options: Options
) -> Differences:
    """Return differences tested by the B-method, 0 ± their covariance.

    A component that is NaN takes no part. Over the limit is a query; over the limit
    and less likely than 5 % in all the tests given together (Šidák) fails.

    Parameters
    ----------
    first, second : ndarray of int, shape (k,)
    value : ndarray, shape (k, 3)
        m.
    covariance : ndarray, shape (k, 3, 3)
        m²; NaN in a component that takes part makes the row ``unchecked``.
    options : Options

    Returns
    -------
    Differences

    Examples
    --------
    30 mm in height where the difference has an sd of 5 mm: (30/5)² = 36, over the
    limit 10.83 by √(36/10.83) = 1.82.

    >>> up = np.array([[np.nan, np.nan, 0.030]])
    >>> one = np.array([0])
    >>> made = differences(one, one, up, 25e-6 * np.eye(3)[None], Options())
    >>> round(float(made.test[0]), 2), made.verdict
    (1.82, ('fails',))
    """
    there = np.isfinite(value)
    statistic, known = _statistic(value, covariance, there)
    basis = stated_basis(statistic, there.sum(axis=1), options)
    sds = np.sqrt(np.diagonal(covariance, axis1=1, axis2=2))
    limit = np.where(there, normal_limit(1 - options.confidence) * sds, np.nan)
    test = np.where(known, basis.test, np.nan)
    probability = np.where(known, basis.probability, np.nan)
    verdict = verdicts_of(test, probability)
    return Differences(
        first, second, value, covariance, test, probability, limit, verdict
    )


def _statistic(value: Floats, covariance: Floats, there: Bools) -> tuple[Floats, Bools]:
    """Return dᵀQ⁻¹d over the components there are, and whether Q is known."""
    both = there[:, :, None] & there[:, None, :]
    own = np.where(both, covariance, np.eye(3))
    known = np.asarray(np.isfinite(own).all(axis=(1, 2)) & there.any(axis=1))
    safe: Floats = np.where(known[:, None, None], own, np.eye(3))
    # A difference of what is exact cannot be tested against nothing.
    known = np.asarray(known & (np.linalg.det(safe) > 0))
    safe = np.where(known[:, None, None], safe, np.eye(3))
    d = np.where(there, value, 0.0)
    solved = np.linalg.solve(safe, d[:, :, None])[:, :, 0]
    return np.where(known, (d * solved).sum(axis=1), 0.0), known


def verdicts_of(test: Floats, probability: Floats) -> tuple[str, ...]:
    """Return the verdicts of tests that stand together in one table.

    Parameters
    ----------
    test : ndarray, shape (k,)
        1 is the limit; NaN cannot be judged.
    probability : ndarray, shape (k,)

    Examples
    --------
    >>> verdicts_of(np.array([0.5, 1.1, np.nan]), np.array([0.4, 3e-4, np.nan]))
    ('meets', 'fails', 'unchecked')
    """
    judged = np.isfinite(test)
    count = max(int(judged.sum()), 1)
    with np.errstate(invalid="ignore"):
        family = -np.expm1(count * np.log1p(-np.minimum(probability, 1 - 1e-16)))
        states = np.select(
            [~judged, (test > 1) & (family < 0.05), test > 1],
            ["unchecked", "fails", "query"],
            "meets",
        )
    return tuple(states.tolist())
