"""Known marks that a solution only compares: how far off, and what holding would do."""

import numpy as np
from scipy import special

from ...networks.covariances import Floats
from ..adjustment import Adjustment
from ..equations.known_marks import known_minus
from .control_rows import ControlRow, control_row
from .known_laid import known_share
from .known_marks import compared_components
from .limits import b_method

_HERE = {"plan": slice(0, 2), "height": slice(2, 3)}
_HELD = 1e-9
"""A direction is held when its variance is this share of the largest."""
_MET = 1e-16
"""m²; and where it is less than 0.01 µm squared: the survey is laid there exactly."""


def compared(adjustment: Adjustment, part: str) -> list[ControlRow]:
    """Return the known marks that are neither held nor weighted in this solution.

    Parameters
    ----------
    adjustment : Adjustment
    part : "plan" or "height"
    """
    network, known = adjustment.network, adjustment.network.known
    here = _HERE[part]
    rows = np.flatnonzero(compared_components(adjustment)[:, here].all(axis=1))
    difference = known_minus(network, adjustment.nodes)
    marks = known.mark[rows]
    survey = adjustment.covariance(marks, marks) + known_share(adjustment)[rows]
    made = []
    for row, mark, own in zip(rows.tolist(), marks.tolist(), survey, strict=True):
        both = own[here, here]
        off, covariance = np.full(3, np.nan), np.full((3, 3), np.nan)
        off[here] = difference[row, here]
        covariance[here, here] = both
        made.append(
            control_row(
                adjustment,
                (network.marks.name[mark], part, "check-only"),
                (off, covariance),
                _judged(adjustment, off[here], both, len(rows)),
            )
        )
    return made


def _inverse(covariance: Floats) -> tuple[Floats, int]:
    """Return the inverse among the directions that are free, and how many they are.

    A mark on the azimuth that a minimal solution holds can differ along it only.
    """
    values, ways = np.linalg.eigh(covariance)
    free = values > _HELD * max(float(values[-1]), _MET / _HELD)
    some = ways[:, free]
    return np.asarray((some / values[free]) @ some.T), int(free.sum())


def _judged(
    adjustment: Adjustment, off: Floats, covariance: Floats, tried: int
) -> tuple[float, str]:
    """Return the test of a difference and its verdict, of so many."""
    options = adjustment.network.options
    inverse, size = _inverse(covariance)
    if not size:
        return float("nan"), "unchecked"
    statistic = float(off @ inverse @ off)
    limit = b_method(options.outlier_alpha, options.power, size)[1]
    test = float(np.sqrt(statistic / limit))
    single = float(special.chdtrc(size, statistic))
    with np.errstate(divide="ignore"):
        family = -np.expm1(tried * np.log1p(-single))
    over = "fails" if family < 1 - options.confidence else "query"
    return test, over if test > 1 else "meets"


def held_there(adjustment: Adjustment, row: ControlRow) -> Floats:
    """Return (m, 3) how marks would move if one were held: Q_k Q⁻¹ d.

    Parameters
    ----------
    adjustment : Adjustment
    row : ControlRow
        Of a mark that is only compared.
    """
    count, here = len(adjustment.network.marks), _HERE[row.part]
    mark = adjustment.network.marks.name.index(row.station)
    cross = adjustment.covariance(np.arange(count), np.full(count, mark))
    inverse, _ = _inverse(cross[mark][here, here])
    return np.asarray(cross[:, :, here] @ inverse @ row.difference[here])
