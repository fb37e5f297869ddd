"""One known mark against the survey: the row of a table, and what using it does."""

from dataclasses import dataclass, replace

import numpy as np

from ...networks import Network
from ...networks.covariances import Floats, Ints
from ...networks.likeness import Likeness
from ..adjustment import Adjustment
from .limits import normal_limit

_NEAR = 1.0
"""m; nearer marks have no strain to speak of."""


@dataclass(frozen=True, slots=True)
class ControlRow:
    """One known mark, plan or height, against the survey and the other known marks."""

    station: str
    part: str
    """``plan`` or ``height``."""
    use: str
    """``held``, ``weighted`` or ``check-only``, in this solution."""
    difference: Floats
    """(3,) known minus survey, east, north, up, m; NaN for the other part."""
    covariance: Floats
    """(3, 3) of it, stated, m²: of the survey from the other marks, and the mark's
    own."""
    limit: Floats
    """(3,) of a single component at the job's confidence, m."""
    test: float
    """√(T/K), 1 = the limit; NaN where nothing checks it."""
    verdict: str
    followed: bool
    """Whether what using it does to the marks was worked out."""
    farthest: int
    """The mark, other than itself, that it moves farthest; −1 where it moves none."""
    move: Floats
    """(3,) by which it moves that mark, east, north, up, m: with it minus without."""
    distortion: float
    """Largest change between two marks that are observed together, by their
    distance: a ratio."""
    pair: tuple[int, int]
    """Between which marks."""
    twins: tuple[str, ...]
    """Marks of which any may be the wrong one, as far as the survey can tell."""
    likeness: tuple[Likeness, ...] = ()
    """What the difference looks like, where the test is over its limit."""

    @property
    def sd(self) -> Floats:
        """(3,) of the difference, m."""
        return np.asarray(np.sqrt(np.diagonal(self.covariance)))


def control_row(
    adjustment: Adjustment,
    named: tuple[str, str, str],
    sizes: tuple[Floats, Floats],
    judged: tuple[float, str],
) -> ControlRow:
    """Return a row, without what using the mark does to the network.

    Parameters
    ----------
    adjustment : Adjustment
    named : tuple of str
        Station, part, use.
    sizes : tuple of ndarray, shapes (3,) and (3, 3)
        Known minus survey, m, and its covariance, m²; NaN for the other part.
    judged : tuple of float and str
        Test and verdict.
    """
    difference, covariance = sizes
    sd = np.sqrt(np.diagonal(covariance))
    limit = normal_limit(1 - adjustment.network.options.confidence) * sd
    return ControlRow(
        *named,
        difference,
        covariance,
        limit,
        *judged,
        followed=False,
        farthest=-1,
        move=np.zeros(3),
        distortion=0.0,
        pair=(-1, -1),
        twins=(),
    )


def with_effects(
    adjustment: Adjustment,
    row: ControlRow,
    moved: Floats,
    pairs: Ints,
) -> ControlRow:
    """Return a row with what using the mark does to the network.

    Parameters
    ----------
    adjustment : Adjustment
    row : ControlRow
    moved : ndarray, shape (m, 3)
        What using it does to each mark, east, north, up, m.
    pairs : ndarray of int, shape (k, 2)
        Marks that are observed together.
    """
    length = np.linalg.norm(moved, axis=1)
    length[adjustment.network.marks.name.index(row.station)] = 0.0
    farthest = int(np.argmax(length.round(9))) if length.max(initial=0) > 1e-9 else -1
    distortion, pair = _distortion(adjustment, moved, pairs)
    return replace(
        row,
        followed=True,
        farthest=farthest,
        move=moved[farthest] if farthest >= 0 else np.zeros(3),
        distortion=distortion,
        pair=pair,
    )


def _distortion(
    adjustment: Adjustment, moved: Floats, pairs: Ints
) -> tuple[float, tuple[int, int]]:
    """Return the largest change between marks observed together, by distance.

    A mark that only levels reach, and that has no approximate place, is at no
    distance from another.
    """
    network, place = adjustment.network, adjustment.nodes.xyz
    booked = np.isfinite(network.marks.approximate[:, :2]).all(axis=1)
    placed = np.asarray(adjustment.estimated[:, :2].all(axis=1) | booked)
    first, second = pairs.T
    distance = np.linalg.norm(place[second] - place[first], axis=1)
    apart = (distance > _NEAR) & placed[first] & placed[second]
    if not apart.any():
        return 0.0, (-1, -1)
    change = np.linalg.norm(moved[second] - moved[first], axis=1)
    ratio = np.where(apart, change / np.maximum(distance, _NEAR), 0.0)
    at = int(np.argmax(ratio.round(12)))
    return float(ratio[at]), (int(first[at]), int(second[at]))


def observed_pairs(network: Network) -> Ints:
    """Return (k, 2) marks that one observation in use joins, each pair once."""
    ends = [np.stack([network.vectors.start, network.vectors.end], axis=1)]
    ends[0] = ends[0][network.vectors.used]
    for some in network.sights:
        ends.append(np.stack([some.at, some.to], axis=1)[some.used])
    if network.levels is not None:
        levels = network.levels
        ends.append(np.stack([levels.start, levels.end], axis=1)[levels.used])
    marks = np.sort(network.mark_of(np.concatenate(ends)), axis=1)
    apart = marks[marks[:, 0] != marks[:, 1]]
    return np.unique(apart, axis=0)
