"""Normal errors of everything observed, as the stated covariances say.

Each kind is drawn from a stream of its own, so that levels added to a plan leave its
vectors as they were.
"""

from dataclasses import dataclass, replace

import numpy as np

from ..covariances import Covariances, Floats
from ..network import Network

_STREAMS = (
    "set-ups",
    "vectors",
    "positions",
    "known marks",
    "parameters",
    "levels",
    "slope distance",
    "horizontal distance",
    "direction",
    "angle",
    "azimuth",
    "zenith angle",
)
"""Never reordered: the place of a kind is part of its seed."""


@dataclass(frozen=True, slots=True)
class Noise:
    """What chance adds to each observation."""

    set_ups: Floats
    """(s, 3) where each stands off its place, east, north, up, m."""
    vectors: Floats
    """(n, 3) in their axes, m."""
    positions: Floats
    """(p, 3) east, north, up, m."""
    known: Floats
    """(k, 3) east, north, up, m; 0 for held ones, which are the truth."""
    values: Floats
    """(q,) true value minus prior; of an orientation, where the circle's zero is."""
    sights: tuple[Floats, ...]
    """For each kind (n,), m or rad."""
    levels: Floats
    """(l,) m."""


def drawn(network: Network, seed: int) -> Noise:
    """Return the errors of a whole survey.

    Parameters
    ----------
    network : Network
    seed : int
        Not negative.
    """
    random = {
        kind: np.random.default_rng([seed, place])
        for place, kind in enumerate(_STREAMS)
    }
    set_ups, vectors, positions = network.set_ups, network.vectors, network.positions
    sds = np.stack([set_ups.sd_centring] * 2 + [set_ups.sd_height], axis=-1)
    return Noise(
        random["set-ups"].standard_normal((len(set_ups), 3)) * sds,
        _clusters(random["vectors"], vectors.covariances, len(vectors)),
        _clusters(random["positions"], positions.covariances, len(positions)),
        _known(network, random["known marks"]),
        _parameters(network, random["parameters"]),
        tuple(_readings(random[some.kind], some.sd) for some in network.sights),
        np.zeros(0)
        if network.levels is None
        else _readings(random["levels"], network.levels.sd),
    )


def none(network: Network) -> Noise:
    """Return no error at all."""
    return Noise(
        np.zeros((len(network.set_ups), 3)),
        np.zeros((len(network.vectors), 3)),
        np.zeros((len(network.positions), 3)),
        np.zeros((len(network.known), 3)),
        np.zeros(len(network.parameters)),
        tuple(np.zeros(len(some)) for some in network.sights),
        np.zeros(0 if network.levels is None else len(network.levels)),
    )


def _readings(random: np.random.Generator, sd: Floats) -> Floats:
    return np.asarray(random.standard_normal(len(sd)) * np.nan_to_num(sd))


def _clusters(
    random: np.random.Generator, covariances: Covariances, count: int
) -> Floats:
    """Return (count, 3) normal errors; 0 for an observation in no batch."""
    noise = np.zeros((count, 3))
    for batch in covariances:
        # The symmetric root is the same on every machine, a triangle of a
        # semidefinite matrix need not exist.
        values, vectors = np.linalg.eigh(batch.matrix)
        root = vectors * np.sqrt(np.maximum(values, 0.0))[:, None, :]
        root = root @ np.swapaxes(vectors, 1, 2)
        errors = random.standard_normal(batch.matrix.shape[:2])
        made = np.einsum("cij,cj->ci", root, errors)
        noise[batch.members] = made.reshape(*batch.members.shape, 3)
    return noise


def _known(network: Network, random: np.random.Generator) -> Floats:
    known = network.known
    stated = tuple(
        replace(batch, matrix=np.nan_to_num(batch.matrix, nan=0.0))
        for batch in known.covariances
    )
    noise = _clusters(random, stated, len(known))
    return np.where(known.in_use("held"), 0.0, noise)


def _parameters(network: Network, random: np.random.Generator) -> Floats:
    """Return true values minus priors; a circle's zero is anywhere on it.

    So is the turn of vectors that nobody knows beforehand.
    """
    parameters = network.parameters
    error = random.standard_normal(len(parameters)) * np.nan_to_num(parameters.sd)
    zero = random.uniform(0, 2 * np.pi, len(parameters))
    circles = np.array([kind == "orientation" for kind in parameters.kind], dtype=bool)
    return np.where(circles | np.isnan(parameters.start), zero, error)
