"""What an amount says: a set-up on another mark, two exchanged, a wrong unit."""

from dataclasses import replace

import numpy as np

from ...networks.covariances import Bools, Floats
from ..adjustment import Adjustment
from .cause import Cause
from .evaluate import Hypotheses, Joint
from .kinds_units import UNIT_OF

_FAR = 0.5
"""m in plan; a set-up farther from its mark did not stand over it (common practice, no
source)."""
NEAR = 0.05
"""m; another mark that is met to this, or to five standard deviations, is named."""
_SDS = 5.0
_FOOT, _SURVEY_FOOT = 0.3048, 1200 / 3937
"""m: international foot (1959 agreement, exact), US survey foot (Mendenhall order)."""
UNITS = {
    "a number in feet booked as metres": 1 - _FOOT,
    "a number in metres booked as feet": 1 - 1 / _FOOT,
    "international feet converted as US survey feet": 1 - _FOOT / _SURVEY_FOOT,
    "US survey feet converted as international feet": 1 - _SURVEY_FOOT / _FOOT,
}
"""Booked minus true, as a share of what is booked."""
_WITHIN = 2.5758
"""Standard deviations that hold 99 % of a normal error."""
_CLEAR = 10.0
"""Standard deviations that the share itself must have: below, a size at random would
fit too often (one in eight over twice the share at this bound)."""


def without_idle(
    adjustment: Adjustment, made: Hypotheses, misclosure: Floats
) -> Hypotheses:
    """Return the causes without exchanges and units whose amounts are not theirs.

    Opposite shifts of two set-ups, or one along what was booked, can be fitted to
    anything; only those that come out as the difference of the two marks say that
    names were exchanged, and only those that come out as the ratio of two units that
    one was taken for the other.

    Parameters
    ----------
    adjustment : Adjustment
    made : Hypotheses
    misclosure : ndarray, shape (n,)
        Minus the whitened residuals.
    """
    joint = made.joint(misclosure)
    kept = [
        i
        for i, cause in enumerate(made.causes)
        if cause.kind not in _MEANT or _MEANT[cause.kind](adjustment, made, joint, i)
    ]
    return made if len(kept) == len(made.causes) else made.only(kept)


def _is_exchange(
    adjustment: Adjustment, made: Hypotheses, joint: Joint, cause: int
) -> bool:
    amounts, sd = made.amounts(joint, cause)
    if not np.isfinite(amounts).all() or np.linalg.norm(amounts[:2]) < _FAR:
        return False
    marks = marks_with(adjustment, made, joint, cause)
    a, b = made.causes[cause].marks
    axes = adjustment.nodes.axes[a]
    apart = axes @ (marks[a] - marks[b])
    return bool(_meets(apart - amounts, sd))


def _is_unit(
    adjustment: Adjustment, made: Hypotheses, joint: Joint, cause: int
) -> bool:
    return bool(_unit_of(made, joint, cause))


def _unit_of(made: Hypotheses, joint: Joint, cause: int) -> str:
    """Return which unit was taken for which, in words; empty where none fits."""
    (amount,), (sd,) = made.amounts(joint, cause)
    for words, share in UNITS.items():
        if abs(share) > _CLEAR * sd and abs(amount - share) < _WITHIN * sd:
            return words
    return ""


_MEANT = {"set-ups exchanged": _is_exchange, "unit": _is_unit}
"""Kinds that are named only where their amounts say so."""


def told(adjustment: Adjustment, made: Hypotheses, joint: Joint, cause: int) -> Cause:
    """Return a cause as it is told: a wrong unit with the two, a wrong mark with both.

    Parameters
    ----------
    adjustment : Adjustment
    made : Hypotheses
    joint : Joint
    cause : int
    """
    what = made.causes[cause]
    if what.kind == "unit":
        thing = what.words.removeprefix(UNIT_OF)
        return replace(what, words=f"{thing}: {_unit_of(made, joint, cause)}")
    amounts, sd = made.amounts(joint, cause)
    if what.kind != "set-up on wrong mark" or not np.isfinite(amounts[:2]).all():
        return what
    if np.hypot(amounts[0], amounts[1]) < _FAR:
        return what
    met = _met(adjustment, made, joint, what, cause, amounts, sd)
    name = what.words.removeprefix("place and height of ")
    where = met or "a wrong mark, none of this job"
    return replace(what, words=f"{name} on {where}")


def _met(
    adjustment: Adjustment,
    made: Hypotheses,
    joint: Joint,
    what: Cause,
    cause: int,
    amounts: Floats,
    sd: Floats,
) -> str:
    """Return the mark on which a set-up stood; empty for none of the job."""
    marks = marks_with(adjustment, made, joint, cause)
    mark = what.marks[0]
    seen = np.nan_to_num(amounts)
    stood = marks[mark] - seen @ adjustment.nodes.axes[mark]
    off = (marks - stood) @ adjustment.nodes.axes[mark].T
    met = [k for k in np.flatnonzero(_meets(off, sd)).tolist() if k != mark]
    names = adjustment.network.marks.name
    return f"{names[met[0]]} in place of {names[mark]}" if met else ""


def _meets(off: Floats, sd: Floats) -> Bools:
    """Return whether differences (…, 3) are nothing, as far as can be seen, in plan."""
    near = np.maximum(NEAR, _SDS * np.nan_to_num(sd))
    return np.asarray((np.abs(off[..., :2]) < near[:2]).all(axis=-1))


def marks_with(
    adjustment: Adjustment, made: Hypotheses, joint: Joint, cause: int
) -> Floats:
    """Return (m, 3) where the marks are with a cause in the model, m."""
    count = len(adjustment.network.marks)
    _, moved = made.corrected(joint, [cause], made.rows.misclosure)
    padded = np.concatenate([moved, [0.0]])
    shift = padded[adjustment.columns[:count]]
    nodes = adjustment.nodes
    return np.asarray(
        nodes.xyz[:count] + np.einsum("mi,mij->mj", shift, nodes.axes[:count])
    )
