"""What the observations in use reach: components of nodes, parameters, freedoms."""

from collections.abc import Iterator

import numpy as np

from ..networks import Network
from ..networks.covariances import Bools, Ints

_PLAN = np.array([True, True, False])
_HEIGHT = np.array([False, False, True])
_SPACE = np.array([True, True, True])
# What a kind of sight sees of its ends, where the earth is flat or nearly so.
_SEES = {
    "slope distance": _SPACE,
    "zenith angle": _SPACE,
    "horizontal distance": _PLAN,
    "direction": _PLAN,
    "angle": _PLAN,
    "azimuth": _PLAN,
}
_DIMENSIONS = {"plan": _PLAN, "height": _HEIGHT}


def observed_components(network: Network) -> Bools:
    """Return (N, 3): which components of marks and set-ups observations in use reach.

    A set-up that nothing uses is not observed, nor is a mark that is only known.
    A dimension that the job states leaves the other components out.
    """
    marks = len(network.marks)
    observed = np.zeros((marks + len(network.set_ups), 3), dtype=bool)
    for nodes, components in _touches(network):
        np.logical_or.at(observed, nodes, components)
    np.logical_or.at(observed, network.set_ups.mark, observed[marks:])
    return np.asarray(observed & dimension_mask(network))


def dimension_mask(network: Network) -> Bools:
    """Return (3,): which of east, north, up the job's dimension has."""
    return _DIMENSIONS.get(network.dimension, _SPACE)


def _touches(network: Network) -> Iterator[tuple[Ints, Bools]]:
    """Yield node numbers and the components that one kind sees there."""
    vectors, positions = network.vectors, network.positions
    yield vectors.start[vectors.used], _SPACE
    yield vectors.end[vectors.used], _SPACE
    yield positions.node[positions.used], positions.components[positions.used]
    for sights in network.sights:
        for ends in (sights.at, sights.to, sights.back):
            nodes = ends[sights.used]
            yield nodes[nodes >= 0], _SEES[sights.kind]
    if network.levels is not None:
        levels = network.levels
        yield levels.start[levels.used], _HEIGHT
        yield levels.end[levels.used], _HEIGHT


def used_parameters(network: Network) -> Bools:
    """Return (q,) whether an observation in use has the parameter."""
    used = np.zeros(len(network.parameters), dtype=bool)
    named = [some.parameter[some.used] for some in network.sights]
    if network.vectors.parameter is not None:
        named.append(network.vectors.parameter[network.vectors.used])
    if network.levels is not None:
        named.append(network.levels.parameter[network.levels.used])
    for numbers in named:
        used[numbers[numbers >= 0]] = True
    return used


def free_components(network: Network) -> Bools:
    """Return (s, 3): where a set-up may differ from its mark (sd above 0)."""
    set_ups = network.set_ups
    sds = np.stack([set_ups.sd_centring] * 2 + [set_ups.sd_height], axis=1)
    return np.asarray(sds > 0)


def free_turn(network: Network) -> bool:
    """Return whether nothing observed says which way the plan lies."""
    fixed = _fixed_by_vectors(network, 1) or bool(network.positions.used.any())
    fixed |= any(s.kind == "azimuth" and s.used.any() for s in network.sights)
    plan = observed_components(network)[: len(network.marks), :2].any()
    return bool(plan and not fixed)


def _fixed_by_vectors(network: Network, slot: int) -> bool:
    """Return whether a vector in use has no free scale (0) or turn (1)."""
    vectors = network.vectors
    if vectors.parameter is None:
        return bool(vectors.used.any())
    number = vectors.parameter[:, slot]
    free = np.isnan(np.append(network.parameters.sd, 0.0)[number])
    return bool((vectors.used & ~free).any())


def free_scale(network: Network) -> bool:
    """Return whether nothing observed says how large the plan is."""
    sized = ("slope distance", "horizontal distance")
    fixed = _fixed_by_vectors(network, 0) or bool(network.positions.used.any())
    fixed |= any(s.kind in sized and s.used.any() for s in network.sights)
    plan = observed_components(network)[: len(network.marks), :2].any()
    return bool(plan and not fixed)
