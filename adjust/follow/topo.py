"""Everything that is said about a day's shots, gathered once."""

from dataclasses import dataclass

import numpy as np

from ...networks.covariances import Bools, Floats
from ...networks.shots import Bases, Labels, Shots, TopoOptions
from ..adjustment import Adjustment
from .check_shots import CheckShots, check_shots
from .hung import Hung, hang
from .initialisations import LineUse, lines_use
from .repeats import Repeats, checked_groups, repeats
from .spread import Spread, spreads, with_spreads


@dataclass(frozen=True, slots=True)
class Topo:
    """Shots hung on control, judged."""

    hung: Hung
    """With what was learnt of the sky."""
    group: Labels
    """Initialisation of each shot."""
    repeats: Repeats
    checks: CheckShots
    spreads: tuple[Spread, ...]
    checked: Bools
    """(g,) whether something outside an initialisation checks it."""
    lines: LineUse
    circle: Floats
    """(n,) radius of each shot's circle at the job's confidence, m."""
    tilt: tuple[str, ...]
    """(n,) ``meets``, ``query`` or ``fails`` by the lean; empty for a plumbed pole."""


def judge_topo(
    shots: Shots, bases: Bases, adjustment: Adjustment, options: TopoOptions
) -> Topo:
    """Return what is to be said about shots.

    Parameters
    ----------
    shots : Shots
    bases : Bases
    adjustment : Adjustment
        Of the control network.
    options : TopoOptions
    """
    stated = hang(shots, bases, adjustment, options)
    first = np.flatnonzero(shots.repeats >= 0)
    found = repeats(stated)
    pairs = found.independent
    learnt = spreads(stated, first[pairs], shots.repeats[first[pairs]])
    hung = with_spreads(stated, learnt)
    again = repeats(hung)
    checks = check_shots(hung)
    compared = checks.differences
    told = compared.first[np.isfinite(compared.test)]
    return Topo(
        hung,
        shots.group,
        again,
        checks,
        learnt,
        checked_groups(hung, again, told),
        lines_use(shots, shots.group),
        hung.budget.circle(hung.options.confidence),
        _tilts(shots, options),
    )


def _tilts(shots: Shots, options: TopoOptions) -> tuple[str, ...]:
    states = np.select(
        [
            shots.tilt == 0,
            shots.tilt > options.tilt_limit,
            shots.tilt > options.tilt_query,
        ],
        ["", "fails", "query"],
        "meets",
    )
    return tuple(states.tolist())
