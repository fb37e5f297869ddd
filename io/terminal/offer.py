"""One thing that could be observed next, made at its marks; or why it cannot be."""

from collections.abc import Sequence
from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    from brasscap.adjust import Adjustment
    from brasscap.adjust.design import Observable
    from brasscap.adjust.design.crew import Task
    from brasscap.io.tables.load import Loaded


class Offer(NamedTuple):
    """One thing that could be done, and what would be observed by it."""

    kind: str
    """As proposed.csv calls it."""
    observable: "Observable"
    task: "Task"
    note: str = ""

    @property
    def proposal(self) -> str:
        """Name of the proposal; empty where nobody proposed it."""
        return self.observable.name


class Refused(NamedTuple):
    """A proposal that cannot be judged or done, and why."""

    kind: str
    proposal: str
    stations: tuple[str, ...]
    why: str
    minutes: float


def offer_of(
    loaded: "Loaded",
    adjustment: "Adjustment",
    kind: str,
    marks: tuple[int, ...],
    name: str = "",
    row: int = -1,
) -> Offer | None:
    """Return an offer of a kind at marks; None where its precision is not known.

    Parameters
    ----------
    loaded : Loaded
    adjustment : Adjustment
    kind : str
        As proposed.csv calls it.
    marks : tuple of int
    name : str, optional
        Of the proposal.
    row : int, optional
        Of proposed.csv; −1 for none.
    """
    from brasscap.adjust.design import levelling, position, total_station_round
    from brasscap.adjust.design.crew import RECEIVED, Task
    from brasscap.expecting import angular_sds, expected_sds, work_minutes

    if kind in RECEIVED:
        return session_offer(loaded, adjustment, marks, name, row, kind)
    stand = _stand(loaded)
    length = _length(adjustment, marks)
    plan, height = expected_sds(loaded, adjustment, kind, length, row)
    run, sighted = kind == "levelling run", kind == "total-station round"
    task = Task(marks, work_minutes(loaded, kind, length), run=run, sighted=sighted)
    if run:
        if not height > 0:
            return None
        seen = levelling(adjustment, marks[0], marks[-1], height, name)
    elif sighted:
        sd = angular_sds(loaded, adjustment.network)
        seen = total_station_round(adjustment, marks[0], marks[1:], sd, stand, name)
    elif plan > 0 and height > 0:
        seen = position(marks[0], (plan, height), stand, name)
    else:
        return None
    return Offer(kind, seen, task)


def session_offer(
    loaded: "Loaded",
    adjustment: "Adjustment",
    marks: tuple[int, ...],
    name: str = "",
    row: int = -1,
    kind: str = "baseline",
) -> Offer | None:
    """Return vectors from the first mark to each other, observed at once.

    Parameters
    ----------
    loaded : Loaded
    adjustment : Adjustment
    marks : tuple of int
        Two or more.
    name, row, kind
        As in ``offer_of``.
    """
    from brasscap.adjust.design import session
    from brasscap.adjust.design.crew import Task
    from brasscap.expecting import expected_sds, log_minutes

    sds = [
        expected_sds(loaded, adjustment, kind, _length(adjustment, (marks[0], k)), row)
        for k in marks[1:]
    ]
    if not all(plan > 0 and height > 0 for plan, height in sds):
        return None
    seen = session(adjustment, marks, sds, _stand(loaded), name)
    return Offer(kind, seen, Task(marks, log_minutes(loaded, kind)))


def _stand(loaded: "Loaded") -> tuple[float, float]:
    support = loaded.job.set_up_kinds["tripod"]
    return support.sd_centring, support.sd_height


def _length(adjustment: "Adjustment", marks: Sequence[int]) -> float:
    import numpy as np

    if len(marks) < 2:
        return 0.0
    ends = adjustment.nodes.xyz[[marks[0], marks[1]]]
    return float(np.linalg.norm(ends[1] - ends[0]))
