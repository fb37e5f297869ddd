"""Two epochs of one network made comparable: common marks, one frame, one datum."""

from dataclasses import dataclass

import numpy as np

from ...networks import GeodeticFrame, Network
from ...networks.covariances import Bools, Floats, Ints
from ...networks.datums import same_datum
from ..adjustment import Adjustment
from ..judge.limits import fisher_quantile
from ..observed import free_scale, free_turn
from .congruency import Movements, Scale

EPOCH_LIMIT = 0.125
"""Years between reference epochs of one frame: 1 cm where plates move 8 cm a year."""

_ROUNDING = 1e-4
"""m that a turn may bend the plan by, beyond the first order, before it is refused."""


def incomparable(first: Network, second: Network) -> str:
    """Return in words why two networks cannot be compared; nothing if they can.

    Parameters
    ----------
    first, second : Network
    """
    one, other = first.frame, second.frame
    said = f"{one.describe()}, and {other.describe()}"
    if one.kind != other.kind:
        return f"they are in different kinds of frame: {said}"
    if not isinstance(one, GeodeticFrame) or not isinstance(other, GeodeticFrame):
        return ""
    if not same_datum(one.geographic_epsg, other.geographic_epsg):
        return f"they are in different frames: {said}; bring one over first"
    gap = abs(one.epoch - other.epoch)
    if gap > EPOCH_LIMIT:
        return (
            f"their coordinates are at different epochs, {gap:.3f} year apart: {said}; "
            "the ground moves with its plate meanwhile; bring one over first"
        )
    return ""


def heights_differ(first: Network, second: Network, marks: "Common") -> str:
    """Return in words why heights cannot be compared; nothing if they can."""
    data = [getattr(one.frame, "height_datum", "") for one in (first, second)]
    if data[0] != data[1]:
        return f"heights are in different datums: {data[0]!r} and {data[1]!r}"
    above = [one.undulations for one in (first, second)]
    if (above[0] is None) != (above[1] is None):
        return "one of them knows the geoid and the other does not"
    if above[0] is None or above[1] is None:
        return ""
    gap = above[1].value[marks.second] - above[0].value[marks.first]
    gap = np.abs(gap[np.isfinite(gap)])
    if gap.size and gap.max() > _ROUNDING:
        return f"their undulations differ by up to {1000 * gap.max():.1f} mm"
    return ""


@dataclass(frozen=True, slots=True)
class Common:
    """Marks that two networks have in common, by name."""

    station: tuple[str, ...]
    first: Ints
    """(m,) number of the mark in the first network."""
    second: Ints

    def those(self, which: Bools) -> "Common":
        """Return some of them."""
        names = tuple(self.station[i] for i in np.flatnonzero(which))
        return Common(names, self.first[which], self.second[which])


def common_marks(first: Network, second: Network) -> Common:
    """Return the marks of both networks, in the order of the first."""
    at = {name: i for i, name in enumerate(second.marks.name)}
    rows = [(i, at[n]) for i, n in enumerate(first.marks.name) if n in at]
    pairs = np.array(rows, dtype=np.int64).reshape(-1, 2)
    names = tuple(first.marks.name[i] for i in pairs[:, 0])
    return Common(names, pairs[:, 0], pairs[:, 1])


def movements(
    first: Adjustment, second: Adjustment, part: str
) -> tuple[Movements, str]:
    """Return second minus first of the marks that both have, in plan or in height.

    Parameters
    ----------
    first, second : Adjustment
        Of one network at two epochs, by different observations; in any datum.
    part : str
        ``plan`` or ``height``.

    Returns
    -------
    Movements
    str
        Why they cannot be compared, in words; empty if they can.
    """
    slots = slice(0, 2) if part == "plan" else slice(2, 3)
    marks = common_marks(first.network, second.network)
    has = first.estimated[marks.first] & second.estimated[marks.second]
    marks = marks.those(np.asarray(has[:, slots].all(axis=1)))
    xyz = first.nodes.xyz[marks.first]
    axes = first.network.frame.axes(xyz)
    gap = second.nodes.xyz[marks.second] - xyz
    if first.network.frame.kind == "geodetic" and len(gap):
        # A shift of all is a matter of datum, and the axes differ from mark to mark.
        gap = gap - gap.mean(axis=0)
    free = _freedoms(first, second, marks, axes)[:, slots]
    moves = Movements(
        marks.station,
        np.einsum("mij,mj->mi", axes, gap)[:, slots],
        _covariance(first, marks.first)[:, slots][:, :, :, slots]
        + _covariance(second, marks.second)[:, slots][:, :, :, slots],
        free,
    )
    why = ""
    if part == "height":
        why = heights_differ(first.network, second.network, marks)
    elif len(marks.station):
        why = _bent(moves)
    return moves, why


def _covariance(adjustment: Adjustment, marks: Ints) -> Floats:
    """Return (m, 3, m, 3), stated, m²."""
    count = len(marks)
    blocks = adjustment.covariance(np.repeat(marks, count), np.tile(marks, count))
    return np.swapaxes(blocks.reshape(count, count, 3, 3), 1, 2)


def _freedoms(
    first: Adjustment, second: Adjustment, marks: Common, axes: Floats
) -> Floats:
    """Return (m, 3, f): shifts, and the turn and scale that either leaves free."""
    both = (first.network, second.network)
    xyz = first.nodes.xyz[marks.first]
    if not len(xyz):
        return np.zeros((0, 3, 3))
    middle = xyz.mean(axis=0)
    ways = first.network.frame.axes(middle[None])[0]
    arm = xyz - middle
    made = np.zeros((len(xyz), 3, 3))
    made[:] = np.eye(3)
    more = []
    if any(free_turn(one) for one in both):
        more.append(np.cross(ways[2], arm))
    if any(free_scale(one) for one in both):
        more.append(arm)
    local = [np.einsum("mij,mj->mi", axes, move)[:, :, None] for move in more]
    return np.concatenate([made, *local], axis=2)


def _bent(moves: Movements) -> str:
    """Return in words that the plan was laid down turned by too much; else nothing.

    A turn is taken out to the first order; of a large one the second is left over.
    """
    rows = moves.difference.size
    free = moves.freedoms.reshape(rows, -1)
    size = np.linalg.norm(free, axis=0)
    use = size > 0
    amounts = np.zeros(len(size))
    found = np.linalg.pinv(free[:, use] / size[use]) @ moves.difference.reshape(rows)
    amounts[use] = found / size[use]
    arm = np.linalg.norm(moves.freedoms[:, :, 3:], axis=1).max(initial=0.0)
    bent = arm * float(np.sum(amounts[3:] ** 2))
    if bent < _ROUNDING:
        return ""
    return (
        "the plan of the second is turned or sized otherwise by so much that it is not "
        f"the same grid (it bends the comparison by {1000 * bent:.1f} mm); hold the "
        "same azimuth in both"
    )


def scale_of(first: Adjustment, second: Adjustment) -> tuple[Scale, str]:
    """Return the variance by which movements are judged, and what is to be said of it.

    Stated if either job takes its tests from the stated covariances. Otherwise the
    two estimates pooled, if F does not tell them apart (two-sided, at the confidence
    of the second); else none: nothing can be judged by it.

    Parameters
    ----------
    first, second : Adjustment
    """
    both = (first, second)
    if any(one.network.options.tests_from == "stated" for one in both):
        return Scale("stated", 1.0, 0), ""
    freedoms = [one.degrees_of_freedom for one in both]
    if min(freedoms) < 1:
        said = "one of the two has no degrees of freedom to estimate a variance from"
        return Scale("none", 1.0, 0), said
    confidence = second.network.options.confidence
    ratio = first.s0_sq / second.s0_sq
    low, high = (
        fisher_quantile(tail, *freedoms)
        for tail in ((1 - confidence) / 2, (1 + confidence) / 2)
    )
    said = f"s0² {first.s0_sq:.2f} and {second.s0_sq:.2f}, ratio {ratio:.2f}, limits "
    said += f"{low:.2f} … {high:.2f}"
    if not low <= ratio <= high:
        return Scale("none", 1.0, 0), f"not pooled, for they are not equal: {said}"
    total = sum(freedoms)
    pooled = (first.vtpv + second.vtpv) / total
    return Scale("pooled", pooled, total), f"pooled: {said}"
