"""What now, with this crew? The job's own state, specifications, suspects and crew."""

from collections.abc import Sequence
from typing import TYPE_CHECKING, NamedTuple

from brasscap.arguments import Request, nearest, wrong
from brasscap.networks import Finding, InputError

if TYPE_CHECKING:
    from brasscap.adjust import Adjustment
    from brasscap.adjust.design import Choice, State
    from brasscap.adjust.design.crew import Crew
    from brasscap.adjust.design.plan import Plan
    from brasscap.io.tables.load import Loaded
    from brasscap.networks.covariances import Bools, Floats, Ints
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
DETOUR = 1.3
"""Road over straight line, where [crew] does not say (common practice, no source)."""
SPEED_KM_H = 40.0


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


def reobserving(
    request: Request,
    loaded: "Loaded",
    adjustment: "Adjustment",
    progress: "Progress",
) -> Reobserving:
    """Return the plan for the crew that job.toml and the command line state."""
    from brasscap.adjust.design import Choice
    from brasscap.adjust.design.plan import planned
    from brasscap.offering import sessions
    from brasscap.proposing import offers

    purpose = request.values.get("purpose", "spec")
    crew, assumed = crew_of(request, loaded, adjustment)
    able, refused = offers(loaded, adjustment)
    specification, state = state_now(loaded, adjustment)
    order = order_of(request, loaded, purpose)
    alone = Choice([one.observable for one in able], order)
    able += sessions(loaded, adjustment, state, alone, able, crew.receivers)
    progress(f"{len(able)} candidates")
    choice = Choice(
        [one.observable for one in able],
        order,
        parts=_parts(loaded, adjustment, able),
    )
    drive = drives_of(loaded, adjustment)
    plan = planned(state, choice, [one.task for one in able], crew, drive)
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
    )


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


def drives_of(loaded: "Loaded", adjustment: "Adjustment") -> "Floats":
    """Return minutes between marks, as tables and [crew] say, (m, m)."""
    from brasscap.proposing import drives

    stated = loaded.job.crew
    return drives(
        loaded,
        adjustment,
        float(stated.get("drive_speed_km_h", SPEED_KM_H)),
        float(stated.get("detour_factor", DETOUR)),
    )


def crew_of(
    request: Request, loaded: "Loaded", adjustment: "Adjustment"
) -> "tuple[Crew, tuple[str, ...]]":
    """Return the crew, and what was taken for granted of it.

    Raises
    ------
    CommandError
        An option that is no number, a mark that is not there, a day without hours.
    """
    from brasscap.adjust.design.crew import Crew
    from brasscap.proposing import minutes_of

    stated, assumed = loaded.job.crew, []

    def given(key: str, otherwise: float, said: str) -> float:
        if key in stated:
            return float(stated[key])
        assumed.append(said)
        return otherwise

    start = minutes_of(str(stated.get("start", "08:00")))
    if "start" not in stated:
        assumed.append("start at 08:00")
    hours = _number(request, "hours")
    hours = given("hours", 4.0, "4 hours") if hours is None else hours
    receivers = _number(request, "receivers")
    if receivers is None:
        receivers = given("receivers", 2, "2 receivers")
    people = int(given("people", 2, "2 people"))
    vehicles = int(stated.get("vehicles", people))
    late = {
        key: minutes_of(str(stated[key])) if key in stated else float("inf")
        for key in ("sunset", "gate_closes")
    }
    for key, at in late.items():
        if at <= start:
            raise InputError([_too_early(key, str(stated[key]), start)])
    if "detour_factor" not in stated:
        assumed.append(f"roads {DETOUR:g} × the straight line")
    if "drive_speed_km_h" not in stated:
        assumed.append(f"{SPEED_KM_H:g} km/h")
    set_up = given("set_up_min", 15.0, "15 min a set-up")
    home = _home(request, adjustment)
    crew = Crew(
        int(receivers), min(vehicles, people), start, start + 60 * hours,
        late["sunset"], late["gate_closes"], set_up, home,
    )  # fmt: skip
    return crew, tuple(assumed)


def _too_early(key: str, clock: str, start: float) -> Finding:
    from brasscap.proposing import clock_of

    return Finding(
        "crew-times",
        "fault",
        f"[crew] {key}",
        file="job.toml",
        booked=clock,
        against=f"a time after the start, {clock_of(start)}",
        mend=f"correct [crew] start or {key}; both are local clock times",
    )


def _number(request: Request, key: str) -> float | None:
    text = request.values.get(key)
    if text is None:
        return None
    try:
        value = float(text)
    except ValueError:
        value = float("nan")
    if not 0 < value < 1000:
        raise wrong(f"--{key} {text}: a number above 0")
    return value


def _home(request: Request, adjustment: "Adjustment") -> int:
    name, names = request.values.get("from"), adjustment.network.marks.name
    if name is None:
        return -1
    if name not in names:
        raise wrong(f"--from {name}: no such mark{nearest(name, names)}")
    return names.index(name)


def state_now(
    loaded: "Loaded", adjustment: "Adjustment", ends: "Ints | None" = None
) -> "tuple[Specification | None, State]":
    """Return the first specification between marks, and how the network stands.

    Without one the pairs that are observed count, by the size of their ellipses; or
    those that are given.
    """
    import numpy as np

    from brasscap.adjust.design import state_of
    from brasscap.adjust.judge import hypotheses

    causes = [*hypotheses.observations(adjustment), *hypotheses.set_ups(adjustment)]
    one = _specification(loaded)
    if ends is None:
        ends = _ends(loaded, adjustment, one)
    limit = np.full((len(ends), 2), np.nan)
    scale = np.ones((len(ends), 2))
    if one is None:
        limit[:, 0] = 1.0
    else:
        limit, scale = _limits(adjustment, one, ends)
    if not adjustment.estimated[:, :2].any():
        limit = np.stack([np.full(len(ends), np.nan), np.ones(len(ends))], axis=1)
    return one, state_of(adjustment, ends, limit, scale, causes)


def _specification(loaded: "Loaded") -> "Specification | None":
    from brasscap.networks.specifications import RELATIVE
    from brasscap.specifying import specifications

    if not loaded.job.specifications:
        return None
    of_pairs = [one for one in specifications(loaded) if one.kind in RELATIVE]
    return of_pairs[0] if of_pairs else None


def _ends(
    loaded: "Loaded", adjustment: "Adjustment", one: "Specification | None"
) -> "Ints":
    from brasscap.networks.neighbours import observed_pairs
    from brasscap.specifying import pairs_of

    if one is None:
        return observed_pairs(adjustment.network)
    return pairs_of(loaded, adjustment, one)


def _limits(
    adjustment: "Adjustment", one: "Specification", ends: "Ints"
) -> "tuple[Floats, Floats]":
    import numpy as np

    from brasscap.adjust.precision.compliance import scale_of
    from brasscap.adjust.precision.relative import relative

    distance = relative(adjustment, ends).distance
    scale = scale_of(adjustment, one.confidence)
    none = np.full(len(ends), np.nan)
    limit = np.stack(
        [
            part.over(distance) if part is not None else none
            for part in (one.plan, one.height)
        ],
        axis=1,
    )
    both = np.broadcast_to([scale.ellipse, scale.height], limit.shape)
    return limit, np.asarray(both)


def _parts(
    loaded: "Loaded", adjustment: "Adjustment", able: "Sequence[Offer]"
) -> "Bools | None":
    """Return which groups of suspects each offer would tell apart, (k, G)."""
    import numpy as np

    from brasscap.adjust.causes import suspects
    from brasscap.adjust.causes.fresh import SET_UP, Candidate
    from brasscap.adjust.causes.parting import best_parting
    from brasscap.suspected import labels_of

    found = suspects(adjustment, labels_of(loaded))
    pairs = [
        (int(found.number[g.members[0]]), int(found.number[g.members[1]]))
        for g in found.groups
        if len(g.members) > 1 and found.test[g.members[0]] > 1
    ]
    if not pairs:
        return None
    kinds = {"baseline": "baseline", "levelling run": "levelled run"}
    made = np.zeros((len(able), len(pairs)), dtype=bool)
    for k, one in enumerate(able):
        seen = one.observable
        if seen.kind not in kinds or len(seen.marks) != 2:
            continue
        sd = np.sqrt(np.diag(seen.covariance))
        if seen.kind == "baseline":
            # Fresh set-ups are in these rows already; they are added there.
            stand = 2 * np.array([SET_UP[0], SET_UP[0], SET_UP[1]]) ** 2
            sd = np.sqrt(np.maximum(sd**2 - stand, 1e-12))
        start, end = seen.marks
        sds = float(sd[0]), float(sd[-1])
        candidate = Candidate("", kinds[seen.kind], start, end, *sds)
        for g, pair in enumerate(pairs):
            parting = best_parting(
                adjustment, found.made, found.joint, pair, [candidate]
            )
            made[k, g] = parting is not None and parting.before < 1 < parting.after
    return made
