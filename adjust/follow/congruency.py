"""Are two shapes the same? Movements, their covariance, and what no datum can bend.

The freedoms of the datum (shift, turn, scale) say nothing of the shape, so the test
uses only what is free of them: with N the complement of the freedoms G of the marks
compared, T = (Nᵀd)ᵀ (NᵀQN)⁻¹ (Nᵀd), of as many degrees of freedom as N has columns.
That is dᵀQ⁺d after an S-transformation (Pelzer 1971, Niemeier 1981, from memory; any
text on deformation networks), without a pseudo-inverse to choose a threshold for.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ...networks.covariances import Bools, Floats
from ..judge.limits import chi_square_quantile, fisher_quantile

_SINGULAR = 1e-9
"""Share of the largest singular value under which a direction has none."""


@dataclass(frozen=True, slots=True)
class Movements:
    """Second minus first epoch of m marks, p coordinates each, in any one datum."""

    station: tuple[str, ...]
    difference: Floats
    """(m, p) east and north, or height, m."""
    covariance: Floats
    """(m, p, m, p) of the differences, stated, m²."""
    freedoms: Floats
    """(m, p, f) what a change of datum does to each coordinate."""

    @property
    def size(self) -> int:
        """Coordinates of a mark: 2 in plan, 1 in height."""
        return int(self.difference.shape[1])


@dataclass(frozen=True, slots=True)
class Scale:
    """The variance that the movements are judged by."""

    kind: str
    """``stated`` (1), ``pooled`` (of both epochs) or ``none`` (cannot be told)."""
    variance: float
    """Ratio to the stated variances."""
    degrees_of_freedom: int
    """Of the pooled variance; 0 for the stated one, which is not estimated."""

    def limit(self, probability: float, components: int) -> float:
        """Return what a statistic of so many components stays below, T / variance.

        Examples
        --------
        NIST/SEMATECH e-Handbook 1.3.6.7.4: chi-square of 2, 5 % above, is 5.991.

        >>> round(Scale("stated", 1.0, 0).limit(0.95, 2), 3)
        5.991
        """
        if self.kind == "none" or components < 1:
            return float("nan")
        if self.kind == "stated":
            return chi_square_quantile(probability, components)
        freedom = self.degrees_of_freedom
        return components * fisher_quantile(probability, components, freedom)


@dataclass(frozen=True, slots=True)
class Congruency:
    """The test of a set of marks against the idea that none of them has moved."""

    statistic: float
    """T over the variance of the scale; NaN where nothing can be compared."""
    degrees_of_freedom: int
    limit: float
    verdict: str
    """``meets``, ``fails`` or ``unchecked``."""
    weight: Floats
    """(k, p, k, p) what a movement of these marks does to T, 1/m²."""
    pull: Floats
    """(k, p) weight times difference, 1/m."""

    @property
    def test(self) -> float:
        """√(T / limit): 1 is the limit."""
        return float(np.sqrt(self.statistic / self.limit))


def congruency(
    moves: Movements, chosen: Bools, scale: Scale, confidence: float
) -> Congruency:
    """Return the test of whether the chosen marks have kept their shape.

    Parameters
    ----------
    moves : Movements
    chosen : ndarray of bool, shape (m,)
    scale : Scale
    confidence : float

    Returns
    -------
    Congruency

    Examples
    --------
    Two benchmarks, 3 mm nearer in height than before, each difference ± 1 mm: one
    height difference, of variance 2 mm², so T = 9 / 2.

    >>> moves = Movements(("A", "B"), np.array([[0.0], [-0.003]]),
    ...                   1e-6 * np.eye(2).reshape(2, 1, 2, 1), np.ones((2, 1, 1)))
    >>> test = congruency(moves, np.array([True, True]), Scale("stated", 1.0, 0), 0.95)
    >>> round(test.statistic, 6), test.degrees_of_freedom, test.verdict
    (4.5, 1, 'fails')
    """
    count, p = int(chosen.sum()), moves.size
    rows = count * p
    difference = moves.difference[chosen].reshape(rows)
    covariance = moves.covariance[chosen][:, :, chosen].reshape(rows, rows)
    shape = complement(moves.freedoms[chosen].reshape(rows, -1))
    freedom = shape.shape[1]
    weight = np.zeros((rows, rows))
    if freedom and not _is_singular(seen := shape.T @ covariance @ shape):
        weight = shape @ np.linalg.solve(seen * scale.variance, shape.T)
    else:
        freedom = 0
    pull = weight @ difference
    statistic = float(difference @ pull) if freedom else float("nan")
    limit = scale.limit(confidence, freedom)
    judged = bool(freedom) and np.isfinite(limit)
    verdict = ("fails" if statistic > limit else "meets") if judged else "unchecked"
    return Congruency(
        statistic,
        freedom,
        limit,
        verdict,
        weight.reshape(count, p, count, p),
        pull.reshape(count, p),
    )


def complement(freedoms: Floats) -> Floats:
    """Return an orthonormal basis (n, n − rank) of what freedoms (n, f) cannot do."""
    size = np.linalg.norm(freedoms, axis=0)
    columns = freedoms[:, size > 0] / size[size > 0]
    if not columns.shape[1]:
        return np.eye(len(freedoms))
    left, values, _ = np.linalg.svd(columns)
    return np.asarray(left[:, int((values > _SINGULAR * values[0]).sum()) :])


def _is_singular(matrix: Floats) -> bool:
    scale = np.sqrt(np.diagonal(matrix))
    if not (scale > 0).all():
        return True
    values = np.linalg.eigvalsh(matrix / np.outer(scale, scale))
    return bool(values[0] < _SINGULAR)


def contribution(test: Congruency, marks: Sequence[int]) -> tuple[float, int]:
    """Return by how much T falls, and its freedom, if some marks are left out.

    Parameters
    ----------
    test : Congruency
    marks : sequence of int
        Rows of those that were tested.
    """
    some = list(marks)
    size = len(some) * test.pull.shape[1]
    block = test.weight[some][:, :, some].reshape(size, size)
    pull = test.pull[some].reshape(size)
    values, ways = np.linalg.eigh(block)
    kept = values > _SINGULAR * max(float(values[-1]), 1e-300)
    along = ways[:, kept].T @ pull
    return float(np.sum(along**2 / values[kept])), int(kept.sum())


def carried(moves: Movements, onto: Bools) -> Movements | None:
    """Return the movements in the datum of some marks, by S-transformation.

    S = I − G (G_sᵀ G_s)⁻¹ G_sᵀ, with G_s the rows of the marks that carry it. None
    where those marks cannot carry all that the datum leaves free.
    """
    count, p = moves.difference.shape
    rows = count * p
    free = moves.freedoms.reshape(rows, -1)
    size = np.linalg.norm(free, axis=0)
    free = free[:, size > 0] / size[size > 0]
    held = free * np.repeat(onto, p)[:, None]
    values = np.linalg.svd(held, compute_uv=False)
    if values.size and values[-1] < 1e-6 * values[0]:
        return None
    transform = np.eye(rows) - free @ np.linalg.pinv(held)
    flat = moves.covariance.reshape(rows, rows)
    return Movements(
        moves.station,
        (transform @ moves.difference.reshape(rows)).reshape(count, p),
        (transform @ flat @ transform.T).reshape(count, p, count, p),
        moves.freedoms,
    )
