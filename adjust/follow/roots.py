"""Everything that was measured on a topographic day, as points with their carriers."""

from dataclasses import dataclass

import numpy as np

from ...networks.covariances import Bools, Floats, Ints
from ...networks.map_scale import turned
from ...networks.shots import Labels, labels
from .budget import placed
from .hung import Hung, base_covariance, services_covariance
from .points import CARRIED, Roots
from .polar import Polar


@dataclass(frozen=True, slots=True)
class Detail:
    """The measured points with what is asked of them: code, line, ground or not."""

    roots: Roots
    code: Labels
    line: Labels
    surface: Bools
    station: Ints
    """(n,) mark of a check shot; −1 = a shot of detail."""
    source: Ints
    """(n,) what fails together: an initialisation, or an instrument's set-up; −1 =
    not booked."""


def detail(hung: Hung, polar: Polar | None = None) -> Detail:
    """Return all shots, those of bases and real-time networks first.

    Parameters
    ----------
    hung : Hung
    polar : Polar, optional
        Shots of total stations.
    """
    shots = hung.shots
    carriers = _carriers(hung)
    bases, services = len(hung.bases), len(shots.service.names)
    nothing = bases + services
    carrier = np.where(
        shots.base >= 0,
        shots.base,
        np.where(shots.service.number >= 0, bases + shots.service.number, nothing),
    )
    carried = np.zeros((len(shots), 3, CARRIED))
    carried[:, [0, 1, 2], [0, 1, 2]] = 1.0
    roots = Roots(
        shots.name, shots.coordinates, hung.budget.own, carrier, carried, carriers
    )
    group = shots.group
    if polar is None or not len(polar.shots):
        return Detail(
            roots, shots.code, shots.line, shots.surface, shots.station, group.number
        )
    size = len(carriers)
    both = np.zeros((size + len(polar.carriers),) * 2)
    both[:size, :size], both[size:, size:] = carriers, polar.carriers
    _cross(both, hung, polar)
    roots = Roots(
        (*shots.name, *polar.shots.name),
        np.concatenate([roots.coordinates, polar.coordinates]),
        np.concatenate([roots.own, polar.own]),
        np.concatenate([carrier, nothing + 1 + polar.carrier]),
        np.concatenate([carried, polar.carried]),
        both,
    )
    source = len(group.names) + polar.carrier
    return Detail(
        roots,
        _joined(shots.code, polar.shots.code),
        _joined(shots.line, polar.shots.line),
        np.concatenate([shots.surface, polar.shots.surface]),
        np.concatenate([shots.station, polar.shots.station]),
        np.concatenate([group.number, source]),
    )


def _joined(first: Labels, second: Labels) -> Labels:
    words = [first.word(i) for i in range(len(first))]
    return labels(words + [second.word(i) for i in range(len(second))])


def _carriers(hung: Hung) -> Floats:
    """Return the covariance of bases, real-time networks, and of nothing: NaN."""
    bases, services = len(hung.bases), len(hung.shots.service.names)
    count = bases + services + 1
    made = np.zeros((count, CARRIED, count, CARRIED))
    own = np.full((count, 3, 3), np.nan)
    own[:bases] = base_covariance(hung)
    own[bases:-1] = services_covariance(hung)
    each = np.arange(count)
    made[each, :3, each, :3] = own
    for i, j, block in _between(hung):
        made[i, :3, j, :3], made[j, :3, i, :3] = block, block.T
    return made.reshape(count * CARRIED, count * CARRIED)


def _between(hung: Hung) -> list[tuple[int, int, Floats]]:
    """Return the cross-covariances of bases, grid axes."""
    bases, adjustment = hung.bases, hung.adjustment
    there = np.flatnonzero(bases.node >= 0)
    there = there[placed(adjustment, bases.node[there])]
    i, j = (there[k] for k in np.triu_indices(len(there), 1))
    if not len(i):
        return []
    cross = adjustment.covariance(bases.node[i], bases.node[j])
    cross = turned(cross, hung.turn[bases.mark[i]])
    return list(zip(i.tolist(), j.tolist(), cross, strict=True))


def _cross(both: Floats, hung: Hung, polar: Polar) -> None:
    """Fill in what bases and instruments have in common through the network."""
    bases, adjustment = hung.bases, hung.adjustment
    there = np.flatnonzero(bases.node >= 0)
    there = there[placed(adjustment, bases.node[there])]
    size = len(both) - len(polar.carriers)
    for k in there.tolist():
        node = np.full(len(polar.nodes), bases.node[k])
        cross = turned(
            adjustment.covariance(node, polar.nodes),
            np.full(len(node), hung.turn[bases.mark[k]]),
        )
        turn = adjustment.covariance(node, polar.turns)[:, :, 0]
        block = np.concatenate([cross, turn[:, :, None]], axis=2)
        for m, some in enumerate(block):
            rows = slice(CARRIED * k, CARRIED * k + 3)
            columns = slice(size + CARRIED * m, size + CARRIED * (m + 1))
            both[rows, columns] = some
            both[columns, rows] = some.T
