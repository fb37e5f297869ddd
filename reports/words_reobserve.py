"""What each job of a crew's plan buys, and why another is not in it, in words."""

from typing import TYPE_CHECKING

import numpy as np

from ..adjust.design.crew import RECEIVED
from ..adjust.design.standing import sizes_of
from .crew_plan import Offered, Reobserve, checked_by, state_before, worst_seen
from .rounding import Units
from .words_planned import hidden_words

if TYPE_CHECKING:
    from ..adjust.design import Chosen, Scores


def buys_words(made: Reobserve, place: int, units: Units) -> list[str]:
    """Return what a job of the plan buys, what matters most first."""
    step, said = made.plan.steps[place], []
    failures = int(step.scores.failures[0])
    if failures:
        said.append(f"{failures} more of {made.specification} meet the limit")
    checked = checked_by(made, place)
    if checked:
        said.append(_checked_words(made, step, checked, units))
    if step.scores.parted[0]:
        said.append("tells suspects apart that look alike now")
    sizes = [worst_seen(made, s) for s in (state_before(made, place), step.state)]
    if sizes[0] - sizes[1] > 0.0005:
        said.append(
            "largest that could hide at a set-up "
            f"{hidden_words(sizes[0], units)} → {hidden_words(sizes[1], units)}"
        )
    elif step.scores.detectable[0] > 0.005:
        share = 100 * (1 - np.exp(-step.scores.detectable[0]))
        said.append(f"smallest blunders seen shrink by {share:.0f} % on average")
    if made.purpose == "audit" and step.scores.exposed[0] > 0.005:
        share = 100 * (1 - np.exp(-step.scores.exposed[0]))
        said.append(
            f"what could move marks unseen shows when {share:.0f} % smaller, weighed "
            "by how far it would move them"
        )
    if step.scores.pair[0] > 0.01:
        share = 100 * (1 - np.exp(-step.scores.pair[0]))
        said.append(f"worst pair better by {share:.0f} %")
    nothing = "little" + (" beside what was done before" if place else "")
    return said or [f"{nothing}: the hours are better spent elsewhere"]


def _checked_words(
    made: Reobserve, step: "Chosen", checked: list[int], units: Units
) -> str:
    size = sizes_of(step.state, made.lambda0)
    names = [
        f"{step.state.hypotheses[k].kind} {step.state.hypotheses[k].name}"
        for k in checked[:3]
    ]
    more = f" and {len(checked) - 3} more" if len(checked) > 3 else ""
    metres = [float(size[k]) for k in checked if step.state.metres[k]]
    seen = f", from {units.said(max(metres))} up" if metres else ""
    return f"checks {', '.join(names)}{more}{seen}; today any size would pass unseen"


def not_worth(made: Reobserve) -> list[tuple[Offered, str]]:
    """Return what is not in the plan with the reason; proposals first."""
    worth = made.plan.alone.worth(made.order)
    chosen = set(made.plan.order)
    left = [k for k in range(len(worth)) if k not in chosen]
    left.sort(key=lambda k: (not made.offers[k].proposal, -round(float(worth[k]), 9)))
    said = [(made.offers[k], _reason(made, k)) for k in left]
    return [(one, one.blocked) for one in made.refused] + said


_NOTICED = 0.01
"""Logarithm of a ratio below which nobody would notice."""


def _reason(made: Reobserve, k: int) -> str:
    """Return why a candidate is not in the plan, as precisely as is known."""
    plan, offer = made.plan, made.offers[k]
    if not plan.looked[k]:
        return "a first look at all candidates found others that gain more"
    if not plan.able[k]:
        return _why_never(made, offer)
    alone, beside = _counted_words(made, plan.alone, k), ""
    if not alone:
        return "buys nothing that would be noticed"
    beside = _counted_words(made, plan.beside, k)
    if not beside:
        return f"would by itself {alone}; the plan does that already"
    added = float(plan.added[k])
    if not np.isfinite(added):
        return f"would still {beside}, but does not fit into the hours any more"
    return f"would still {beside} for {added:.0f} min more: less a minute than the plan"


def _why_never(made: Reobserve, offer: Offered) -> str:
    crew = made.crew
    if len(offer.stations) > crew.receivers and offer.kind in RECEIVED:
        return f"needs {len(offer.stations)} receivers at once"
    hours = crew.last - crew.start
    return (
        f"way, set-up and {offer.minutes:.0f} min on the marks do not fit into its "
        f"window and the {hours / 60:.1f} h of the day"
    )


def _counted_words(made: Reobserve, scores: "Scores", k: int) -> str:
    """Return what a candidate would do, in words; empty for nothing noticeable."""
    said = []
    counts = (
        (scores.failures[k], "bring {} within the limit", "line", "lines"),
        (scores.unchecked[k], "check {}", "more thing", "more things"),
        (scores.parted[k], "tell {} of suspects apart", "group", "groups"),
    )
    for count, words, one, many in counts:
        if count:
            said.append(words.format(f"{count:.0f} {one if count == 1 else many}"))
    for log, words in (
        (scores.detectable[k], "show blunders {} % smaller on average"),
        (scores.pair[k], "make the worst pair {} % better"),
    ):
        if log > _NOTICED:
            said.append(words.format(f"{100 * (1 - np.exp(-log)):.0f}"))
    return " and ".join(said[:2])
