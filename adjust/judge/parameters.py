"""Parameters that were estimated: their values, and whether they were needed."""

from dataclasses import dataclass

import numpy as np
from scipy import special

from ...networks.covariances import Floats
from ..adjustment import Adjustment
from .limits import normal_limit


@dataclass(frozen=True, slots=True)
class ParameterEstimates:
    """One row an estimated parameter, in its own unit (m, rad, ratio, coefficient)."""

    name: tuple[str, ...]
    kind: tuple[str, ...]
    value: Floats
    sd: Floats
    """Stated."""
    prior: Floats
    """What was thought beforehand; 0 for a constant or scale without a prior, NaN for
    an orientation, which has no value that would mean "not needed"."""
    prior_sd: Floats
    """NaN where there was no prior."""
    statistic: Floats
    """(value − prior) / sd of a parameter without a prior sd: a standard normal
    variable if the parameter is not needed. NaN for others: a prior is tested as an
    observation."""
    probability: Floats
    """Of a larger statistic by chance alone, two-sided."""
    needed: tuple[str, ...]
    """``yes`` or ``no`` at the job's confidence; empty where it is not asked."""


def parameter_estimates(adjustment: Adjustment) -> ParameterEstimates:
    """Return the estimated parameters and whether the data ask for them.

    Parameters
    ----------
    adjustment : Adjustment

    Returns
    -------
    ParameterEstimates
    """
    network = adjustment.network
    parameters, places = network.parameters, len(adjustment.nodes.xyz)
    used = np.flatnonzero(adjustment.columns[places:, 0] >= 0)
    nodes = places + used
    variance = adjustment.covariance(nodes, nodes)[:, 0, 0]
    kinds = tuple(parameters.kind[i] for i in used)
    oriented = np.array([kind == "orientation" for kind in kinds], dtype=bool)
    prior_sd = parameters.sd[used]
    value, sd = adjustment.nodes.values[used], np.sqrt(variance)
    free = ~np.isfinite(prior_sd) & ~oriented
    prior = np.where(oriented, np.nan, np.where(free, 0.0, parameters.start[used]))
    # No value of an undulation, or of a turn that was to be found, is "not needed".
    found = np.isnan(parameters.start[used]) | np.isin(kinds, ["undulation"])
    prior = np.where(free & found, np.nan, prior)
    statistic = np.where(free, (value - prior) / sd, np.nan)
    limit = normal_limit(1 - network.options.confidence)
    asked = np.isfinite(statistic)
    needed = np.where(asked, np.where(np.abs(statistic) > limit, "yes", "no"), "")
    return ParameterEstimates(
        tuple(parameters.name[i] for i in used),
        kinds,
        value,
        sd,
        prior,
        prior_sd,
        statistic,
        2 * special.ndtr(-np.abs(statistic)),
        tuple(str(word) for word in needed),
    )
