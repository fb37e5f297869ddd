"""A simulated survey: the plan, with what the instruments would have given.

The plan is a ``Network`` whose marks stand at their true positions and whose heights
and sds are those that will be booked. What the simulation changes is what was
observed: vectors, positions, sights, levels, known coordinates. So a blunder in a
height leaves the booked height as it is and lets the antenna stand elsewhere.
"""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from ..covariances import Floats
from ..errors import CommandError
from ..network import Network
from .field import Field, field_of
from .noise import Noise, drawn, none
from .planted import Blunder, plant
from .readings import (
    common_undulation,
    levels_read,
    position_shifts,
    sights_read,
    vectors_read,
)

_CIRCLES = ("direction", "angle", "azimuth")
_HEIGHT = np.array([0.0, 0.0, 1.0])


def simulate(
    network: Network,
    *,
    seed: int,
    blunders: Sequence[Blunder] = (),
    truth: Floats | None = None,
) -> Network:
    """Return the network with simulated observations.

    Centring and height errors of a set-up are drawn once and carried into all that
    was observed from it; vectors of a session are drawn with their correlations.
    Weighted and check-only coordinates with a stated covariance are drawn about the
    truth; held ones are the truth. A parameter with a prior is drawn about it,
    an orientation, or a turn of vectors that is to be found, from the whole circle;
    another free parameter is as the plan starts it. The same seed gives the same noise
    with and without blunders.

    Parameters
    ----------
    network : Network
        The plan. Observed values in it are not used.
    seed : int
        Not negative.
    blunders : sequence of Blunder
    truth : ndarray, shape (m, 3), optional
        True positions, m; else the approximate positions of the marks.

    Returns
    -------
    Network
        The plan with its observed values (m, rad) in place.

    Raises
    ------
    CommandError
        A blunder of unknown kind, or about a name that is not in the network.
    """
    true = network.marks.approximate if truth is None else truth
    if not np.isfinite(true).all():
        raise CommandError("every mark of a plan needs a position")
    noise = drawn(network, seed)
    field = _undisturbed(network, true, noise)
    for blunder in blunders:
        field = plant(field, blunder)
    return _observed(field, noise)


def undisturbed(network: Network, truth: Floats | None = None) -> Network:
    """Return the network with what would be observed without any error.

    Parameters
    ----------
    network : Network
        The plan. Observed values in it are not used.
    truth : ndarray, shape (m, 3), optional
        True positions, m; else the approximate positions of the marks.

    Returns
    -------
    Network

    Raises
    ------
    CommandError
        A mark has no position.
    """
    true = network.marks.approximate if truth is None else truth
    if not np.isfinite(true).all():
        raise CommandError("every mark of a plan needs a position")
    noise = none(network)
    return _observed(_undisturbed(network, true, noise), noise)


def _undisturbed(network: Network, true: Floats, noise: Noise) -> Field:
    set_ups, parameters = network.set_ups, network.parameters
    axes = network.frame.axes(true)[set_ups.mark]
    error = noise.set_ups.copy()
    error[:, :2] += set_ups.eccentricity
    stood = true[set_ups.mark] + np.einsum("nji,nj->ni", axes, error)
    values = np.nan_to_num(parameters.start) + noise.values
    return field_of(network, np.concatenate([true, stood]), values)


def _observed(field: Field, noise: Noise) -> Network:
    network = field.network
    positions, known = network.positions, network.known
    axes = network.frame.axes(field.nodes)
    stood = field.nodes[positions.node]
    stood = stood + positions.offset[:, None] * axes[positions.node, 2]
    error = field.position_shift + position_shifts(field) + noise.positions
    xyz = stood + np.einsum("nji,nj->ni", axes[positions.node], error)
    error = field.known_shift + noise.known
    if known.orthometric is not None:
        # Brought to the ellipsoid by what was thought of the geoid.
        error = error - _HEIGHT * _too_high(field)[:, None]
    placed = field.nodes[known.mark]
    placed = placed + np.einsum("nji,nj->ni", axes[known.mark], error)
    delta = vectors_read(field) + field.vector_shift + noise.vectors
    return replace(
        _sighted(field, noise),
        vectors=replace(network.vectors, delta=delta),
        positions=replace(positions, xyz=xyz),
        known=replace(known, xyz=placed),
    )


def _too_high(field: Field) -> Floats:
    """Return (k,) how much higher the geoid is than thought at known heights, m."""
    known = field.network.known
    common = common_undulation(field)[known.mark]
    return common if known.orthometric is None else common * known.orthometric


def _sighted(field: Field, noise: Noise) -> Network:
    """Return the network with its sights and levels read."""
    network, made = field.network, []
    for sights, shift, error in zip(
        network.sights, field.sight_shift, noise.sights, strict=True
    ):
        value = sights_read(field, sights) + shift + error
        if sights.kind in _CIRCLES:
            value = np.mod(value, 2 * np.pi)
        made.append(replace(sights, value=value))
    levels = network.levels
    if levels is not None:
        rise = levels_read(field, levels) + field.level_shift + noise.levels
        levels = replace(levels, rise=rise)
    return replace(network, sights=tuple(made), levels=levels)
