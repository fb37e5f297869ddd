"""Which components of which nodes are unknown, and the column of each."""

from collections.abc import Iterator

import numpy as np

from ..networks import Network
from ..networks.covariances import Bools, Ints
from .datum import Datum

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
    return observed & _DIMENSIONS.get(network.dimension, _SPACE)


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
    some = [*network.sights, *([network.levels] if network.levels else [])]
    for edges in some:
        named = edges.parameter[edges.used]
        used[named[named >= 0]] = True
    return used


def free_components(network: Network) -> Bools:
    """Return (s, 3): where a set-up may differ from its mark (sd above 0)."""
    set_ups = network.set_ups
    sds = np.stack([set_ups.sd_centring] * 2 + [set_ups.sd_height], axis=1)
    return np.asarray(sds > 0)


def unknown_columns(network: Network, datum: Datum) -> Ints:
    """Return (N + q, 3) the column of each component; −1 where it is no unknown.

    Held components are not unknowns. A set-up's exact component is its mark's. A
    parameter has its column in its first component, and none where its sd is 0.
    """
    count = len(network.marks)
    observed = observed_components(network)
    columns = np.full((len(observed) + len(network.parameters), 3), -1, dtype=np.int64)
    free = observed[:count] & ~datum.held_marks(network)
    columns[:count][free] = np.arange(free.sum())
    set_ups = columns[count : len(observed)]
    of_mark = columns[:count][network.set_ups.mark]
    own = free_components(network) & observed[count:]
    set_ups[:] = np.where(observed[count:], of_mark, -1)
    set_ups[own] = free.sum() + np.arange(own.sum())
    unknown = used_parameters(network) & ~(network.parameters.sd == 0)
    first = free.sum() + own.sum()
    columns[len(observed) :, 0][unknown] = first + np.arange(unknown.sum())
    return columns
