"""What lies near and could be observed, where nobody has proposed it."""

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from brasscap.adjust import Adjustment
    from brasscap.adjust.design import Choice, State
    from brasscap.io.tables.load import Loaded
    from brasscap.offer import Offer

NEIGHBOURS = 4
"""Nearest marks to which a vector or run from each mark is thought of."""
TARGETS = 3
"""Marks that a thought-of round sights at most."""
REACH = 1.5
"""A round sights no farther than this times the longest line that the job sighted."""
GROWN = 8
"""Vectors that are grown to sessions: those that buy most."""


def near_offers(loaded: "Loaded", adjustment: "Adjustment") -> "Iterator[Offer]":
    """Yield vectors, levelling runs and rounds between near marks, and control ties.

    Of the kinds of work that the job has; vectors too where it has positions alone.

    Parameters
    ----------
    loaded : Loaded
    adjustment : Adjustment
    """
    network = adjustment.network
    levels = network.levels is not None and bool(network.levels.used.any())
    sights = any(bool(some.used.any()) for some in network.sights)
    if len(network.vectors) or not (levels or sights):
        yield from _between_near(loaded, adjustment, "baseline")
        yield from _control_ties(loaded, adjustment)
    if levels:
        yield from _between_near(loaded, adjustment, "levelling run")
    if sights:
        yield from _rounds(loaded, adjustment)


def second_set_ups(loaded: "Loaded", adjustment: "Adjustment") -> "list[Offer]":
    """Return, for each mark that vectors reach, a vector from a fresh set-up over it.

    To its nearest neighbour, with a fresh set-up there as well.

    Parameters
    ----------
    loaded : Loaded
    adjustment : Adjustment
    """
    import numpy as np

    from brasscap.offer import offer_of

    vectors, network = adjustment.network.vectors, adjustment.network
    ends = np.concatenate([vectors.start[vectors.used], vectors.end[vectors.used]])
    made = []
    for mark in np.unique(network.mark_of(ends)).tolist():
        for other in nearest_marks(adjustment, mark)[:1]:
            name, pair = network.marks.name[mark], (mark, other)
            found = offer_of(loaded, adjustment, "second set-up", pair, name)
            if found is not None:
                made.append(found)
    return made


def _between_near(
    loaded: "Loaded", adjustment: "Adjustment", kind: str
) -> "Iterator[Offer]":
    from brasscap.offer import offer_of

    network = adjustment.network
    pairs = {
        (min(mark, other), max(mark, other))
        for mark in range(len(network.marks))
        for other in nearest_marks(adjustment, mark)
    }
    if kind == "levelling run":
        pairs = {pair for pair in pairs if set(pair) <= _levelled(adjustment)}
    for pair in sorted(pairs):
        made = offer_of(loaded, adjustment, kind, pair)
        if made is not None:
            yield made


def _levelled(adjustment: "Adjustment") -> set[int]:
    """Return the marks to which somebody has levelled: others may be out of reach."""
    levels = adjustment.network.levels
    if levels is None:
        return set()
    return {*levels.start.tolist(), *levels.end.tolist()}


def _rounds(loaded: "Loaded", adjustment: "Adjustment") -> "Iterator[Offer]":
    """Yield a round from each mark that had an instrument, to its nearest marks."""
    import numpy as np

    from brasscap.offer import offer_of

    network, places = adjustment.network, adjustment.nodes.xyz
    at, farthest = set(), 0.0
    for some in network.sights:
        ends = network.mark_of(np.stack([some.at, some.to])[:, some.used])
        at |= {int(mark) for mark in ends[0] if mark >= 0}
        far = np.linalg.norm(places[ends[0]] - places[ends[1]], axis=1)
        farthest = max(farthest, float(far.max(initial=0.0)))
    for mark in sorted(at):
        near = [
            other
            for other in nearest_marks(adjustment, mark)
            if np.linalg.norm(places[other] - places[mark]) <= REACH * farthest
        ]
        if len(near) < 2:
            continue
        marks = (mark, *near[:TARGETS])
        made = offer_of(loaded, adjustment, "total-station round", marks)
        if made is not None:
            yield made


def _control_ties(loaded: "Loaded", adjustment: "Adjustment") -> "Iterator[Offer]":
    """Yield a vector to each known mark that nothing holds, from the nearest mark.

    With its known coordinates it is a position of that mark. To be used, the known
    mark needs a decision.
    """
    import numpy as np

    from brasscap.adjust.design import position
    from brasscap.adjust.design.crew import Task
    from brasscap.expecting import expected_sds, log_minutes
    from brasscap.offer import Offer

    network, known = adjustment.network, adjustment.network.known
    held = known.in_use("held") | known.in_use("weighted")
    idle = ~held.any(axis=1) & known.components.all(axis=1)
    support = loaded.job.set_up_kinds["tripod"]
    for row in np.flatnonzero(idle).tolist():
        mark = int(known.mark[row])
        own = _known_sds(adjustment, row)
        near = _nearest_to(adjustment, known.xyz[row], mark)
        if own is None or not near:
            continue
        other = near[0]
        far = float(np.linalg.norm(adjustment.nodes.xyz[other] - known.xyz[row]))
        sd = expected_sds(loaded, adjustment, "control tie", far)
        if not (sd[0] > 0 and sd[1] > 0):
            continue
        whole = np.hypot(sd, own)
        stand = np.sqrt(2) * np.array([support.sd_centring, support.sd_height])
        observable = position(other, tuple(whole.tolist()), tuple(stand.tolist()))
        task = Task((other, mark), log_minutes(loaded, "control tie"))
        name = network.marks.name[mark]
        note = f"{name} is known but not used: to count, it needs a decision"
        yield Offer("control tie", observable, task, note)


def _known_sds(adjustment: "Adjustment", row: int) -> tuple[float, float] | None:
    """Return the sds of a known mark, plan and height, m; None where not stated."""
    from brasscap.networks.covariances import blocks

    known = adjustment.network.known
    matrix = blocks(known.covariances, len(known), 3)[row]
    if not (matrix.diagonal() >= 0).all():
        return None
    plan = float(max(matrix[0, 0], matrix[1, 1])) ** 0.5
    return plan, float(matrix[2, 2]) ** 0.5


def nearest_marks(adjustment: "Adjustment", mark: int) -> list[int]:
    """Return the nearest marks whose place is estimated, nearest first.

    Parameters
    ----------
    adjustment : Adjustment
    mark : int
        None are returned where its own place is not estimated.
    """
    if not adjustment.estimated[mark].any():
        return []
    return _nearest_to(adjustment, adjustment.nodes.xyz[mark], mark)


def _nearest_to(adjustment: "Adjustment", place: object, without: int) -> list[int]:
    import numpy as np

    marks = np.asarray(adjustment.estimated.any(axis=1))
    places = adjustment.nodes.xyz[: len(marks)]
    far = np.linalg.norm(places - np.asarray(place), axis=1)
    far[~marks] = np.inf
    far[without] = np.inf
    count = min(NEIGHBOURS, len(far))
    some = np.argpartition(far, count - 1)[:count]
    found = some[np.lexsort((some, far[some]))]
    return [int(k) for k in found if np.isfinite(far[k])]


def sessions(
    loaded: "Loaded",
    adjustment: "Adjustment",
    state: "State",
    choice: "Choice",
    offers: "Sequence[Offer]",
    receivers: int,
) -> "list[Offer]":
    """Return the best vectors grown to sessions of all receivers.

    A vector grows by the mark that buys most, while receivers are left and it buys
    something.

    Parameters
    ----------
    loaded : Loaded
    adjustment : Adjustment
    state : State
    choice : Choice
        Of the offers; what matters most.
    offers : sequence of Offer
    receivers : int
    """
    import numpy as np

    from brasscap.adjust.design.worth import scores

    if receivers < 3:
        return []
    pairs = [k for k, one in enumerate(offers) if one.kind == "baseline"
             and len(one.task.marks) == 2]  # fmt: skip
    if not pairs:
        return []
    alone = scores(state, [offers[k].observable for k in pairs]).worth(choice.order)
    best = np.argsort(-alone, kind="stable")[:GROWN]
    kept = set(np.flatnonzero(state.place >= 0).tolist())
    made: dict[frozenset[int], Offer] = {}
    for k in best.tolist():
        grown = offers[pairs[k]]
        worth = float(alone[k])
        while len(grown.task.marks) < receivers:
            wider = [
                one
                for one in _wider(loaded, adjustment, grown)
                if kept.issuperset(one.observable.marks)
            ]
            if not wider:
                break
            found = scores(state, [one.observable for one in wider]).worth(choice.order)
            j = int(np.argmax(found))
            if found[j] <= worth * (1 + 1e-6):
                break
            grown, worth = wider[j], float(found[j])
            made[frozenset(grown.task.marks)] = grown
    return list(made.values())


def _wider(loaded: "Loaded", adjustment: "Adjustment", one: "Offer") -> "list[Offer]":
    """Return a session with each mark more that lies near one of its marks."""
    from dataclasses import replace

    from brasscap.offer import session_offer

    near = {m for mark in one.task.marks for m in nearest_marks(adjustment, mark)}
    made = []
    for mark in sorted(near - set(one.task.marks)):
        marks = (*one.task.marks, mark)
        found = session_offer(loaded, adjustment, marks, one.proposal)
        if found is not None:
            task = replace(
                found.task, minutes=max(found.task.minutes, one.task.minutes),
                earliest=one.task.earliest, latest=one.task.latest,
            )  # fmt: skip
            made.append(found._replace(task=task, note=one.note))
    return made
