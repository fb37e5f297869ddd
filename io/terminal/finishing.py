"""What an afternoon bought: predicted by the plan, and true with what was observed."""

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

from brasscap.arguments import Request

if TYPE_CHECKING:
    from brasscap.adjust import Adjustment
    from brasscap.adjust.design import State
    from brasscap.io.finished import Finished
    from brasscap.io.tables.load import Loaded
    from brasscap.networks import Network
    from brasscap.networks.covariances import Bools
    from brasscap.offer import Offer
    from brasscap.progress import Progress


class Bought(NamedTuple):
    """How a network stood before some jobs, would by prediction, and does now."""

    adjustment: "Adjustment"
    specification: str
    jobs: "tuple[Finished, ...]"
    unread: "tuple[str, ...]"
    """Jobs of which nothing can be predicted, each with why."""
    missing: "tuple[str, ...]"
    """Jobs whose observations are not in the job yet."""
    before: "State"
    predicted: "State"
    now: "State | None"
    """None while nothing of it is in the job."""


def bought(
    request: Request, loaded: "Loaded", adjustment: "Adjustment", progress: "Progress"
) -> Bought:
    """Return what the jobs of --done bought.

    What was observed from their set-ups is taken out for the state before, and what
    was planned is put in its place for the prediction.

    Raises
    ------
    InputError
        The file of --done says nothing, or cannot be read.
    NoSolution
        Without the jobs there is none.
    """
    from brasscap.adjust import estimate
    from brasscap.adjust.design import observed
    from brasscap.io.finished import read_finished
    from brasscap.present_state import state_now

    jobs = read_finished(Path(request.values["done"]))
    there = [one for one in jobs if _is_in(adjustment.network, one)]
    earlier = adjustment
    if there:
        progress("adjusting without what was done")
        network = without(adjustment.network, there)
        earlier = estimate(network, adjustment.datum.mode)
    specification, now = state_now(loaded, adjustment)
    before = state_now(loaded, earlier, now.ends)[1] if there else now
    predicted, unread = before, []
    for one in jobs:
        offer, why = _planned(loaded, earlier, one)
        if offer is None:
            unread.append(f"{one.name}: {why}")
        else:
            predicted = observed(predicted, offer.observable)
    return Bought(
        adjustment,
        specification.name if specification else "",
        jobs,
        tuple(unread),
        tuple(one.name for one in jobs if one not in there),
        before,
        predicted,
        now if there else None,
    )


def _is_in(network: "Network", one: "Finished") -> bool:
    """Return whether something in use was observed from a job's set-ups."""
    return bool((network.vectors.used & ~without(network, [one]).vectors.used).any())


def without(network: "Network", jobs: "Sequence[Finished]") -> "Network":
    """Return a network without what was observed from the set-ups of some jobs.

    Parameters
    ----------
    network : Network
    jobs : sequence of Finished
    """
    import numpy as np

    names = {name for one in jobs for name in one.set_ups}
    count = len(network.marks)
    gone = np.zeros(count + len(network.set_ups) + 1, dtype=bool)
    for k, name in enumerate(network.set_ups.name):
        gone[count + k] = name in names
    vectors, positions = network.vectors, network.positions
    touched = gone[vectors.start] | gone[vectors.end]
    return replace(
        network,
        vectors=replace(vectors, used=vectors.used & ~touched),
        positions=replace(positions, used=positions.used & ~gone[positions.node]),
        sights=tuple(
            replace(some, used=some.used & ~_sees(gone, some.at, some.to))
            for some in network.sights
        ),
    )


def _sees(gone: "Bools", at: object, to: object) -> "Bools":
    import numpy as np

    made: Bools = gone[np.asarray(at)] | gone[np.asarray(to)]
    return made


def _planned(
    loaded: "Loaded", adjustment: "Adjustment", one: "Finished"
) -> "tuple[Offer | None, str]":
    """Return what a job was planned to observe, or why that is not known."""
    from brasscap.offer import session_offer
    from brasscap.proposing import offers

    names = adjustment.network.marks.name
    if one.proposal:
        found = [o for o in offers(loaded, adjustment)[0] if o.proposal == one.proposal]
        return (found[0], "") if found else (None, "no such proposal can be judged")
    marks = tuple(names.index(s) for s in one.stations if s in names)
    lost = [names[m] for m in marks if not adjustment.estimated[m].any()]
    if len(set(marks)) < 2 or len(marks) < len(one.stations) or lost:
        return None, "fewer than two marks of the network were occupied together"
    made = session_offer(loaded, adjustment, tuple(dict.fromkeys(marks)), one.name)
    return made, "" if made else "the expected precision of a vector is not known"
