"""Shots together with the adjusted control that they hang on."""

from dataclasses import dataclass, replace

import numpy as np

from ...networks import Options
from ...networks.covariances import Floats, Ints
from ...networks.map_scale import turn_and_scale, turned
from ...networks.shots import Bases, Shots, TopoOptions
from ..adjustment import Adjustment
from ..precision.heights import orthometric_heights
from .budget import Budget, base_extra, placed, pole_covariance
from .descent import Descent, descent


@dataclass(frozen=True, slots=True)
class Hung:
    """Shots, what they hang on, and what they are worth."""

    shots: Shots
    bases: Bases
    adjustment: Adjustment
    topo: TopoOptions
    descent: Descent
    budget: Budget
    control: Floats
    """(m, 3) grid east, grid north, height of the adjusted marks, m; the height is
    above the geoid where the shots' heights are."""
    control_covariance: Floats
    """(m, 3, 3) of the marks, grid axes, stated; NaN where a mark has no place."""
    turn: Floats
    """(m,) of geodetic north from grid north at the marks, rad."""
    scale: float
    """Grid metres a metre on the ground, in the middle of the control."""

    @property
    def options(self) -> Options:
        """Probabilities of the job's tests."""
        return self.adjustment.network.options


def hang(shots: Shots, bases: Bases, adjustment: Adjustment, topo: TopoOptions) -> Hung:
    """Return shots hung on adjusted control, with the budget of each.

    Parameters
    ----------
    shots : Shots
    bases : Bases
    adjustment : Adjustment
        Of the control network.
    topo : TopoOptions

    Returns
    -------
    Hung
    """
    network = adjustment.network
    marks = np.arange(len(network.marks))
    xyz = adjustment.nodes.xyz[: len(marks)]
    turn, scale = np.full(len(marks), np.nan), np.full(len(marks), np.nan)
    grid = np.full((len(marks), 3), np.nan)
    there = placed(adjustment, marks)
    if there.any():
        turn[there], scale[there] = turn_and_scale(network.frame, xyz[there])
        grid[there] = network.frame.grid(xyz[there])
    own = np.full((len(marks), 3, 3), np.nan)
    own[there] = turned(adjustment.covariance(marks[there], marks[there]), turn[there])
    control = grid[:, [1, 0, 2]]
    heights = orthometric_heights(adjustment)
    if heights is not None and shots.above_geoid.any():
        # Above the geoid a height has another sd, and what it shares with the plan
        # is not known: it is small.
        control[:, 2] = heights.height
        own[:, 2, :2] = own[:, :2, 2] = 0.0
        own[:, 2, 2] = heights.sd**2
    middle = float(np.nanmedian(scale)) if there.any() else 1.0
    vector = np.zeros((len(shots), 3, 3))
    vector[:, [0, 1, 2], [0, 1, 2]] = shots.sd**2
    pole = pole_covariance(shots, topo)
    none = np.full((len(shots), 3, 3), np.nan)
    made = Hung(
        shots,
        bases,
        adjustment,
        topo,
        descent(shots, bases),
        Budget(none, vector, pole),
        control,
        own,
        turn,
        middle,
    )
    return replace(made, budget=replace(made.budget, base=_base(made)))


def with_vectors(hung: Hung, vector: Floats) -> Hung:
    """Return the shots with other covariances of their vectors, (n, 3, 3), m²."""
    budget = replace(hung.budget, vector=vector)
    made = replace(hung, budget=budget)
    return replace(made, budget=replace(budget, base=_base(made)))


def _base(hung: Hung) -> Floats:
    """Return (n, 3, 3) of what each shot hangs on; NaN where that is not known."""
    shots, bases = hung.shots, hung.bases
    of_base = np.full((len(bases) + 1, 3, 3), np.nan)
    if len(bases):
        of_base[:-1] = base_covariance(hung)
    made = of_base[shots.base]
    tied = services_covariance(hung)
    rows = np.flatnonzero((shots.base < 0) & (shots.service.number >= 0))
    made[rows] = tied[shots.service.number[rows]]
    return np.asarray(made)


def base_covariance(hung: Hung) -> Floats:
    """Return (b, 3, 3) covariance of each base, grid axes; NaN where it has no mark.

    A set-up that took part in the adjustment has its own; another one has that of its
    mark, with centring and height added.
    """
    bases, adjustment = hung.bases, hung.adjustment
    made = np.full((len(bases), 3, 3), np.nan)
    there = np.flatnonzero(bases.node >= 0)
    there = there[placed(adjustment, bases.node[there])]
    if len(there):
        mark, node = bases.mark[there], bases.node[there]
        own = turned(adjustment.covariance(node, node), hung.turn[mark])
        # The set-up's own part is what it has beyond its mark.
        alone = node == mark
        own[alone] = hung.control_covariance[mark[alone]]
        made[there] = own
    return made + base_extra(bases)


def services_covariance(hung: Hung) -> Floats:
    """Return (s, 3, 3) how well each real-time network is tied to the control, m².

    The mean of the differences at its check shots carries it over; that mean has the
    covariance (Σ P)⁻¹, with P⁻¹ of a check shot and its mark together. NaN for a
    network without check shots.
    """
    shots, own = hung.shots, hung.budget.own
    count = len(shots.service.names)
    made = np.full((count, 3, 3), np.nan)
    for k in range(count):
        rows = np.flatnonzero((shots.service.number == k) & shots.is_check)
        whole = own[rows] + hung.control_covariance[shots.station[rows]]
        whole = whole[np.isfinite(whole).all(axis=(1, 2))]
        if len(whole):
            made[k] = np.linalg.inv(np.linalg.inv(whole).sum(axis=0))
    return made


def between_bases(hung: Hung, first: Ints, second: Ints) -> Floats:
    """Return (k, 3, 3) covariance of what two shots hang on, against each other.

    Zero where that is one base or one real-time network. A base against a network is
    the sum of both, for what they share is not known.

    Parameters
    ----------
    hung : Hung
    first, second : ndarray of int, shape (k,)
        Numbers of shots.
    """
    shots, bases = hung.shots, hung.bases
    base, service = shots.base, shots.service.number
    one, other = base[first], base[second]
    differ = np.where(
        (one >= 0) | (other >= 0), one != other, service[first] != service[second]
    )
    made = np.zeros((len(first), 3, 3))
    rows = np.flatnonzero(differ)
    total = hung.budget.base
    made[rows] = total[first[rows]] + total[second[rows]]
    nodes = np.append(bases.node, -1)
    both = rows[(nodes[one[rows]] >= 0) & (nodes[other[rows]] >= 0)]
    if len(both):
        extra = base_extra(bases)
        made[both] = _apart(hung, nodes[one[both]], nodes[other[both]])
        made[both] += extra[one[both]] + extra[other[both]]
    return made


def between_marks(hung: Hung, shots: Ints, marks: Ints) -> Floats:
    """Return (k, 3, 3) covariance of what shots hang on, against marks, m².

    Parameters
    ----------
    hung : Hung
    shots : ndarray of int, shape (k,)
        Numbers of shots.
    marks : ndarray of int, shape (k,)
    """
    made = hung.budget.base[shots] + hung.control_covariance[marks]
    base = hung.shots.base[shots]
    nodes = np.append(hung.bases.node, -1)[base]
    rows = np.flatnonzero((nodes >= 0) & np.isfinite(made).all(axis=(1, 2)))
    if len(rows):
        made[rows] = _apart(hung, nodes[rows], marks[rows])
        made[rows] += base_extra(hung.bases)[base[rows]]
    return np.asarray(made)


def _apart(hung: Hung, first: Ints, second: Ints) -> Floats:
    """Return (k, 3, 3) covariance of two nodes against each other, grid axes.

    Of heights above the geoid it is at most that of the ellipsoidal ones and of the
    two undulations.
    """
    adjustment = hung.adjustment
    mark = adjustment.network.mark_of(first)
    other = adjustment.network.mark_of(second)
    cross = adjustment.covariance(first, second)
    made = adjustment.covariance(first, first) + adjustment.covariance(second, second)
    made = turned(made - cross - cross.swapaxes(1, 2), hung.turn[mark])
    undulations = adjustment.network.undulations
    if undulations is not None and hung.shots.above_geoid.any():
        sd = np.nan_to_num(undulations.sd)
        made[:, 2, 2] += np.where(mark != other, sd[mark] ** 2 + sd[other] ** 2, 0.0)
    return made


def relative(hung: Hung, first: Ints, second: Ints) -> Floats:
    """Return (k, 3, 3) covariance of the difference of two shots, m²."""
    own = hung.budget.own
    return np.asarray(own[first] + own[second] + between_bases(hung, first, second))
