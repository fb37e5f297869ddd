"""Everything that is said about a day's shots, gathered once."""

from dataclasses import dataclass

import numpy as np

from ...networks.constructions import Constructions
from ...networks.covariances import Bools, Floats, Ints
from ...networks.shots import Labels, Shots, TopoOptions, labels
from ...networks.topo_day import Day
from ..adjustment import Adjustment
from ..judge.limits import normal_limit
from .check_shots import CheckShots, check_shots
from .constructions import Constructed, construct
from .differences import Differences, differences
from .field_tests import FieldTests, field_tests
from .humps import Humps, humps
from .hung import Hung, hang
from .initialisations import LineUse, lines_use
from .places import Crossings, at_one_place, crossings
from .points import Roots, root_points
from .polar import Polar, polar_shots
from .repeats import Repeats, checked_groups, repeats
from .roots import Detail, detail
from .shapes import Shapes, shapes
from .spread import Spread, spreads, with_spreads


@dataclass(frozen=True, slots=True)
class Topo:
    """Shots hung on control, judged."""

    day: Day
    hung: Hung
    """With what was learnt of the sky."""
    group: Labels
    """Initialisation of each shot."""
    repeats: Repeats
    check_shots: CheckShots
    polar_checks: Differences
    """Polar shots on marks: shot minus mark; ``first`` counts polar shots."""
    spreads: tuple[Spread, ...]
    checked: Bools
    """(g,) whether something outside an initialisation checks it."""
    lines: LineUse
    circle: Floats
    """(n,) radius of each shot's circle at the job's confidence, m."""
    tilt: tuple[str, ...]
    """(n,) ``meets``, ``query``, ``fails`` by the lean; ``unchecked`` where how well it
    is known is not stated; empty for a plumbed pole."""
    polar: Polar | None
    detail: Detail
    """All measured points, polar shots behind the others."""
    constructed: Constructed
    line: Labels
    """Line of every point, the constructions last."""
    shapes: Shapes
    humps: Humps
    one_place: Ints
    """(k, 2) pairs of points at one place that are not booked as repeats."""
    crossings: Crossings
    field_tests: FieldTests | None


def judge_topo(day: Day, adjustment: Adjustment, options: TopoOptions) -> Topo:
    """Return what is to be said about shots.

    Parameters
    ----------
    day : Day
    adjustment : Adjustment
        Of the control network.
    options : TopoOptions
    """
    shots = day.shots
    hung, learnt = learnt_hung(day, adjustment, options)
    again, checks = repeats(hung), check_shots(hung)
    compared = checks.differences
    told = compared.first[np.isfinite(compared.test)]
    polar = day_polar(day, adjustment)
    whole = detail(hung, polar)
    made = construct(root_points(whole.roots), day.constructions, hung.scale)
    line = _lines(whole, day.constructions)
    coordinates = made.points.coordinates
    refused = shots.tilt > options.tilt_limit
    return Topo(
        day,
        hung,
        shots.group,
        again,
        checks,
        _polar_checks(hung, polar),
        learnt,
        checked_groups(hung, again, told),
        lines_use(shots, shots.group),
        hung.budget.circle(hung.options.confidence),
        _tilts(shots, options),
        polar,
        whole,
        made,
        line,
        shapes(made.points, day.checks, hung.scale, hung.options),
        _humps(hung, whole, refused),
        at_one_place(
            whole.roots.coordinates, shots.repeats, whole.station, options.one_place
        ),
        crossings(coordinates, line),
        None if day.field_sets is None else field_tests(day.field_sets, hung.scale),
    )


def learnt_hung(
    day: Day, adjustment: Adjustment, options: TopoOptions
) -> tuple[Hung, tuple[Spread, ...]]:
    """Return the shots with what their repeats say of the sky, and what they say."""
    stated = hang(day.shots, day.bases, adjustment, options)
    first = np.flatnonzero(day.shots.repeats >= 0)
    pairs = repeats(stated).independent
    learnt = spreads(stated, first[pairs], day.shots.repeats[first[pairs]])
    return with_spreads(stated, learnt), learnt


def day_polar(day: Day, adjustment: Adjustment) -> Polar | None:
    """Return a day's polar shots from adjusted control; None where it has none."""
    if day.polar is None:
        return None
    above = bool(day.shots.above_geoid.any())
    if not len(day.shots):
        above = adjustment.network.undulations is not None
    return polar_shots(day.polar, adjustment, above_geoid=above)


def _polar_checks(hung: Hung, polar: Polar | None) -> Differences:
    """Return polar shots on marks; what instrument and mark share is not taken off."""
    if polar is None:
        none, three = np.zeros(0, dtype=np.int64), np.zeros((0, 3))
        return differences(none, none, three, np.zeros((0, 3, 3)), hung.options)
    first = np.flatnonzero(polar.shots.station >= 0)
    second = polar.shots.station[first]
    places = root_points(_alone(polar)).covariance(first)
    covariance = places + hung.control_covariance[second]
    value = polar.coordinates[first] - hung.control[second]
    return differences(first, second, value, covariance, hung.options)


def _alone(polar: Polar) -> Roots:
    return Roots(
        polar.shots.name,
        polar.coordinates,
        polar.own,
        polar.carrier,
        polar.carried,
        polar.carriers,
    )


def _lines(whole: Detail, made_from: Constructions) -> Labels:
    words = [whole.line.word(i) for i in range(len(whole.line))]
    more = [made_from.line.word(i) for i in range(len(made_from))]
    return labels(words + more)


def _humps(hung: Hung, whole: Detail, refused: Bools) -> Humps:
    """Return the humps among shots on the ground; refused leans are not on it."""
    coordinates = whole.roots.coordinates
    ground = whole.surface & np.isfinite(coordinates).all(axis=1)
    ground[: len(refused)] &= ~refused
    rows = np.flatnonzero(ground)
    sd = np.sqrt(whole.roots.own[rows, 2, 2])
    return humps(coordinates[rows], whole.source[rows], sd, hung.options)


def beyond_limits(topo: Topo) -> Bools | None:
    """Return (n,) which shots are worth less than the job asks for.

    None where [topo] states no limit. A shot that cannot be judged is beyond it.
    """
    limits, options = topo.hung.topo, topo.hung.options
    if limits.limit_plan is None and limits.limit_height is None:
        return None
    beyond = np.zeros(len(topo.circle), dtype=bool)
    if limits.limit_plan is not None:
        beyond |= ~(topo.circle <= limits.limit_plan)
    if limits.limit_height is not None:
        height = normal_limit(1 - options.confidence) * topo.hung.budget.sd_height
        beyond |= ~(height <= limits.limit_height)
    return beyond


def _tilts(shots: Shots, options: TopoOptions) -> tuple[str, ...]:
    known = np.isfinite(shots.sd_tilt) & np.isfinite(shots.sd_azimuth)
    states = np.select(
        [
            shots.tilt == 0,
            shots.tilt > options.tilt_limit,
            ~known,
            shots.tilt > options.tilt_query,
        ],
        ["", "fails", "unchecked", "query"],
        "meets",
    )
    return tuple(states.tolist())
