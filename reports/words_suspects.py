"""The sentences of `suspects`: answers, echoes, what parts twins, steps."""

from collections.abc import Mapping
from math import isfinite
from typing import TYPE_CHECKING

import numpy as np

from .rounding import number, percent
from .words_weights import Weighed, leading_words

if TYPE_CHECKING:
    from ..adjust.causes import Suspects
    from ..adjust.causes.parting import Parting
    from ..adjust.causes.result import Group

_ECHOES = 4
_MOST = 10.0
"""Where the first cause lowers the variance factor by more than this, no multiplier of
all standard deviations stands for it (common practice, no source)."""
TWINS, WIDER, MORE, PARTS = 4, 3, 2, 1
"""Causes that are named beside the first of a group: those it cannot be told from,
larger ones that explain no more, larger ones that do, and parts of the first."""


def named_in_row(group: "Group") -> tuple[int, ...]:
    """Return the places of all causes that the row of a group names, its first first.

    What the misfit may be, as far as can be told: the best cause, those not nested
    with it that explain as well, the larger ones that hold it, and of its parts the
    one that explains most.

    Parameters
    ----------
    group : Group
    """
    twins, larger = group.members[: TWINS + 1], group.wider[:WIDER]
    return (*twins, *larger, *group.more[:MORE], *group.parts[:PARTS])


def answer_words(found: "Suspects", weighed: Weighed | None = None) -> str:
    """Return high, low, and "passes, but": three different answers.

    Parameters
    ----------
    found : Suspects
    weighed : Weighed, optional
        Standard deviations as they are judged; these come first where they lead.
    """
    leading = leading_words(weighed) if weighed is not None else ""
    if leading:
        return f"too high: {leading}"
    over = bool(len(found) and found.test[0] > 1)
    tried = f"{found.tried} causes were tried on the same residuals"
    if found.answer == "unchecked":
        return (
            "nothing was measured more often than needed, so there is no misfit to "
            "explain and no cause can be looked for: a blunder of any size is hidden"
        )
    if found.answer == "high":
        said = "too high: the observations differ by more than was stated of them"
        if not over:
            return (
                f"{said}. {tried}; none alone is over its limit. Then it is many small "
                "things: stated standard deviations that are too good, or a model that "
                "leaves something out"
            )
        return f"{said}. {tried}; best supported first"
    if found.answer == "low":
        said = (
            "too low: the observations agree better than was stated of them. That is "
            "no blunder: the stated standard deviations are too large, or vectors that "
            "are sums of others count as observations"
        )
        return f"{said}. All the same one cause is over its limit" if over else said
    if over:
        chance = percent(round(float(found.family_probability[0]), 2))
        return (
            f"passes, but {tried}, and not all stay within their limits. A blunder can "
            "hide in a variance factor that passes; and chance alone makes one of so "
            f"many as large in up to {chance} of clean jobs"
        )
    return f"passes; {tried}, and none is over its limit. Smaller blunders may hide"


def weights_words(found: "Suspects", weighed: Weighed | None = None) -> str:
    """Return the warning that weights, not blunders, are wrong; empty for none.

    Where several causes are over their limits and the search for single ones leaves
    the variance factor too high, and no group of observations leads. Where the first
    takes most of it away, that is said instead.
    """
    if weighed is not None and weighed.weights.leads:
        tried = f"{found.tried} causes were tried on the same residuals"
        return f"{tried}; best supported first, but do not act on them yet"
    stopped = found.search.stopped in ("share", "steps")
    if found.answer != "high" or not stopped or not len(found):
        return ""
    value, left = found.variance_factor.value, float(found.variance_factor_without[0])
    if left * _MOST < value:
        return (
            f"cause 1 takes away most of it, {number(value, 'limit')} → "
            f"{number(left, 'limit')}, but not all: settle that first, then look "
            "again. What is left cannot be judged beside it"
        )
    root = float(np.sqrt(found.variance_factor.value))
    return (
        "no few causes explain it. Before anything is left out, doubt the stated "
        f"standard deviations as a whole: all of them times {number(root, 'limit')} "
        "would make the variance factor 1"
    )


def echoes(found: "Suspects") -> list[int]:
    """Return causes over the limit that are under it once the first is in the model."""
    first = {k for k in range(len(found)) if found.group[k] == 0}
    return [
        k
        for k in range(1, len(found))
        if found.test[k] > 1
        and k not in first
        and not found.wider[k]
        and not found.test_beside_first[k] > 1
    ]


def echo_words(found: "Suspects") -> str:
    """Return which causes are echoes of the first; empty for none.

    Parameters
    ----------
    found : Suspects
    """
    names = [found.words[k] for k in echoes(found)]
    if not names:
        return ""
    more = f"; and {len(names) - _ECHOES} more" if len(names) > _ECHOES else ""
    return (
        f"echoes of cause 1, under their limits once it is taken as true: "
        f"{'; '.join(names[:_ECHOES])}{more}"
    )


def twins_words(found: "Suspects", k: int) -> str:
    """Return what a cause cannot be told from; empty but for the first of a group.

    Parameters
    ----------
    found : Suspects
    k : int
        Its place in the list.
    """
    group = found.groups[int(found.group[k])]
    if group.members[0] != k:
        return ""
    others = [found.words[m] for m in group.members[1:]]
    said = "nothing else explains it as well" if found.test[k] > 1 else ""
    if others:
        said = f"cannot be told from {'; '.join(others[:TWINS])}"
    if len(others) > TWINS:
        said += f"; and {len(others) - TWINS} more"
    for words, places in (
        ("Larger, and explains no more", group.wider[:WIDER]),
        ("Larger, and explains more", group.more[:MORE]),
        ("Of its parts explains most", group.parts[:PARTS]),
    ):
        if places and found.test[k] > 1:
            said += f". {words}: {'; '.join(found.words[p] for p in places)}"
    return said


def parted_words(found: "Suspects", partings: "Mapping[int, Parting]") -> str:
    """Return what would part the first cause from its twins; empty without twins.

    Parameters
    ----------
    found : Suspects
    partings : mapping of int to Parting
    """
    if not len(found) or found.test[0] <= 1 or len(found.groups[0].members) < 2:
        return ""
    parting = partings.get(0)
    if parting is None:
        return (
            "to part 1 from what it cannot be told from: no observation of a kind this "
            "job has would help; look at field book and photographs"
        )
    return f"to part 1 from its twin: {parting_words(found, parting)}"


def parting_words(found: "Suspects", parting: "Parting") -> str:
    """Return the observation that would part two causes, and what it buys.

    Parameters
    ----------
    found : Suspects
    parting : Parting
    """
    one, marks = parting.candidate, found.adjustment.network.marks.name
    named = f"{one.name}, " if one.name else ""
    time = f" ({one.minutes:.0f} min)" if isfinite(one.minutes) else ""
    ends = ", ".join(marks[k] for k in one.marks[1:])
    start, anew = marks[one.start], "all set up anew"
    said = {
        "baseline": f"one more baseline {start} – {ends} from set-ups of its own",
        "levelled run": f"one more levelled run {start} – {ends}",
        "total-station round": f"a total-station round from {start} to {ends}, {anew}",
        "second set-up": f"a second set-up on {start}, observed to {ends}, {anew}",
    }
    return (
        f"{named}{said[one.kind]}{time}; test of 1 beside its twin then "
        f"{number(parting.after, 'test')}, now {number(parting.before, 'test')}"
    )


def _step_twins(found: "Suspects", n: int) -> str:
    """Return what the cause of a later step cannot be told from, in brackets."""
    step, causes = found.search.steps[n - 1], found.made.causes
    said = []
    if len(step.group) > 1:
        others = "; ".join(causes[c].words for c in step.group[1 : TWINS + 1])
        said.append(f"cannot be told from {others}")
    if step.larger:
        larger = "; ".join(causes[c].words for c in step.larger[:WIDER])
        said.append(f"larger: {larger}")
    return f" ({'. '.join(said)})" if said else ""


def steps_words(found: "Suspects") -> str:
    """Return the search for several faults, every step; empty without one.

    Parameters
    ----------
    found : Suspects
    """
    said = []
    for n, step in enumerate(found.search.steps, start=1):
        causes = found.made.causes
        twins = _step_twins(found, n) if n > 1 else ""
        if n == 1 and len(step.group) > 1:
            twins = ", or one it cannot be told from,"
        words = (
            f"{n}. {causes[step.accepted].words}{twins} taken as true (test "
            f"{number(step.test, 'test')}): variance factor "
            f"{number(step.variance_factor, 'limit')} on {step.degrees_of_freedom} "
            "degrees of freedom"
        )
        if step.given_up:
            gone = ", ".join(causes[g].words for g in step.given_up)
            words += f"; looking back, given up: {gone}"
        said.append(words)
    if not said:
        return ""
    first = "one after another"
    if found.search.started:
        first = (
            f"one after another, from {len(found.search.started)} at once, which hide "
            "each other and explain more together"
        )
    return f"{first}: " + "; ".join(said) + f". {_STOPPED[found.search.stopped]}"


_STOPPED = {
    "explained": "Nothing more is over its limit and asked for",
    "freedom": "Stopped: another would leave too little to judge by",
    "share": "Stopped: another would set aside more than a tenth of the observations; "
    "then the weights or the model are wrong, not the observations",
    "steps": "Stopped after five: then the weights or the model are wrong, not the "
    "observations",
}


def simulation_words(found: "Suspects") -> str:
    """Return how likely the largest test is by simulation; empty where not asked.

    Parameters
    ----------
    found : Suspects
    """
    made = found.simulation
    if made is None or not len(found):
        return ""
    low, high = (f"{100 * float(v[0]):.2g} %" for v in (made.lower, made.upper))
    chance = f"{100 * float(found.family_probability[0]):.2g} %"
    return (
        f"by simulation: in {chance} of {made.draws} surveys drawn with the stated "
        f"noise and no blunder, some cause was as unlikely as cause 1 (between {low} "
        f"and {high}, {percent(made.confidence)}; the tests overlap, so counting is "
        "nearer than a formula). All causes that are listed or were tried took part, "
        "but no exchange of names and no wrong unit whose amounts are not those of one"
    )


def left_words(found: "Suspects") -> str:
    """Return whether too little would be left to leave anything out; else empty.

    Parameters
    ----------
    found : Suspects
    """
    if found.answer == "unchecked" or found.enough or not len(found):
        return ""
    left = found.variance_factor.degrees_of_freedom - int(found.components[0])
    return (
        "not enough to leave anything out: degrees of freedom left would be "
        f"{max(left, 0)}, and below {found.least_freedom} a cause can hardly be told "
        "from another. Measure more first"
    )


def unchecked_words(found: "Suspects") -> str:
    """Return in what no cause can be looked for; empty for nothing.

    Parameters
    ----------
    found : Suspects
    """
    names = found.unchecked
    if not names:
        return ""
    said = "; ".join(names[:3])
    more = f"; and {len(names) - 3} more" if len(names) > 3 else ""
    return f"nothing checks, so no cause can be looked for in: {said}{more}"
