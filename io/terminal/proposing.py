"""What could be observed next: the proposals of proposed.csv, and others near them."""

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

from brasscap.offer import Offer, Refused

if TYPE_CHECKING:
    from brasscap.adjust import Adjustment
    from brasscap.io.tables.load import Loaded
    from brasscap.io.tables.table import Table
    from brasscap.networks import Network
    from brasscap.networks.covariances import Floats, Ints

MINUTES = {"baseline": 45.0, "levelling run": 30.0, "total-station round": 30.0}
"""On the marks, where neither proposal nor [crew.log_min] says (common practice)."""
RUN_MINUTES = 60.0
"""A kilometre, out and back, where [crew.log_min] does not say (common practice)."""
TIED = ("baseline", "second set-up", "control tie")
"""Kinds that are vectors between marks."""


def offers(
    loaded: "Loaded", adjustment: "Adjustment"
) -> tuple[list[Offer], list[Refused]]:
    """Return what could be observed: what is proposed first, then what lies near.

    Parameters
    ----------
    loaded : Loaded
    adjustment : Adjustment

    Returns
    -------
    offers : list of Offer
    refused : list of Refused
        Proposals that are blocked, or whose marks or precision are not known.
    """
    from brasscap.offering import near_offers

    made: list[Offer] = []
    refused: list[Refused] = []
    for one in _proposed(loaded, adjustment):
        if isinstance(one, Offer):
            made.append(one)
        else:
            refused.append(one)
    seen = {_key(one) for one in made}
    near = [one for one in near_offers(loaded, adjustment) if _key(one) not in seen]
    return made + near, refused


def _key(one: Offer) -> tuple[str, frozenset[int]]:
    return one.observable.kind, frozenset(one.task.marks)


def _proposed(
    loaded: "Loaded", adjustment: "Adjustment"
) -> "Iterator[Offer | Refused]":
    table = loaded.tables.get("proposed")
    if table is None:
        return
    for rows in pieces(table):
        yield from _piece(loaded, adjustment, table, rows)


def pieces(table: "Table") -> list[list[int]]:
    """Return the rows of each piece of work: those of one session are one piece.

    Parameters
    ----------
    table : Table
        proposed.csv, or a plan in its shape.
    """
    made: dict[str, list[int]] = {}
    for i in range(len(table)):
        session = str(table.word("session")[i])
        made.setdefault(session or f" {i}", []).append(i)
    return list(made.values())


def _piece(
    loaded: "Loaded", adjustment: "Adjustment", table: "Table", rows: list[int]
) -> "Iterator[Offer | Refused]":
    """Yield what a piece of proposed work would observe, or why it cannot."""
    from dataclasses import replace

    first = rows[0]
    kind, name = str(table.word("kind")[first]), str(table.word("proposal")[first])
    if len(rows) > 1:
        name = str(table.word("session")[first])
    stations = _stations(table, rows)
    minutes = max(_minutes(loaded, table, i, kind) for i in rows)
    blocked = next((str(w) for w in table.word("blocked")[rows] if w), "")
    why = f"blocked: {blocked}" if blocked else _why_not(adjustment, stations, kind)
    if why:
        yield Refused(kind, name, stations, why, minutes)
        return
    names = adjustment.network.marks.name
    found = False
    for marks in _partners(adjustment, kind, [names.index(one) for one in stations]):
        made = offer_of(loaded, adjustment, kind, marks, name, first)
        if made is None:
            continue
        found = True
        early, late = _window(table, first)
        task = replace(made.task, minutes=minutes, earliest=early, latest=late)
        yield made._replace(task=task, note=str(table.word("note")[first]))
    if not found:
        said = f"its precision is not known: state sd_…_mm, or [planned.{kind}]"
        yield Refused(kind, name, stations, said, minutes)


def _stations(table: "Table", rows: Sequence[int]) -> tuple[str, ...]:
    ends = [
        str(table.word(f"{end}_station")[i]) for i in rows for end in ("from", "to")
    ]
    return tuple(dict.fromkeys(name for name in ends if name))


def _minutes(loaded: "Loaded", table: "Table", i: int, kind: str) -> float:
    minutes = float(table.number("minutes")[i])
    return minutes if minutes == minutes else log_minutes(loaded, kind)


def _window(table: "Table", i: int) -> tuple[float, float]:
    early, late = (str(table.word(word)[i]) for word in ("earliest", "latest"))
    return _clock(early, float("-inf")), _clock(late, float("inf"))


def _why_not(adjustment: "Adjustment", stations: Sequence[str], kind: str) -> str:
    """Return why marks cannot be worked with; empty where they can."""
    names = adjustment.network.marks.name
    unknown = [name for name in stations if name not in names]
    if unknown:
        return f"{', '.join(unknown)}: no mark of this network"
    lost = [
        name for name in stations if not adjustment.estimated[names.index(name)].any()
    ]
    if lost:
        return f"{', '.join(lost)}: nothing observed reaches it, its place is not known"
    if len(stations) < (1 if kind in ("position", "second set-up") else 2):
        return "it names too few marks"
    return ""


def _partners(
    adjustment: "Adjustment", kind: str, marks: Sequence[int]
) -> list[tuple[int, ...]]:
    """Return the marks of a proposal; a second set-up seeks the other end itself."""
    from brasscap.offering import nearest_marks

    if kind == "position":
        return [tuple(marks[:1])]
    if kind == "second set-up" and len(marks) == 1:
        return [(marks[0], other) for other in nearest_marks(adjustment, marks[0])]
    return [tuple(marks)]


def second_set_ups(loaded: "Loaded", adjustment: "Adjustment") -> list[Offer]:
    """Return, for each mark that vectors reach, a vector from a fresh set-up over it.

    To its nearest neighbour, with a fresh set-up there as well.

    Parameters
    ----------
    loaded : Loaded
    adjustment : Adjustment
    """
    import numpy as np

    from brasscap.offering import nearest_marks

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
    from brasscap.adjust.design.crew import Task

    if kind in TIED:
        return session_offer(loaded, adjustment, marks, name, row, kind)
    stand = _stand(loaded)
    length = _length(adjustment, marks)
    plan, height = expected_sds(loaded, adjustment, kind, length, row)
    run, sighted = kind == "levelling run", kind == "total-station round"
    minutes = log_minutes(loaded, kind)
    if run and kind not in loaded.job.crew.get("log_min", {}):
        minutes = max(minutes, RUN_MINUTES * length / 1000)
    task = Task(marks, minutes, run=run, sighted=sighted)
    if kind == "levelling run":
        if not height > 0:
            return None
        seen = levelling(adjustment, marks[0], marks[-1], height, name)
    elif kind == "total-station round":
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
    if kind in stated or kind in MINUTES:
        return float(stated.get(kind, MINUTES.get(kind)))
    return float(stated.get("baseline", MINUTES["baseline"]))


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


def drives(
    loaded: "Loaded", adjustment: "Adjustment", speed_km_h: float, detour: float
) -> "Floats":
    """Return minutes between marks, walks from and to the vehicle included, (m, m).

    Driven as drive_times.csv says, both ways alike unless it says otherwise; else
    straight line × detour over speed. Walks as stations.csv says (access_min).

    Parameters
    ----------
    loaded : Loaded
    adjustment : Adjustment
    speed_km_h : float
    detour : float
        Road over straight line.
    """
    import numpy as np

    names = adjustment.network.marks.name
    marks: Ints = np.arange(len(names))
    places = _known_places(adjustment)[marks]
    far = np.linalg.norm(places[:, None] - places, axis=2)
    made: Floats = np.nan_to_num(detour * far / (speed_km_h * 1000 / 60))
    for start, end, minutes in _driven(loaded, names):
        made[start, end] = minutes
    walk = np.zeros(len(names))
    table = loaded.tables.get("stations")
    if table is not None:
        access = (table.number("access") / 60).tolist()
        for name, own in zip(table.word("station"), access, strict=True):
            if name in names and own == own:
                walk[names.index(str(name))] = own
    made += walk[:, None] + walk
    np.fill_diagonal(made, 0.0)
    return made


def _known_places(adjustment: "Adjustment") -> "Floats":
    """Return where marks are; those that are not estimated as they are known."""
    import numpy as np

    network = adjustment.network
    places = adjustment.nodes.xyz[: len(network.marks)].copy()
    away = ~np.asarray(adjustment.estimated.any(axis=1))
    for row, mark in enumerate(network.known.mark.tolist()):
        if away[mark] and network.known.components[row].all():
            places[mark] = network.known.xyz[row]
    return places


def _driven(loaded: "Loaded", names: Sequence[str]) -> Iterator[tuple[int, int, float]]:
    """Yield marks and minutes of drive_times.csv, ways back first: said ones win."""
    table = loaded.tables.get("drive_times")
    if table is None:
        return
    rows = [
        (str(start), str(end), float(seconds) / 60)
        for start, end, seconds in zip(
            table.word("from_station"),
            table.word("to_station"),
            table.number("drive"),
            strict=True,
        )
    ]
    number = {name: k for k, name in enumerate(names)}
    rows = [row for row in rows if row[0] in number and row[1] in number]
    for start, end, minutes in rows:
        yield number[end], number[start], minutes
    for start, end, minutes in rows:
        yield number[start], number[end], minutes
