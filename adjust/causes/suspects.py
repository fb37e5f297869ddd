"""Why the misfit? All causes tested together, grouped, and taken one after another."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from ...networks import Options
from ...networks.covariances import Bools, Floats, Ints
from ..adjustment import Adjustment
from ..dense import Singular
from ..judge.variance_factor import (
    VarianceFactor,
    variance_factor_of,
    variance_factor_test,
)
from .evaluate import Hypotheses, Joint, hypotheses
from .field import Labels, field_of
from .groups import group_of
from .linearise import linearised
from .registry import causes_of
from .rows import rows_of
from .search import Search, View, family_of, least_freedom, left_over, search, view
from .standing import without_idle_exchanges, worded

LISTED = 20
"""Causes that are listed, over the line or not."""
JOINT = 2000
"""Amounts of causes that are taken together; of more, the best supported causes."""
_BEST = 60
_BENDS = 0.5
"""m; a shift over which lines of sight are formed anew (a sight of 50 m bends by 5 mm
over 0.7 m across it)."""
_FORMED = 6
_NEAREST = 10


@dataclass(frozen=True, slots=True)
class Group:
    """Causes that cannot be told from one another."""

    members: tuple[int, ...]
    """Places in the list; the best supported first."""
    wider: tuple[int, ...]
    """Places of larger causes that hold the best and add nothing significant."""


@dataclass(frozen=True, slots=True)
class Suspects:
    """The causes of a misfit, best supported first; one row a cause.

    Amounts are booked minus what the rest says: + is booked too large.
    """

    adjustment: Adjustment
    variance_factor: VarianceFactor
    made: Hypotheses
    joint: Joint
    number: Ints
    """(n,) number of each listed cause among all of ``made``."""
    kind: tuple[str, ...]
    about: tuple[tuple[str, ...], ...]
    words: tuple[str, ...]
    measure: tuple[str, ...]
    """What the amounts are: letters of ``enu`` (m), ``m``, ``rad``, ``ratio``,
    ``own``; empty where no common amount is meant."""
    size: tuple[Floats, ...]
    """The p amounts of each."""
    sd_size: tuple[Floats, ...]
    """Stated."""
    components: Ints
    statistic: Floats
    limit: Floats
    test: Floats
    """(n,) √(statistic / limit) by the B-method, so that dimensions compare."""
    probability: Floats
    family_probability: Floats
    """(n,) chance that any of all causes tried is as large (Šidák)."""
    test_beside_first: Floats
    """(n,) test of each when the first cause is in the model; NaN of the first."""
    variance_factor_without: Floats
    """(n,) with the cause in the model; NaN without freedom left."""
    verdict: tuple[str, ...]
    group: Ints
    """(n,) number of its group, from 0."""
    wider: Bools
    """(n,) whether a smaller cause inside it explains all that it does."""
    groups: tuple[Group, ...]
    search: Search
    tried: int
    """Causes that could be judged."""
    unchecked: tuple[str, ...]
    """What nothing checks, in words."""

    def __len__(self) -> int:
        return len(self.kind)

    @property
    def answer(self) -> str:
        """``high``, ``low``, ``passes, but``, ``passes`` or ``unchecked``."""
        verdict = self.variance_factor.verdict
        if verdict == "unchecked":
            return "unchecked"
        if verdict == "fails":
            return "high"
        over = bool(len(self) and self.test[0] > 1)
        if verdict == "query":
            return "low"
        return "passes, but" if over else "passes"

    @property
    def overall(self) -> str:
        """The worst of the variance factor and the listed causes."""
        verdicts = {self.variance_factor.verdict, *self.verdict}
        worst = ("fails", "query", "unchecked")
        return next((one for one in worst if one in verdicts), "meets")

    @property
    def enough(self) -> bool:
        """Whether enough would be left if the first cause were set aside."""
        freedom = self.variance_factor.degrees_of_freedom
        taken = int(self.components[0]) if len(self) else 0
        return freedom - taken >= least_freedom(freedom)


def suspects(
    adjustment: Adjustment, labels: Labels | None = None, about: str = ""
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

    Returns
    -------
    Suspects
    """
    factor = variance_factor_test(adjustment)
    for _ in range(_FORMED):
        made = causes_made(adjustment, labels)
        found = judged(adjustment, made, made.rows.misclosure, about)
        best = _far_off(found)
        if best < 0:
            break
        try:
            adjustment = linearised(adjustment, found.made, best)
        except Singular:
            break
    return replace(found, variance_factor=factor)


def _far_off(found: Suspects) -> int:
    """Return the cause to form the equations with; −1 where they are near enough.

    Only lines of sight bend, and only over metres.
    """
    far = [
        k
        for k in range(min(len(found), _NEAREST))
        if found.verdict[k] != "meets"
        and np.isfinite(found.variance_factor_without[k])
        and _length(found, k) > _BENDS
    ]
    if not found.adjustment.network.sights or not far:
        return -1
    best = min(far, key=lambda k: float(found.variance_factor_without[k]))
    return int(found.number[best])


def _length(found: Suspects, k: int) -> float:
    """Return how far the marks move with a listed cause in the model, m."""
    amount = np.nan_to_num(found.size[k])
    if found.measure[k] in ("rad", "ratio", "own"):
        return 0.0
    return float(np.abs(amount).max(initial=0.0))


def causes_made(adjustment: Adjustment, labels: Labels | None = None) -> Hypotheses:
    """Return all causes of an adjustment, ready for any residuals of its design.

    Parameters
    ----------
    adjustment : Adjustment
    labels : Labels, optional

    Returns
    -------
    Hypotheses
        Causes that change nothing observed are left out; so are those least
        supported where there are too many to take together.
    """
    rows = rows_of(adjustment)
    causes = causes_of(field_of(adjustment, rows, labels))
    if sum(cause.components for cause in causes) <= JOINT:
        return hypotheses(adjustment, causes, rows)
    kept, unchecked = [], []
    for start in range(0, len(causes), JOINT // 4):
        part = hypotheses(adjustment, causes[start : start + JOINT // 4], rows)
        statistic, components = part.joint(rows.misclosure).statistics()
        for i, cause in enumerate(part.causes):
            if part.unchecked[i]:
                unchecked.append(cause)
            else:
                share = statistic[i] / (components[i] + 10.0)
                kept.append((share, cause))
    kept.sort(key=lambda pair: -pair[0])
    best = [cause for _, cause in kept[: 5 * _BEST]]
    return hypotheses(adjustment, [*best, *unchecked[:_BEST]], rows)


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
    options, freedom = adjustment.network.options, adjustment.degrees_of_freedom
    vtpv = float(misclosure @ misclosure)
    factor = variance_factor_of(vtpv, freedom, options.confidence)
    made = without_idle_exchanges(adjustment, made, misclosure)
    joint = made.joint(misclosure)
    now = view(joint, (), options, vtpv, freedom)
    asked = np.array([about in cause.about for cause in made.causes], dtype=bool)
    first = np.arange(len(now.order.order)) < LISTED
    listed = now.order.order[first | asked[now.order.order]]
    tried = len(now.order.order)
    groups, group = _grouped(now, listed)
    found = search(
        made,
        joint,
        misclosure,
        options,
        freedom,
        adjustment.observations_count,
    )
    sizes = [made.amounts(joint, int(i)) for i in listed]
    causes = [
        replace(made.causes[i], words=worded(adjustment, made, joint, int(i)))
        for i in listed.tolist()
    ]
    family = family_of(now.basis.probability[listed], tried)
    over = now.basis.test[listed] > 1
    fails = over & (family < 1 - options.confidence)
    verdict = np.where(fails, "fails", np.where(over, "query", "meets"))
    return Suspects(
        adjustment,
        factor,
        made,
        joint,
        listed,
        tuple(cause.kind for cause in causes),
        tuple(cause.about for cause in causes),
        tuple(cause.words for cause in causes),
        tuple(cause.measure for cause in causes),
        tuple(size for size, _ in sizes),
        tuple(sd for _, sd in sizes),
        now.components[listed],
        now.basis.statistic[listed],
        now.basis.limit[listed],
        now.basis.test[listed],
        now.basis.probability[listed],
        np.asarray(family),
        _beside_first(joint, listed, options, vtpv, freedom),
        _without(made, joint, misclosure, now, listed, freedom),
        tuple(str(word) for word in verdict),
        group,
        now.order.wider[listed],
        groups,
        found,
        tried,
        tuple(
            made.causes[i].words
            for i in np.flatnonzero(made.unchecked & ~made.unseen).tolist()
        ),
    )


def _grouped(now: View, listed: Ints) -> tuple[tuple[Group, ...], Ints]:
    """Return groups of the listed causes and the number of each cause's group."""
    place = {int(cause): k for k, cause in enumerate(listed.tolist())}
    group = np.full(len(listed), -1, dtype=np.int64)
    groups: list[Group] = []
    for k, best in enumerate(listed.tolist()):
        if group[k] >= 0:
            continue
        all_members = group_of(now.joint, now.order, best)
        members = [place[i] for i in all_members if i in place]
        members = [m for m in members if group[m] < 0]
        wider = [
            place[j]
            for j in listed.tolist()
            if now.order.holds[best, j] and now.order.wider[j] and group[place[j]] < 0
        ]
        group[members + wider] = len(groups)
        groups.append(Group(tuple(members), tuple(wider)))
    return tuple(groups), group


def _beside_first(
    joint: Joint, listed: Ints, options: Options, vtpv: float, freedom: int
) -> Floats:
    if not len(listed):
        return np.zeros(0)
    beside = view(joint, [int(listed[0])], options, vtpv, freedom)
    test: Floats = beside.basis.test[listed].copy()
    test[0] = np.nan
    return test


def _without(
    made: Hypotheses,
    joint: Joint,
    misclosure: Floats,
    now: View,
    listed: Sequence[int] | Ints,
    freedom: int,
) -> Floats:
    """Return the variance factor with each listed cause in the model."""
    factors = np.full(len(listed), np.nan)
    for k, i in enumerate(int(cause) for cause in listed):
        left = freedom - int(now.components[i])
        if left > 0:
            factors[k] = left_over(made, joint, i, misclosure) / left
    return factors
