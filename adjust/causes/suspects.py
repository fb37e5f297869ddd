"""Why the misfit? All causes tested together, grouped, and taken one after another."""

from dataclasses import dataclass, replace

import numpy as np

from ...networks.covariances import Floats, Ints
from ..adjustment import Adjustment
from ..dense import Singular
from ..judge.blunder_table import BlunderTests
from ..judge.variance_factor import (
    variance_factor_of,
    variance_factor_test,
)
from ..judge.verdicts import Basis
from ..one_thread import one_thread
from .beside import View, Views, family_of, left_over
from .evaluate import Hypotheses
from .field import Labels
from .groups import group_of, nesting
from .linearise import linearised
from .result import Group, Suspects, verdicts_of
from .robust_start import searched
from .screening import causes_made
from .standing import told, without_idle

LISTED = 20
"""Causes that are listed, over the line or not."""
_BENDS = 0.5
"""m; a shift over which lines of sight are formed anew (a sight of 50 m bends by 5 mm
over 0.7 m across it)."""
_FORMED = 6
_NEAREST = 10


@one_thread
def suspects(
    adjustment: Adjustment,
    labels: Labels | None = None,
    about: str = "",
    tests: BlunderTests | None = None,
) -> Suspects:
    """Return the causes that may explain a misfit.

    Every kind of cause is tried on the residuals of one adjustment; nothing is
    adjusted again.

    Parameters
    ----------
    adjustment : Adjustment
    labels : Labels, optional
        Names of instruments, prisms and staffs, which a network does not keep.
    about : str, optional
        A name; every cause about it is listed too, however little supports it.
    tests : BlunderTests, optional
        Of the adjustment, where they are known.

    Returns
    -------
    Suspects
    """
    factor = variance_factor_test(adjustment)
    for _ in range(_FORMED):
        made = causes_made(adjustment, labels, tests)
        look = _looked(adjustment, made, made.rows.misclosure, about)
        best = _far_off(look)
        if best < 0:
            break
        try:
            adjustment, tests = linearised(adjustment, look.made, best), None
        except Singular:
            break
    return replace(_said(look), variance_factor=factor)


@dataclass(frozen=True, slots=True)
class _Look:
    """What is seen of all causes before groups are made and several are sought."""

    adjustment: Adjustment
    made: Hypotheses
    misclosure: Floats
    views: Views
    listed: Ints
    """Numbers of the causes that are listed, best supported first."""
    verdict: tuple[str, ...]
    """Of these."""

    @property
    def now(self) -> View:
        """All causes with none in the model."""
        return self.views.beside(())


def _looked(
    adjustment: Adjustment, made: Hypotheses, misclosure: Floats, about: str
) -> _Look:
    options, freedom = adjustment.network.options, adjustment.degrees_of_freedom
    made = without_idle(adjustment, made, misclosure)
    joint = made.joint(misclosure)
    vtpv = float(misclosure @ misclosure)
    views = Views(joint, options, vtpv, freedom, nesting(joint))
    now = views.beside(())
    listed = _listed(made, now, about)
    test, probability = now.basis.test[listed], now.basis.probability[listed]
    verdict = verdicts_of(test, family_of(probability, now.tried), options.confidence)
    return _Look(adjustment, made, misclosure, views, listed, verdict)


def _far_off(look: _Look) -> int:
    """Return the cause to form the equations with; −1 where they are near enough.

    Only lines of sight bend, and only over metres.
    """
    if not look.adjustment.network.sights:
        return -1
    near = look.listed[:_NEAREST]
    without = _without(look, near)
    far = [
        k
        for k in range(len(near))
        if look.verdict[k] != "meets"
        and np.isfinite(without[k])
        and _length(look, int(near[k])) > _BENDS
    ]
    return int(near[min(far, key=lambda k: float(without[k]))]) if far else -1


def _length(look: _Look, cause: int) -> float:
    """Return the largest length among the amounts of a cause, m."""
    if look.made.causes[cause].measure in ("rad", "ratio", "factor", "own"):
        return 0.0
    size, _ = look.made.amounts(look.views.joint, cause)
    return float(np.abs(np.nan_to_num(size)).max(initial=0.0))


def judged(
    adjustment: Adjustment, made: Hypotheses, misclosure: Floats, about: str = ""
) -> Suspects:
    """Return the causes with the residuals' say on them.

    Parameters
    ----------
    adjustment : Adjustment
        Whose design ``made`` is, and whose residuals are given.
    made : Hypotheses
    misclosure : ndarray, shape (n,)
        Minus the whitened residuals.
    about : str, optional
        A name; causes about it are listed too.
    """
    return _said(_looked(adjustment, made, misclosure, about))


def _said(look: _Look) -> Suspects:
    """Return what is said of the causes: in groups, and one after another."""
    made, views, listed, now = look.made, look.views, look.listed, look.now
    groups, group = grouped(now, listed)
    sizes = [made.amounts(views.joint, int(i)) for i in listed]
    basis = _of(now.basis, listed)
    confidence = views.options.confidence
    return Suspects(
        look.adjustment,
        variance_factor_of(views.vtpv, views.freedom, confidence),
        made,
        views.joint,
        listed,
        tuple(told(look.adjustment, made, views.joint, i) for i in listed.tolist()),
        tuple(size for size, _ in sizes),
        tuple(sd for _, sd in sizes),
        now.components[listed],
        basis,
        family_of(basis.probability, now.tried),
        _beside_first(views, listed),
        _without(look, listed),
        look.verdict,
        group,
        now.order.wider[listed],
        tuple(groups),
        searched(look.adjustment, made, look.misclosure, views),
        now.tried,
        _unchecked(made),
    )


def _listed(made: Hypotheses, now: View, about: str) -> Ints:
    asked = np.array([about in cause.about for cause in made.causes], dtype=bool)
    first = np.arange(len(now.order.order)) < LISTED
    listed: Ints = now.order.order[first | asked[now.order.order]]
    return listed


def _of(basis: Basis, some: Ints) -> Basis:
    return Basis(
        basis.statistic[some],
        basis.limit[some],
        basis.test[some],
        basis.probability[some],
    )


def _unchecked(made: Hypotheses) -> tuple[str, ...]:
    """Return what nothing checks, though something was observed of it, in words."""
    blind = np.flatnonzero(made.unchecked & ~made.unseen).tolist()
    return tuple(made.causes[i].words for i in blind)


def grouped(now: View, listed: Ints, most: int = LISTED) -> tuple[list[Group], Ints]:
    """Return groups of the listed causes and the number of each cause's group.

    Parameters
    ----------
    now : View
    listed : ndarray of int, shape (n,)
        Numbers of causes, best supported first.
    most : int
        Groups that are wanted; what is in none has −1.
    """
    order, test = now.order, now.basis.test
    place = {int(cause): k for k, cause in enumerate(listed.tolist())}
    group = np.full(len(listed), -1, dtype=np.int64)
    groups: list[Group] = []
    for k, best in enumerate(listed.tolist()):
        if group[k] >= 0 or len(groups) == most:
            continue
        all_members = group_of(now.joint, order, best)
        members = [place[i] for i in all_members if i in place]
        members = [m for m in members if group[m] < 0]
        holders = [place[j] for j in listed.tolist() if order.holds[best, j]]
        wider = [p for p in holders if order.wider[listed[p]] and group[p] < 0]
        more = [p for p in holders if p > k and p not in wider]
        more = [p for p in more if test[listed[p]] > 1]
        parts = [place[j] for j in listed.tolist() if order.holds[j, best]]
        parts = [p for p in parts if test[listed[p]] > 1]
        group[members + wider] = len(groups)
        groups.append(Group(*(tuple(some) for some in (members, wider, more, parts))))
    return groups, group


def _beside_first(views: Views, listed: Ints) -> Floats:
    if not len(listed):
        return np.zeros(0)
    beside = views.beside([int(listed[0])])
    test: Floats = beside.basis.test[listed].copy()
    test[0] = np.nan
    return test


def _without(look: _Look, some: Ints) -> Floats:
    """Return the variance factor with each of some causes in the model."""
    factors = np.full(len(some), np.nan)
    for k, i in enumerate(some.tolist()):
        left = look.views.freedom - int(look.now.components[i])
        if left > 0:
            alone = left_over(look.made, look.views.joint, [i], look.misclosure)
            factors[k] = alone / left
    return factors
