"""The sentences of `suspects` on standard deviations: which group, how sure."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from math import isfinite
from typing import TYPE_CHECKING

from .rounding import number, percent

if TYPE_CHECKING:
    from ..adjust.causes.weights import Weights
    from ..adjust.judge.variance_components import VarianceComponents

_NAMED = 4
PARTS = ("plan", "height", "distance")
"""As a decision names them, in their order."""


@dataclass(frozen=True, slots=True)
class Weighed:
    """Standard deviations as they are judged, and the multipliers that are in force."""

    weights: "Weights"
    present: Mapping[tuple[str, str, str], float] = field(default_factory=dict)
    """Kind, name and part, as ``decide multiplier`` takes them, to the multiplier in
    force; 1 where it is not named."""
    who_needed: bool = False
    """Whether a decision has to say who decides."""


def component_words(found: "VarianceComponents", k: int) -> str:
    """Return one component with what it rests on.

    Parameters
    ----------
    found : VarianceComponents
    k : int
    """
    twins = " or ".join(found.component[j].words for j in found.twins[k])
    instead = f"; it may be {twins} instead, which cannot be told" if twins else ""
    return (
        f"{found.component[k].words}: {number(float(found.multiplier[k]), 'limit')} "
        f"times what was stated ({support_words(found, k)}: between "
        f"{number(float(found.lower[k]), 'limit')} and "
        f"{number(float(found.upper[k]), 'limit')}{instead})"
    )


def support_words(found: "VarianceComponents", k: int) -> str:
    """Return what a component rests on: "supported by 9 observations"."""
    freedom = int(found.degrees_of_freedom[k] + 1e-6)
    many = "observation" if freedom == 1 else "observations"
    return f"supported by {freedom} {many}"


def leading_words(weighed: Weighed) -> str:
    """Return why weights are doubted before observations; empty where they are not.

    Parameters
    ----------
    weighed : Weighed
    """
    one = weighed.weights
    if not one.leads:
        return ""
    share = percent(round(one.over / one.tested, 2))
    return (
        f"{one.over} of {one.tested} observations ({share}) are over their limits, "
        "more than a tenth, and no few causes explain it: that is not blunders, but "
        "standard deviations that were stated too good. The residuals ask for "
        f"{_standing(one.components, larger=True)}. Multiply first, then look for "
        "blunders in what is left"
    )


def _standing(found: "VarianceComponents", *, larger: bool) -> str:
    out = [k for k in found.standing_out if (found.multiplier[k] > 1) == larger]
    return "; ".join(component_words(found, k) for k in out[:_NAMED])


def group_words(weighed: Weighed, answer: str) -> str:
    """Return which groups differ from what was stated, by answer; empty for none.

    Parameters
    ----------
    weighed : Weighed
    answer : str
        Of ``Suspects``.
    """
    one = weighed.weights
    if one.leads or answer == "unchecked":
        return ""
    if answer == "low":
        return _low_words(one)
    said = []
    larger = _standing(one.components, larger=True)
    smaller = _standing(one.components, larger=False)
    beside = f"{premise_words(one)}, " if one.beside else ""
    passing = "though the total passes, " if answer.startswith("passes") else ""
    if larger:
        said.append(f"{passing}{beside}stated too good: {larger}")
    if smaller:
        said.append(f"{passing}{beside}stated too poor: {smaller}")
    if one.instead is not None and _standing(one.instead, larger=True):
        said.append(
            f"instead of {len(one.beside)} causes one multiplier may be the simpler "
            f"explanation: {_standing(one.instead, larger=True)}"
        )
    return ". ".join(said)


def premise_words(one: "Weights") -> str:
    """Return which suspected causes come first; empty for none.

    Parameters
    ----------
    one : Weights
    """
    if not one.beside:
        return ""
    if len(one.causes) == 1:
        return f"with the suspected cause, {one.causes[0]}, taken as true"
    return f"with the {len(one.causes)} suspected causes taken as true"


def _low_words(one: "Weights") -> str:
    smaller = _standing(one.components, larger=False)
    said = []
    if one.surplus:
        many = "vector is the sum" if one.surplus == 1 else "vectors are sums"
        said.append(
            f"{one.surplus} {many} of others of the same session and count as if "
            "observed by themselves: that alone makes the factor too low"
        )
    if smaller:
        said.append(
            f"stated too poor: {smaller}. It means that ellipses and smallest blunders "
            "are printed larger than they are; nothing is rescaled unless you decide it"
        )
    elif not one.surplus:
        said.append("no single group stands out: all are a little better than stated")
    return ". ".join(said)


def not_judged_words(found: "VarianceComponents") -> str:
    """Return which components stay as stated because nothing shows; empty for none.

    Parameters
    ----------
    found : VarianceComponents
    """
    if not len(found):
        return "too many unknowns to judge standard deviations by group"
    poor = [k for k in range(len(found)) if not isfinite(found.multiplier[k])]
    if not poor:
        return ""
    names = "; ".join(
        f"{found.component[k].words} ({found.degrees_of_freedom[k]:.0f})" for k in poor
    )
    return (
        f"cannot be judged, taken as stated (supported by fewer than {found.floor:.0f} "
        f"observations, or not to be told from another group; how many in brackets): "
        f"{names}"
    )


def meaning_words(found: "VarianceComponents", k: int) -> str:
    """Return what the multiplier of a component means, in a sentence.

    Parameters
    ----------
    found : VarianceComponents
    k : int
    """
    if not found.judged[k]:
        # What could stand but cannot be told apart is put a trifle under the floor.
        if found.degrees_of_freedom[k] < found.floor - 1e-6:
            return f"fewer than {found.floor:.0f} degrees of freedom: taken as stated"
        return "not to be told from another group: taken as stated"
    if found.verdict[k] != "query":
        if found.lower[k] <= 1 <= found.upper[k]:
            return "as stated, within what chance does"
        many = int(found.judged.sum())
        return (
            f"its own limits leave out 1, but of {many} groups one may do so by "
            "chance: as stated"
        )
    if found.multiplier[k] > 1:
        said = (
            "stated too good: its readings scatter more than was said; ellipses and "
            "smallest blunders are printed smaller than they are"
        )
    else:
        said = (
            "stated too poor: its readings scatter less than was said; ellipses and "
            "smallest blunders are printed larger than they are"
        )
    twins = " or ".join(found.component[j].words for j in found.twins[k])
    return f"{said}; it may be {twins} instead, which cannot be told" if twins else said


def decide_words(weighed: Weighed, *, larger: bool = True) -> str:
    """Return the command that multiplies the group that stands out most; or empty.

    Parameters
    ----------
    weighed : Weighed
    larger : bool, optional
        Whether what was stated too good is meant, or what was stated too poor.
    """
    found = weighed.weights.components
    out = [
        k
        for k in found.standing_out
        if (found.multiplier[k] > 1) == larger and found.component[k].decided_as[0]
    ]
    if not out:
        return ""
    kind, name = found.component[out[0]].decided_as
    return decide_line(
        weighed, [k for k in out if found.component[k].decided_as == (kind, name)]
    )


def decide_line(weighed: Weighed, mine: Sequence[int]) -> str:
    """Return the command that multiplies some components of one group or support.

    Parameters
    ----------
    weighed : Weighed
    mine : sequence of int
        Places of the components, the one that stands out most first; all are decided
        under the same name.
    """
    found = weighed.weights.components
    kind, name = found.component[mine[0]].decided_as
    values = {found.component[k].part: _factor(weighed, k) for k in reversed(mine)}
    apart = [
        k
        for k in range(len(found))
        if found.component[k].decided_as == (kind, name)
        and found.component[k].part == "distance"
    ]
    if apart and "plan" in values and "distance" not in values:
        # Else distances would follow the plan.
        values["distance"] = f"{_present(weighed, apart[0]):.3g}"
    said = " ".join(f"{part}={values[part]}" for part in PARTS if part in values)
    many = "; ".join(support_words(found, k) for k in mine[:1])
    who = " --who INITIALS" if weighed.who_needed else ""
    return (
        f"brasscap decide multiplier {kind} {_quoted(name)} '{said}' "
        f'--reason "variance component, {many}"{who}'
    )


def _factor(weighed: Weighed, k: int) -> str:
    """Return the multiplier in force times what the residuals ask for."""
    found = weighed.weights.components
    return f"{_present(weighed, k) * float(found.multiplier[k]):.3g}"


def _present(weighed: Weighed, k: int) -> float:
    one = weighed.weights.components.component[k]
    return weighed.present.get((*one.decided_as, one.part), 1.0)


def _quoted(name: str) -> str:
    return f"'{name}'" if " " in name else name
