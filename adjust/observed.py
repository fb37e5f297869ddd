"""What the observations in use reach: components of nodes, parameters, freedoms."""

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from ..networks import Network
from ..networks.covariances import Bools, Ints
from .tilt import tilts_from_levels

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
    if network.part is not None:
        return network.part.observed
    marks = len(network.marks)
    observed = np.zeros((3, marks + len(network.set_ups)), dtype=bool)
    for nodes, components in _touches(network):
        _mark(observed, nodes, components)
    _mark(observed, network.set_ups.mark, observed[:, marks:].T.copy())
    return np.asarray(observed.T & dimension_mask(network))


def _mark(observed: Bools, nodes: Ints, components: Bools) -> None:
    """Mark components, (3,) or (n, 3), of nodes as observed, (3, N), in place."""
    seen = np.zeros(observed.shape[1], dtype=bool)
    if components.ndim == 1:
        seen[nodes] = True
    for k in range(3):
        if components.ndim > 1:
            observed[k, nodes[components[:, k]]] = True
        elif components[k]:
            observed[k] |= seen


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
            if ends is not sights.back or sights.kind == "angle":
                yield ends[sights.used], _SEES[sights.kind]
    if network.levels is not None:
        levels = network.levels
        yield levels.start[levels.used], _HEIGHT
        yield levels.end[levels.used], _HEIGHT


def used_parameters(network: Network, weighted: Bools | None = None) -> Bools:
    """Return (q,) whether an observation in use has the parameter.

    Parameters
    ----------
    network : Network
    weighted : ndarray of bool, shape (n, 3), optional
        Components of known rows that are observations; those that the tables weigh
        when not given.
    """
    if network.part is not None:
        return network.part.priors
    # One more, for −1.
    used = np.zeros(len(network.parameters) + 1, dtype=bool)
    named = [
        some.parameter if some.used.all() else some.parameter[some.used]
        for some in network.sights
        if (some.parameter >= 0).any()
    ]
    if network.vectors.parameter is not None:
        named.append(network.vectors.parameter[network.vectors.used])
    if network.levels is not None:
        named.append(network.levels.parameter[network.levels.used])
    positions = network.positions
    if positions.parameter is not None:
        seen = positions.used[:, None] & positions.components & dimension_mask(network)
        named.append(positions.parameter[seen])
    named.append(_of_undulations(network, weighted))
    for numbers in named:
        used[numbers] = True
    return used[:-1]


def _of_undulations(network: Network, weighted: Bools | None) -> Ints:
    """Return the parameters that the undulations in use have in common."""
    undulations, known = network.undulations, network.known
    if undulations is None:
        return np.zeros(0, dtype=np.int64)
    if weighted is None:
        weighted = known.in_use("weighted") & dimension_mask(network)
    common = undulations.estimated
    if known.orthometric is not None and (weighted[:, 2] & known.orthometric).any():
        return common
    without = observed_components(replace(network, levels=None))
    return tilts_from_levels(network, without[: len(network.marks), 2])


def shift_to_find(network: Network) -> bool:
    """Return whether the undulations have a shift that is a parameter."""
    return network.undulations is not None and network.undulations.common[0] >= 0


def free_components(network: Network) -> Bools:
    """Return (s, 3): where a set-up may differ from its mark (sd above 0)."""
    set_ups = network.set_ups
    sds = np.stack([set_ups.sd_centring] * 2 + [set_ups.sd_height], axis=1)
    return np.asarray(sds > 0)


def free_turn(network: Network) -> bool:
    """Return whether nothing observed says which way the plan lies."""
    fixed = _fixed_by_vectors(network, 1) or _fixed_by_positions(network)
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


def placed_by_positions(network: Network) -> bool:
    """Return whether a position in use has no free shift, so that it gives a datum."""
    return bool((network.positions.used & ~_shifted(network)).any())


def _shifted(network: Network) -> Bools:
    """Return (n,) whether a position's group has a shift without a prior."""
    parameter = network.positions.parameter
    if parameter is None:
        return np.zeros(len(network.positions), dtype=bool)
    sd = np.append(network.parameters.sd, 0.0)[parameter]
    return np.asarray(np.isnan(sd).any(axis=1))


def _fixed_by_positions(network: Network) -> bool:
    """Return whether positions say how the plan is turned and sized.

    A group with a shift of its own does as soon as it has two marks.
    """
    if placed_by_positions(network):
        return True
    positions = network.positions
    marks: dict[int, set[int]] = {}
    for i in np.flatnonzero(positions.used & positions.components[:, 0]).tolist():
        (mark,) = network.mark_of(positions.node[i : i + 1]).tolist()
        marks.setdefault(int(positions.group[i]), set()).add(mark)
    return any(len(some) > 1 for some in marks.values())


def free_scale(network: Network) -> bool:
    """Return whether nothing observed says how large the plan is."""
    sized = ("slope distance", "horizontal distance")
    fixed = _fixed_by_vectors(network, 0) or _fixed_by_positions(network)
    scales = np.append(network.parameters.sd, 0.0)
    for some in network.sights:
        if some.kind in sized:
            # A distance with a scale of its own to find sizes nothing.
            fixed |= bool((some.used & ~np.isnan(scales[some.parameter[:, 1]])).any())
    plan = observed_components(network)[: len(network.marks), :2].any()
    return bool(plan and not fixed)
