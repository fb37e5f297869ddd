"""Known coordinates against the survey: known minus adjusted, where not held."""

from dataclasses import dataclass

import numpy as np
from scipy import special

from ...networks.covariances import Bools, Floats, Ints
from ..above_geoid import above_geoid_covariance, comparable_above_geoid
from ..adjustment import Adjustment
from ..equations.known_marks import known_minus
from ..observed import observed_components
from .known_laid import known_share
from .limits import b_method, normal_limit

_HELD = 1e-9
"""A direction is held when its variance is this share of the largest."""
_MET = 1e-16
"""m²; and where it is less than 0.01 µm squared: the survey is laid there exactly."""


@dataclass(frozen=True, slots=True)
class KnownMinusSurvey:
    """Known marks that this solution neither holds nor weighs, a row each."""

    station: tuple[str, ...]
    known_row: Ints
    """Number of the known row in the network."""
    difference: Floats
    """(n, 3) known minus survey, east, north, up, m; NaN where not known."""
    sd: Floats
    """(n, 3) of the difference, stated, m: of the survey and, where they are stated,
    of the known mark and of those that the survey is laid on."""
    limit: Floats
    """(n, 3) of a single component at the job's confidence, m."""
    statistic: Floats
    components: Ints
    test: Floats
    """(n,) √(T / limit of the B-method); 1 is the limit."""
    verdict: tuple[str, ...]
    """As for an observation: meets, query, fails, unchecked."""


def known_minus_survey(adjustment: Adjustment) -> KnownMinusSurvey:
    """Return how far known marks lie from where the survey puts them.

    In a minimal solution these are all known marks but the one held: how far they
    agree with each other through the survey.

    Parameters
    ----------
    adjustment : Adjustment

    Returns
    -------
    KnownMinusSurvey
        A row a mark; lengths in m.
    """
    network, options = adjustment.network, adjustment.network.options
    asked = compared_components(adjustment)
    rows = np.flatnonzero(asked.any(axis=1))
    marks = network.known.mark[rows]
    difference = np.where(asked, known_minus(network, adjustment.nodes), np.nan)[rows]
    covariance = _covariance(adjustment, rows)
    both = covariance + known_share(adjustment)[rows]
    variance = np.maximum(np.einsum("nii->ni", both), 0.0)
    sd = np.where(asked[rows], np.sqrt(variance), np.nan)
    statistic, count = _statistics(difference, both, asked[rows])
    limits = np.array(
        [
            b_method(options.outlier_alpha, options.power, p)[1] if p else np.nan
            for p in count.tolist()
        ]
    )
    test = np.sqrt(statistic / limits) if len(rows) else np.zeros(0)
    probability = special.chdtrc(count, statistic)
    family = 1 - (1 - probability) ** max(len(rows), 1)
    verdict = np.where(test > 1, "query", "meets")
    verdict = np.where(count > 0, verdict, "unchecked")
    verdict = np.where((test > 1) & (family < 1 - options.confidence), "fails", verdict)
    return KnownMinusSurvey(
        tuple(network.marks.name[mark] for mark in marks),
        rows,
        difference,
        sd,
        normal_limit(1 - options.confidence) * sd,
        statistic,
        count,
        test,
        tuple(str(word) for word in verdict),
    )


def _covariance(adjustment: Adjustment, rows: Ints) -> Floats:
    """Return (k, 3, 3) of the present east, north and height as the rows mean it."""
    known = adjustment.network.known
    marks = known.mark[rows]
    covariance = adjustment.covariance(marks, marks)
    if known.orthometric is not None:
        above = known.orthometric[rows]
        covariance[above] = above_geoid_covariance(adjustment, marks[above])
    return covariance


def compared_components(adjustment: Adjustment) -> Bools:
    """Return (n, 3): known, observed, and neither held nor weighted here.

    A free network that is not laid on known coordinates has no place to compare.
    """
    inner = adjustment.inner
    if inner is not None and not inner.on_known:
        return np.zeros_like(adjustment.network.known.components)
    network, datum = adjustment.network, adjustment.datum
    observed = observed_components(network)[network.known.mark]
    known = network.known.components & network.known.used[:, None]
    above = network.known.orthometric
    if above is not None and not comparable_above_geoid(adjustment):
        known[:, 2] &= ~above
    given = np.zeros((len(network.marks), 3), dtype=bool)
    # A free solution is laid on its marks after one was held to start from.
    rows = (datum.held_rows & (datum.mode != "free")) | datum.weighted
    np.logical_or.at(given, network.known.mark, rows)
    return known & observed & ~given[network.known.mark]


def _statistics(
    difference: Floats, covariance: Floats, asked: Bools
) -> tuple[Floats, Ints]:
    """Return T of each row, and in how many directions the mark may differ at all.

    A mark on the azimuth that a minimal solution holds can differ along it only.
    """
    statistics = np.zeros(len(difference))
    count = np.zeros(len(difference), dtype=np.int64)
    for i in range(len(difference)):
        at = np.flatnonzero(asked[i])
        variances, ways = np.linalg.eigh(covariance[i][np.ix_(at, at)])
        free = variances > max(_HELD * float(variances.max()), _MET)
        along = ways[:, free].T @ difference[i, at]
        statistics[i] = along @ (along / variances[free])
        count[i] = free.sum()
    return statistics, count
