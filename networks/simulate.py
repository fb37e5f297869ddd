"""Observations of a planned network: seeded normal noise, and planted blunders.

The plan is a ``Network`` whose marks stand at their true positions and whose heights
and sds are those that will be booked. What the simulation changes is what the
instruments would have given: vectors, positions, known coordinates. So a blunder in
a height leaves the booked height as it is and lets the antenna stand elsewhere.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from .covariances import Covariances, Floats
from .errors import CommandError
from .network import Network
from .observations import Names

FOOT = 0.3048
"""m; international foot, exact (1959 agreement)."""


@dataclass(frozen=True, slots=True)
class Blunder:
    """A blunder to plant.

    Examples
    --------
    A height read as 1.671 m where 1.617 m was on the tape:

    >>> Blunder("set-up height", "S3-2", (0.0, 0.0, 0.054)).shift[2]
    0.054
    """

    kind: str
    """One of ``BLUNDERS``."""
    about: str
    """Name of the set-up, baseline, position or known mark."""
    shift: tuple[float, float, float] = (0.0, 0.0, 0.0)
    """East, north, up, m: booked minus true, + is booked too large."""
    other: str = ""
    """The second name, where the kind needs one."""


@dataclass(frozen=True, slots=True)
class Field:
    """What really was, before anything is observed; a blunder makes another one."""

    network: Network
    nodes: Floats
    """(m + s, 3) where marks and set-ups really are, m."""
    known_shift: Floats
    """(k, 3) known coordinates minus truth, east, north, up, m."""
    vector_shift: Floats
    """(n, 3) added to the vectors, in their axes, m."""
    position_shift: Floats
    """(p, 3) added to the positions, east, north, up, m."""


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
    truth; held ones are the truth. The same seed gives the same noise with and
    without blunders.

    Parameters
    ----------
    network : Network
        The plan. Observed values in it are not used.
    seed : int
    blunders : sequence of Blunder
    truth : ndarray, shape (m, 3), optional
        True positions, m; else the approximate positions of the marks.

    Returns
    -------
    Network

    Raises
    ------
    CommandError
        A blunder of unknown kind, or about a name that is not in the network.
    """
    random = np.random.default_rng(seed)
    true = network.marks.approximate if truth is None else truth
    if not np.isfinite(true).all():
        raise CommandError("every mark of a plan needs a position")
    field = _undisturbed(network, true, random)
    vector_noise = _draw(random, network.vectors.covariances, len(network.vectors))
    position_noise = _draw(
        random, network.positions.covariances, len(network.positions)
    )
    known_noise = _known_noise(network, random)
    for blunder in blunders:
        field = plant(field, blunder)
    return _observe(field, vector_noise, position_noise, known_noise)


def plant(field: Field, blunder: Blunder) -> Field:
    """Return the field with a blunder in it.

    Parameters
    ----------
    field : Field
    blunder : Blunder

    Raises
    ------
    CommandError
        Its kind or its name is not known.
    """
    if blunder.kind not in BLUNDERS:
        raise CommandError(
            f"unknown kind of blunder '{blunder.kind}'; known: {', '.join(BLUNDERS)}"
        )
    return BLUNDERS[blunder.kind](field, blunder)


def _undisturbed(network: Network, true: Floats, random: np.random.Generator) -> Field:
    set_ups = network.set_ups
    axes = network.frame.axes(true)[set_ups.mark]
    sds = np.stack([set_ups.sd_centring] * 2 + [set_ups.sd_height], axis=-1)
    error = random.standard_normal((len(set_ups), 3)) * sds
    error[:, :2] += set_ups.eccentricity
    stood = true[set_ups.mark] + np.einsum("nji,nj->ni", axes, error)
    return Field(
        network,
        np.concatenate([true, stood]),
        np.zeros((len(network.known), 3)),
        np.zeros((len(network.vectors), 3)),
        np.zeros((len(network.positions), 3)),
    )


def _draw(random: np.random.Generator, covariances: Covariances, count: int) -> Floats:
    """Return (count, 3) normal errors; 0 for an observation in no batch."""
    noise = np.zeros((count, 3))
    for batch in covariances:
        # The symmetric root is the same on every machine, a triangle of a
        # semidefinite matrix need not exist.
        values, vectors = np.linalg.eigh(batch.matrix)
        root = vectors * np.sqrt(np.maximum(values, 0.0))[:, None, :]
        root = root @ np.swapaxes(vectors, 1, 2)
        errors = random.standard_normal(batch.matrix.shape[:2])
        drawn = np.einsum("cij,cj->ci", root, errors)
        noise[batch.members] = drawn.reshape(*batch.members.shape, 3)
    return noise


def _known_noise(network: Network, random: np.random.Generator) -> Floats:
    known = network.known
    stated = tuple(
        replace(batch, matrix=np.nan_to_num(batch.matrix, nan=0.0))
        for batch in known.covariances
    )
    noise = _draw(random, stated, len(known))
    return np.where(known.in_use("held"), 0.0, noise)


def _observe(
    field: Field, vector_noise: Floats, position_noise: Floats, known_noise: Floats
) -> Network:
    network = field.network
    axes = network.frame.axes(field.nodes)
    up = axes[:, 2, :]
    vectors, positions, known = network.vectors, network.positions, network.known
    end = field.nodes[vectors.end] + vectors.end_offset[:, None] * up[vectors.end]
    start = (
        field.nodes[vectors.start] + vectors.start_offset[:, None] * (up[vectors.start])
    )
    delta = end - start + field.vector_shift + vector_noise
    stood = (
        field.nodes[positions.node] + positions.offset[:, None] * (up[positions.node])
    )
    turned = np.swapaxes(axes, 1, 2)
    error = field.position_shift + position_noise
    xyz = stood + np.einsum("nij,nj->ni", turned[positions.node], error)
    error = field.known_shift + known_noise
    coordinates = field.nodes[known.mark] + np.einsum(
        "nij,nj->ni", turned[known.mark], error
    )
    return replace(
        network,
        vectors=replace(vectors, delta=delta),
        positions=replace(positions, xyz=xyz),
        known=replace(known, xyz=coordinates),
    )


def _row(names: Names, name: str, what: str) -> int:
    if name not in names:
        raise CommandError(f"no {what} '{name}'; there are {', '.join(names)}")
    return names.index(name)


def _set_up(field: Field, name: str) -> int:
    """Return the node of a set-up."""
    row = _row(field.network.set_ups.name, name, "set-up")
    return len(field.network.marks) + row


def _moved(field: Field, node: int, enu: Sequence[float]) -> Field:
    nodes = field.nodes.copy()
    nodes[node] += np.asarray(enu) @ field.network.frame.axes(nodes[node : node + 1])[0]
    return replace(field, nodes=nodes)


def _set_up_height(field: Field, blunder: Blunder) -> Field:
    """Let the antenna stand lower than booked by the up shift."""
    node = _set_up(field, blunder.about)
    return _moved(field, node, (0.0, 0.0, -blunder.shift[2]))


def _set_up_plan(field: Field, blunder: Blunder) -> Field:
    """Let the set-up stand off its mark: booked minus true is the other way."""
    east, north, _ = blunder.shift
    return _moved(field, _set_up(field, blunder.about), (-east, -north, 0.0))


def _height_in_feet(field: Field, blunder: Blunder) -> Field:
    """Let the height be one read in feet: true is 0.3048 of booked."""
    node = _set_up(field, blunder.about)
    booked = field.network.set_ups.height[node - len(field.network.marks)]
    return _moved(field, node, (0.0, 0.0, booked * (FOOT - 1.0)))


def _wrong_mark(field: Field, blunder: Blunder) -> Field:
    """Let the set-up stand over the other mark, with its own centring error."""
    node = _set_up(field, blunder.about)
    mark = int(field.network.mark_of(np.array([node]))[0])
    other = _row(field.network.marks.name, blunder.other, "mark")
    nodes = field.nodes.copy()
    axes = field.network.frame.axes(nodes[[mark, other]])
    nodes[node] = nodes[other] + (axes[0] @ (nodes[node] - nodes[mark])) @ axes[1]
    return replace(field, nodes=nodes)


def _exchanged(field: Field, blunder: Blunder) -> Field:
    """Let two set-ups be booked under each other's names."""
    pair = [_set_up(field, blunder.about), _set_up(field, blunder.other)]
    nodes = field.nodes.copy()
    nodes[pair] = nodes[pair[::-1]]
    return replace(field, nodes=nodes)


def _known_mark(field: Field, blunder: Blunder) -> Field:
    """Let every known row of the mark be off the truth by the shift."""
    names = field.network.marks.name
    mark = _row(names, blunder.about, "mark")
    rows = field.network.known.mark == mark
    if not rows.any():
        raise CommandError(f"mark '{blunder.about}' has no known coordinates")
    shift = field.known_shift + rows[:, None] * np.asarray(blunder.shift)
    return replace(field, known_shift=shift)


def _baseline(field: Field, blunder: Blunder) -> Field:
    """Let the vector be too large by the shift, in the axes of its start."""
    vectors = field.network.vectors
    row = _row(vectors.name, blunder.about, "baseline")
    start = vectors.start[row]
    axes = field.network.frame.axes(field.nodes[start : start + 1])[0]
    shift = field.vector_shift.copy()
    shift[row] += np.asarray(blunder.shift) @ axes
    return replace(field, vector_shift=shift)


def _position(field: Field, blunder: Blunder) -> Field:
    """Let the position be off the truth by the shift."""
    row = _row(field.network.positions.name, blunder.about, "position")
    shift = field.position_shift.copy()
    shift[row] += blunder.shift
    return replace(field, position_shift=shift)


BLUNDERS: Mapping[str, Callable[[Field, Blunder], Field]] = {
    "set-up height": _set_up_height,
    "set-up plan": _set_up_plan,
    "set-up height in feet": _height_in_feet,
    "set-up on wrong mark": _wrong_mark,
    "set-ups exchanged": _exchanged,
    "baseline": _baseline,
    "position": _position,
    "known mark": _known_mark,
}
"""Every kind of blunder that can be planted."""
