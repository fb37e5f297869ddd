"""What now, with this crew? The job's own state, specifications, suspects and crew."""

from collections.abc import Sequence
from typing import TYPE_CHECKING, NamedTuple

from brasscap.arguments import Request, nearest, wrong

if TYPE_CHECKING:
    from brasscap.adjust import Adjustment
    from brasscap.adjust.causes.fresh import Candidate
    from brasscap.adjust.design import Choice, State
    from brasscap.adjust.design.crew import Crew
    from brasscap.adjust.design.plan import Plan
    from brasscap.io.tables.load import Loaded
    from brasscap.networks.covariances import Bools
    from brasscap.networks.specifications import Specification
    from brasscap.offer import Offer, Refused
    from brasscap.progress import Progress


PURPOSES = {
    "spec": (
        "specification failures removed",
        "unchecked removed",
        "suspects parted",
        "smallest detectable blunder",
        "worst pair",
    ),
    "reliability": (
        "unchecked removed",
        "suspects parted",
        "smallest detectable blunder",
        "specification failures removed",
        "worst pair",
    ),
    "audit": ("unchecked removed", "unseen movement", "suspects parted"),
}
"""What matters most first, by purpose. An audit looks for what nobody could see: first
what nothing checks, then blunders by how far they would move marks unseen."""


WHOLE = 400
"""Marks up to which every candidate gets a full look."""


class Reobserving(NamedTuple):
    """Everything that `reobserve` says something about."""

    adjustment: "Adjustment"
    specification: "Specification | None"
    offers: "list[Offer]"
    refused: "list[Refused]"
    state: "State"
    choice: "Choice"
    crew: "Crew"
    plan: "Plan"
    purpose: str
    assumed: tuple[str, ...]
    """What was taken for granted of the crew."""
    thought_of: int
    """Candidates that were thought of; more than offers in a large network."""


def reobserving(
    request: Request,
    loaded: "Loaded",
    adjustment: "Adjustment",
    progress: "Progress",
) -> Reobserving:
    """Return the plan for the crew that job.toml and the command line state."""
    import numpy as np

    from brasscap.adjust.design import Choice
    from brasscap.crewing import crew_of
    from brasscap.offering import sessions
    from brasscap.present_state import state_now
    from brasscap.proposing import offers

    purpose = request.values.get("purpose", "spec")
    crew, assumed = crew_of(request, loaded, adjustment)
    able, refused = offers(loaded, adjustment)
    count = len(able)
    progress(f"{count} candidates")
    able = _short(loaded, adjustment, able, progress)
    touched = np.unique([m for one in able for m in one.observable.marks] or [0])
    specification, state = state_now(loaded, adjustment, marks=touched)
    order = order_of(request, loaded, purpose)
    alone = Choice([one.observable for one in able], order)
    short = len(able)
    able += sessions(loaded, adjustment, state, alone, able, crew.receivers)
    count += len(able) - short
    choice = Choice(
        [one.observable for one in able],
        order,
        parts=_parts(loaded, adjustment, able),
    )
    progress(f"planning with {len(able)} of them")
    plan = _planned(loaded, state, choice, adjustment, able, crew)
    return Reobserving(
        adjustment,
        specification,
        able,
        refused,
        state,
        choice,
        crew,
        plan,
        purpose,
        assumed,
        count,
    )


def _short(
    loaded: "Loaded",
    adjustment: "Adjustment",
    able: "list[Offer]",
    progress: "Progress",
) -> "list[Offer]":
    """Return the offers that get a full look: all, but of a large network."""
    import numpy as np

    from brasscap.adjust.design.shortlist import shortlisted
    from brasscap.adjust.design.state import NO_MARKS
    from brasscap.present_state import state_now

    if len(adjustment.network.marks) <= WHOLE or not able:
        return able
    progress("a first look at all of them")
    _, now = state_now(loaded, adjustment, marks=NO_MARKS)
    first = np.array([bool(one.proposal) for one in able])
    some = shortlisted(adjustment, now, [one.observable for one in able], first)
    return [able[k] for k in np.flatnonzero(some).tolist()]


def _planned(
    loaded: "Loaded",
    state: "State",
    choice: "Choice",
    adjustment: "Adjustment",
    able: "Sequence[Offer]",
    crew: "Crew",
) -> "Plan":
    """Return the plan, with drives between the marks that it may touch alone."""
    from dataclasses import replace

    import numpy as np

    from brasscap.adjust.design.plan import planned
    from brasscap.driving import drives_of

    home = [crew.home] if crew.home >= 0 else []
    marks = np.unique([m for one in able for m in one.task.marks] + home).astype(int)
    place = {mark: k for k, mark in enumerate(marks.tolist())}
    tasks = [
        replace(one.task, marks=tuple(place[m] for m in one.task.marks)) for one in able
    ]
    at_home = replace(crew, home=place.get(crew.home, -1))
    drive = drives_of(loaded, adjustment, marks)
    plan = planned(state, choice, tasks, at_home, drive)
    visits = tuple(replace(v, mark=int(marks[v.mark])) for v in plan.day.visits)
    return replace(plan, day=replace(plan.day, visits=visits))


def order_of(request: Request, loaded: "Loaded", purpose: str) -> tuple[str, ...]:
    """Return what matters most first: as asked, else [crew] order, else the purpose's.

    Raises
    ------
    CommandError
        A word that is not one of those that can count.
    """
    from brasscap.adjust.design import NAMES

    text = request.values.get("order", "")
    if not text and "purpose" not in request.values:
        text = str(loaded.job.crew.get("order", ""))
    if not text:
        return PURPOSES[purpose]
    words = tuple(word.strip() for word in text.split(","))
    for word in words:
        if word not in NAMES:
            known = ", ".join(NAMES)
            raise wrong(
                f"--order {text}: {word!r} cannot count{nearest(word, list(NAMES))}; "
                f"what can: {known}"
            )
    return tuple(dict.fromkeys(words))


def _parts(
    loaded: "Loaded", adjustment: "Adjustment", able: "Sequence[Offer]"
) -> "Bools | None":
    """Return which groups of suspects each offer would tell apart, (k, G)."""
    import numpy as np

    from brasscap.adjust.causes import suspects
    from brasscap.adjust.causes.parting import tests_with
    from brasscap.suspected import labels_of

    found = suspects(adjustment, labels_of(loaded))
    pairs = [
        (int(found.number[g.members[0]]), int(found.number[g.members[1]]))
        for g in found.groups
        if len(g.members) > 1 and found.test[g.members[0]] > 1
    ]
    if not pairs:
        return None
    seen = [_fresh(one) for one in able]
    rows = [k for k, one in enumerate(seen) if one is not None]
    fresh = [one for one in seen if one is not None]
    made = np.zeros((len(able), len(pairs)), dtype=bool)
    for g, pair in enumerate(pairs):
        before, after = tests_with(adjustment, found.made, found.joint, pair, fresh)
        if before < 1:
            made[rows, g] = np.array(after) > max(1.0, before + 0.01)
    return made


def _fresh(one: "Offer") -> "Candidate | None":
    """Return an offer as suspects are parted with; None of a kind that is not."""
    import numpy as np

    from brasscap.adjust.causes.fresh import SET_UP, Candidate

    seen = one.observable
    kinds = {"baseline": "baseline", "levelling run": "levelled run"}
    if seen.kind not in kinds or len(seen.marks) != 2:
        return None
    sd = np.sqrt(np.diag(seen.covariance))
    if seen.kind == "baseline":
        # Fresh set-ups are in these rows already; they are added there.
        stand = 2 * np.array([SET_UP[0], SET_UP[0], SET_UP[1]]) ** 2
        sd = np.sqrt(np.maximum(sd**2 - stand, 1e-12))
    start, end = seen.marks
    return Candidate("", kinds[seen.kind], start, end, float(sd[0]), float(sd[-1]))
