"""Which unknowns each observation touches, read off the columns of a network."""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from ...networks import Network
from ...networks.covariances import Bools, Covariances, Floats, Ints
from ..datum import Datum
from ..observed import observed_components, used_parameters


@dataclass(frozen=True, slots=True)
class Touched:
    """The observations of one kind, without their numbers."""

    kind: str
    node: Ints
    """(n, k) nodes each may depend on, −1 for none; parameters are nodes too."""
    cluster: Ints
    """(n,) observations of one number are correlated; −1: none of them in use."""


def touched(network: Network, hold: Datum) -> tuple[Touched, ...]:
    """Return every kind of observation, those that have no rows too.

    Parameters
    ----------
    network : Network
    hold : Datum

    Returns
    -------
    tuple of Touched
        Vectors, a kind each of ``network.sights``, levels (if the network has any),
        positions, known marks, set-ups, parameters.
    """
    return tuple(_kinds(network, hold))


def _kinds(network: Network, hold: Datum) -> Iterator[Touched]:
    places = len(network.marks) + len(network.set_ups)
    vectors, positions, known = network.vectors, network.positions, network.known
    yield _kind(
        "baseline",
        [vectors.start, vectors.end, _parameters(vectors.parameter, places)],
        vectors.used,
        vectors.covariances,
    )
    for some in network.sights:
        ends = [some.at, some.to, some.back, _parameters(some.parameter, places)]
        yield _kind(some.kind, ends, some.used)
    common = np.zeros(0, dtype=np.int64)
    if network.undulations is not None:
        common = places + network.undulations.estimated
    if network.levels is not None:
        levels = network.levels
        ends = [levels.start, levels.end, _parameters(levels.parameter, places)]
        ends.append(np.broadcast_to(common, (len(levels), len(common))))
        yield _kind("level difference", ends, levels.used)
    yield _kind(
        "position",
        [positions.node, _parameters(positions.parameter, places)],
        positions.used,
        positions.covariances,
    )
    of_known = np.zeros((0, 0), dtype=np.int64)
    if known.orthometric is not None:
        of_known = np.where(known.orthometric[:, None], common, -1)
    weighted = np.asarray((hold.weighted & known.components).any(axis=1))
    yield _kind("known mark", [known.mark, of_known], weighted, known.covariances)
    yield _own(network, hold)[0]
    yield _own(network, hold)[1]


def _own(network: Network, hold: Datum) -> tuple[Touched, Touched]:
    """Return the observations that set-ups and parameters with a prior are."""
    marks, set_ups = len(network.marks), network.set_ups
    stood = np.asarray(observed_components(network)[marks:].any(axis=1))
    node = marks + np.arange(len(set_ups))
    sd = network.parameters.sd
    prior = used_parameters(network, hold.weighted) & np.isfinite(sd) & (sd > 0)
    number = marks + len(set_ups) + np.arange(len(sd))
    return (
        _kind("set-up", [set_ups.mark, node], stood),
        _kind("parameter", [number], prior),
    )


def _parameters(numbers: Ints | None, places: int) -> Ints:
    if numbers is None:
        return np.zeros((0, 0), dtype=np.int64)
    return np.where(numbers >= 0, places + numbers, -1)


def _kind(
    kind: str, ends: list[Ints], used: Bools, covariances: Covariances = ()
) -> Touched:
    wide = [end[:, None] if end.ndim == 1 else end for end in ends if end.size]
    node = np.concatenate(wide, axis=1) if wide else np.zeros((len(used), 0), np.int64)
    cluster = np.arange(len(used))
    for batch in covariances:
        if batch.members.shape[1] > 1:
            cluster[batch.members] = batch.members[:, :1]
    any_used = np.zeros(len(used), dtype=bool)
    any_used[cluster[used]] = True
    return Touched(kind, node, np.where(any_used[cluster], cluster, -1))


def spread(kinds: tuple[Touched, ...], values: list[Ints], count: int) -> Floats:
    """Return for every node the least value of the observations that touch it.

    Parameters
    ----------
    kinds : tuple of Touched
    values : list of ndarray, shape (n,)
        Of the observations of each kind; negative ones do not count.
    count : int
        How many nodes there are.

    Returns
    -------
    ndarray, shape (count,)
        Infinite where nothing touches.
    """
    least = np.full(count + 1, np.inf)
    for kind, value in zip(kinds, values, strict=True):
        for nodes in kind.node.T:
            np.minimum.at(least, nodes, np.where(value >= 0, value, np.inf))
    return least[:-1]
