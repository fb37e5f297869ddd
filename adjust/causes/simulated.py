"""How likely so large a test is anywhere in the job, by simulation.

Causes overlap, so their tests are not independent, and Šidák's formula is conservative.
Noise as it is stated is drawn many times and goes through the same causes; counted is
how often the least likely of all tests is as unlikely as the one that was found
(Rofatto et al. 2020). The seed is fixed: the same input gives the same figures.
"""

from dataclasses import replace

import numpy as np
from scipy import special

from ...networks.covariances import Floats
from .result import Simulation, Suspects, verdicts_of

SEED = 20_200_312
_CHUNK = 500
_CONFIDENCE = 0.95


def simulated(found: Suspects, draws: int) -> Suspects:
    """Return the causes with probabilities over all of them by simulation.

    Parameters
    ----------
    found : Suspects
    draws : int
        Surveys that are drawn.

    Returns
    -------
    Suspects
        As it was where causes were too many to be taken together: what was not taken
        along cannot be drawn.
    """
    if found.made.dropped or not len(found):
        return found
    least = _least(found, draws)
    options = found.adjustment.network.options
    count = np.array([(least <= p).sum() for p in found.basis.probability.tolist()])
    family = count / draws
    tail = (1 - _CONFIDENCE) / 2
    # Exact binomial limits (Clopper and Pearson 1934; from memory).
    some, others = np.maximum(count, 1), np.maximum(draws - count, 1)
    lower = special.betaincinv(some, draws - count + 1, tail) * (count > 0)
    upper = special.betaincinv(count + 1, others, 1 - tail)
    upper = np.where(count < draws, upper, 1.0)
    return replace(
        found,
        family_probability=family,
        verdict=verdicts_of(found.test, family, options.confidence),
        simulation=Simulation(draws, SEED, _CONFIDENCE, lower, upper),
    )


def _least(found: Suspects, draws: int) -> Floats:
    """Return the smallest probability of any cause in each of the draws."""
    made = found.made
    design = made.rows.design
    left = made.scaled.toarray() - np.asarray(
        design @ made.spread(np.arange(made.scaled.shape[1]))
    )
    widths = np.diff(made.first)
    classes = [np.flatnonzero(widths == w) for w in sorted(set(widths[widths > 0]))]
    random = np.random.default_rng(SEED)
    unlikely = []
    for start in range(0, draws, _CHUNK):
        size = min(_CHUNK, draws - start)
        noise = random.standard_normal((size, len(left)))
        square = np.zeros((size, left.shape[1] + 1))
        np.cumsum((noise @ left) ** 2, axis=1, out=square[:, 1:])
        scale = _rest(found, noise)
        smallest = np.ones(size)
        for some in classes:
            statistic = square[:, made.first[some + 1]] - square[:, made.first[some]]
            p = int(widths[some[0]])
            most = np.maximum(statistic.max(axis=1), 0.0)
            smallest = np.minimum(smallest, _probability(found, most, p, scale))
        unlikely.append(smallest)
    return np.concatenate(unlikely)


def _rest(found: Suspects, noise: Floats) -> Floats:
    """Return vᵀPv of each draw; not needed where tests stand on what is stated."""
    if found.adjustment.network.options.tests_from == "stated":
        return np.zeros(len(noise))
    design, factor = found.made.rows.design, found.adjustment.factor
    real = np.diff(design.tocsr().indptr) > 0
    pull = np.asarray(design.T @ noise.T)
    explained = (pull * factor.solve(pull)).sum(axis=0)
    return np.asarray((noise[:, real] ** 2).sum(axis=1) - explained)


def _probability(found: Suspects, statistic: Floats, p: int, vtpv: Floats) -> Floats:
    if found.adjustment.network.options.tests_from == "stated":
        return np.asarray(special.chdtrc(p, statistic))
    left = found.variance_factor.degrees_of_freedom - p
    if left < 1:
        return np.ones(len(statistic))
    rest = np.maximum(vtpv - statistic, 1e-300)
    return np.asarray(special.fdtrc(p, left, (statistic / p) / (rest / left)))
