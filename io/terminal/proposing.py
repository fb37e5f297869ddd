"""What could be observed next: the proposals of proposed.csv, and others near them."""

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    from brasscap.adjust import Adjustment
    from brasscap.adjust.design import Observable
    from brasscap.adjust.design.crew import Task
    from brasscap.io.tables.load import Loaded
    from brasscap.io.tables.table import Table
    from brasscap.networks import Network
    from brasscap.networks.covariances import Floats, Ints

NEIGHBOURS = 4
"""Nearest marks to which a vector or run from each mark is thought of."""
MINUTES = {"baseline": 45.0, "levelling run": 30.0, "total-station round": 30.0}
"""On the marks, where neither proposal nor [crew.log_min] says (common practice)."""


class Offer(NamedTuple):
    """One thing that could be done, and what would be observed by it."""

    kind: str
    """As proposed.csv calls it."""
    observable: "Observable"
    task: "Task"
    note: str = ""
    blocked: str = ""
    """Why it cannot be done; empty where it can."""

    @property
    def proposal(self) -> str:
        """Name of the proposal; empty where nobody proposed it."""
        return self.observable.name


def offers(loaded: "Loaded", adjustment: "Adjustment") -> list[Offer]:
    """Return what could be observed: what is proposed first, then what lies near.

    Parameters
    ----------
    loaded : Loaded
    adjustment : Adjustment
    """
    given = list(_proposed(loaded, adjustment))
    seen = {_key(one) for one in given}
    return given + [o for o in _near(loaded, adjustment) if _key(o) not in seen]


def _key(one: Offer) -> tuple[str, frozenset[int]]:
    return one.observable.kind, frozenset(one.observable.marks)


def _proposed(loaded: "Loaded", adjustment: "Adjustment") -> Iterator[Offer]:
    table = loaded.tables.get("proposed")
    if table is None:
        return
    from brasscap.adjust.design.crew import Task

    names = adjustment.network.marks.name
    for i in range(len(table)):
        kind = str(table.word("kind")[i])
        ends = [str(table.word(f"{end}_station")[i]) for end in ("from", "to")]
        marks = [names.index(mark) for mark in ends if mark in names]
        minutes = float(table.number("minutes")[i])
        if minutes != minutes:
            minutes = log_minutes(loaded, kind)
        early, late = (
            _clock(str(table.word(w)[i]), v)
            for w, v in (("earliest", float("-inf")), ("latest", float("inf")))
        )
        for partner in _partners(adjustment, kind, marks):
            name = str(table.word("proposal")[i])
            made = _observable(loaded, adjustment, kind, partner, name, i)
            if made is not None:
                run = made.kind == "levelling run"
                yield Offer(
                    kind,
                    made,
                    Task(made.marks, minutes, early, late, run),
                    str(table.word("note")[i]),
                    str(table.word("blocked")[i]),
                )


def _partners(
    adjustment: "Adjustment", kind: str, marks: Sequence[int]
) -> list[tuple[int, ...]]:
    """Return the marks of a proposal; a second set-up seeks the other end itself."""
    if kind == "position":
        return [tuple(marks[:1])] if marks else []
    if len(marks) == 2:
        return [tuple(marks)]
    if kind == "second set-up" and len(marks) == 1:
        near = _nearest(adjustment, marks[0])
        return [(marks[0], other) for other in near]
    return []


def _near(loaded: "Loaded", adjustment: "Adjustment") -> Iterator[Offer]:
    """Yield vectors between near marks, or levelling runs in a job of levels."""
    from brasscap.adjust.design.crew import Task

    network = adjustment.network
    if len(network.vectors):
        kind = "baseline"
    elif network.levels is not None and len(network.levels):
        kind = "levelling run"
    else:
        kind = "total-station round"
    pairs = sorted(
        {
            (min(mark, other), max(mark, other))
            for mark in range(len(network.marks))
            for other in _nearest(adjustment, mark)
        }
    )
    for pair in pairs:
        made = _observable(loaded, adjustment, kind, pair, "", -1)
        if made is not None:
            run = kind == "levelling run"
            yield Offer(kind, made, Task(pair, log_minutes(loaded, kind), run=run))


def second_set_ups(loaded: "Loaded", adjustment: "Adjustment") -> list[Offer]:
    """Return, for each mark that vectors reach, a vector from a fresh set-up over it.

    To its nearest neighbour, with a fresh set-up there as well.

    Parameters
    ----------
    loaded : Loaded
    adjustment : Adjustment
    """
    import numpy as np

    from brasscap.adjust.design.crew import Task

    vectors, network = adjustment.network.vectors, adjustment.network
    ends = np.concatenate([vectors.start[vectors.used], vectors.end[vectors.used]])
    kind, made = "second set-up", []
    for mark in np.unique(network.mark_of(ends)).tolist():
        for other in _nearest(adjustment, mark)[:1]:
            name, pair = network.marks.name[mark], (mark, other)
            seen = _observable(loaded, adjustment, kind, pair, name, -1)
            if seen is not None:
                minutes = log_minutes(loaded, "baseline")
                made.append(Offer(kind, seen, Task(pair, minutes)))
    return made


def _nearest(adjustment: "Adjustment", mark: int) -> list[int]:
    import numpy as np

    marks = np.asarray(adjustment.estimated.any(axis=1))
    if not marks[mark]:
        return []
    places = adjustment.nodes.xyz[: len(marks)]
    far = np.linalg.norm(places - places[mark], axis=1)
    far[~marks] = np.inf
    found = np.argsort(far, kind="stable")[1 : NEIGHBOURS + 1]
    return [int(k) for k in found if np.isfinite(far[k])]


def _observable(
    loaded: "Loaded",
    adjustment: "Adjustment",
    kind: str,
    marks: tuple[int, ...],
    name: str,
    row: int,
) -> "Observable | None":
    """Return what would be observed; None where its precision is not known."""
    from brasscap.adjust.design import (
        levelling,
        position,
        total_station_round,
        vector,
    )

    support = loaded.job.set_up_kinds["tripod"]
    stand = support.sd_centring, support.sd_height
    length = _length(adjustment, marks)
    plan, height = expected_sds(loaded, adjustment, kind, length, row)
    if kind == "levelling run":
        start, end = marks
        return levelling(adjustment, start, end, height, name) if height > 0 else None
    if kind == "total-station round":
        sd = angular_sds(loaded, adjustment.network)
        return total_station_round(adjustment, marks[0], marks[1:], sd, stand, name)
    if not (plan > 0 and height > 0):
        return None
    if kind == "position":
        return position(marks[0], (plan, height), stand, name)
    start, end = marks
    return vector(adjustment, start, end, (plan, height), stand, name)


def expected_sds(
    loaded: "Loaded", adjustment: "Adjustment", kind: str, length: float, row: int = -1
) -> tuple[float, float]:
    """Return what an observation is expected to be worth, plan and height, m.

    The proposal's own figures, else [planned.KIND], else the middle of what the job
    has of that kind.

    Parameters
    ----------
    loaded : Loaded
    adjustment : Adjustment
    kind : str
        As proposed.csv calls it.
    length : float
        Between its marks, m.
    row : int, optional
        Of proposed.csv; −1 for none.
    """
    from brasscap.adjust.causes.fresh import usual_sds

    table = loaded.tables.get("proposed")
    made = planned_sds(loaded, table, kind, length, row)
    plan, height = usual_sds(adjustment)
    return (
        made[0] if made[0] == made[0] else plan,
        made[1] if made[1] == made[1] else height,
    )


def planned_sds(
    loaded: "Loaded", table: "Table | None", kind: str, length: float, row: int = -1
) -> tuple[float, float]:
    """Return the sds that a row states, else [planned.KIND], plan and height, m.

    Of a levelling run the second; NaN where nothing is stated.

    Parameters
    ----------
    loaded : Loaded
    table : Table or None
        proposed.csv, or a plan in its shape.
    kind : str
    length : float
        Between its marks, m.
    row : int, optional
        −1 for none.
    """
    tied = ("baseline", "second set-up", "control tie", "position")
    stated = loaded.job.planned.get(kind)
    if stated is None:
        stated = loaded.job.planned.get("baseline", {}) if kind in tied else {}
    made = []
    for part in ("plan", "height"):
        own = float("nan")
        if row >= 0 and table is not None:
            own = float(table.number(f"sd_{part}")[row])
        if own != own and f"sd_{part}_mm" in stated:
            ppm = stated.get(f"sd_{part}_ppm", 0.0)
            own = stated[f"sd_{part}_mm"] / 1000 + ppm * 1e-6 * length
        made.append(own)
    per_km = stated.get("sd_mm_per_sqrt_km")
    levels = loaded.job.levels.sd_per_sqrt_km
    if kind == "levelling run" and made[1] != made[1]:
        each = per_km / 1000 if per_km is not None else levels
        made[1] = made[1] if each is None else each * (length / 1000) ** 0.5
    return made[0], made[1]


def angular_sds(
    loaded: "Loaded", network: "Network"
) -> tuple[float, float, float, float]:
    """Return sd of direction and zenith (rad), distance (m, m per m) of a round."""
    import numpy as np

    stated = loaded.job.planned.get("total-station round", {})
    usual = {
        some.kind: float(np.median(some.sd[some.used]))
        for some in network.sights
        if some.used.any()
    }
    second = np.pi / 180 / 3600
    direction = stated.get("sd_direction_arcsec", 0) * second
    zenith = stated.get("sd_zenith_arcsec", 0) * second
    distance = stated.get("sd_distance_mm", 0) / 1000
    return (
        direction or usual.get("direction", usual.get("angle", 5 * second)),
        zenith or usual.get("zenith angle", 5 * second),
        distance or usual.get("slope distance", 0.003),
        stated.get("sd_distance_ppm", 0) * 1e-6,
    )


def _length(adjustment: "Adjustment", marks: Sequence[int]) -> float:
    import numpy as np

    if len(marks) < 2:
        return 0.0
    ends = adjustment.nodes.xyz[[marks[0], marks[1]]]
    return float(np.linalg.norm(ends[1] - ends[0]))


def log_minutes(loaded: "Loaded", kind: str) -> float:
    """Return the minutes on the marks for a kind of work."""
    stated = loaded.job.crew.get("log_min", {})
    usual = MINUTES.get(kind, MINUTES["baseline"])
    return float(stated.get(kind, stated.get("baseline", usual)))


def _clock(text: str, otherwise: float) -> float:
    return minutes_of(text) if text else otherwise


def minutes_of(clock: str) -> float:
    """Return minutes since midnight of a clock time.

    Examples
    --------
    >>> minutes_of("14:05")
    845.0
    """
    hours, _, minutes = clock.partition(":")
    return 60.0 * int(hours) + float(minutes)


def clock_of(minutes: float) -> str:
    """Return the clock time of minutes since midnight, to the minute.

    Examples
    --------
    >>> clock_of(844.6)
    '14:05'
    """
    whole = round(minutes)
    return f"{whole // 60:02d}:{whole % 60:02d}"


def drives(adjustment: "Adjustment", speed_km_h: float, detour: float) -> "Floats":
    """Return minutes between marks: straight line × detour over speed, (m, m).

    Parameters
    ----------
    adjustment : Adjustment
    speed_km_h : float
    detour : float
        Road over straight line.
    """
    import numpy as np

    marks: Ints = np.arange(len(adjustment.network.marks))
    places = adjustment.nodes.xyz[marks]
    far = np.linalg.norm(places[:, None] - places, axis=2)
    made: Floats = detour * far / (speed_km_h * 1000 / 60)
    return made
