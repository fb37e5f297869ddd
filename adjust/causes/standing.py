"""Where a set-up really stood: on another mark, or exchanged with another set-up."""

from dataclasses import replace

import numpy as np

from ...networks.covariances import Floats
from ..adjustment import Adjustment
from .cause import Cause
from .evaluate import Hypotheses, Joint

_FAR = 0.5
"""m in plan; a set-up farther from its mark did not stand over it (common practice, no
source)."""
_NEAR = 0.05
"""m; another mark that is met to this, or to five standard deviations, is named."""
_SDS = 5.0


def without_idle_exchanges(
    adjustment: Adjustment, made: Hypotheses, misclosure: Floats
) -> Hypotheses:
    """Return the causes without exchanges whose amounts are not those of the marks.

    Opposite shifts of two set-ups can be fitted to anything; only those that come out
    as the difference of the two marks say that names were exchanged.
    """
    joint = made.joint(misclosure)
    kept = [
        i
        for i, cause in enumerate(made.causes)
        if cause.kind != "set-ups exchanged" or _is_exchange(adjustment, made, joint, i)
    ]
    return made if len(kept) == len(made.causes) else made.only(kept)


def _is_exchange(
    adjustment: Adjustment, made: Hypotheses, joint: Joint, cause: int
) -> bool:
    amounts, sd = made.amounts(joint, cause)
    if not np.isfinite(amounts).all() or np.linalg.norm(amounts[:2]) < _FAR:
        return False
    marks = _marks(adjustment, made, joint, cause)
    a, b = made.causes[cause].marks
    axes = adjustment.nodes.axes[a]
    apart = axes @ (marks[a] - marks[b])
    return _meets(apart - amounts, sd)


def told(adjustment: Adjustment, made: Hypotheses, joint: Joint, cause: int) -> Cause:
    """Return a cause as it is told; a set-up far from its mark with the mark it met."""
    what = made.causes[cause]
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
    marks = _marks(adjustment, made, joint, cause)
    mark = what.marks[0]
    seen = np.nan_to_num(amounts)
    stood = marks[mark] - seen @ adjustment.nodes.axes[mark]
    off = (marks - stood) @ adjustment.nodes.axes[mark].T
    met = [k for k in range(len(marks)) if k != mark and _meets(off[k], sd)]
    names = adjustment.network.marks.name
    return f"{names[met[0]]} in place of {names[mark]}" if met else ""


def _meets(off: Floats, sd: Floats) -> bool:
    """Return whether a difference is nothing, as far as can be seen, in plan."""
    near = np.maximum(_NEAR, _SDS * np.nan_to_num(sd))
    return bool((np.abs(off[:2]) < near[:2]).all())


def _marks(
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
