"""set_ups.csv and antennas.csv: where each antenna stood, how high, how well."""

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

from ....networks.covariances import Floats, Ints
from ....networks.findings import Finding
from ....networks.observations import SetUps
from ....networks.setups import reduced_height
from ..job import Job
from ..spelling import nearest
from ..table import Table
from .free_stations import is_free
from .names import MarkNames, resolve


@dataclass(frozen=True, slots=True)
class Stands:
    """The set-ups of a job, and the way to them from the name in another table."""

    set_ups: SetUps
    row: Mapping[str, int] = field(default_factory=dict)
    """Name to index of its row in the table."""
    of_row: Ints = field(default_factory=lambda: np.zeros(0, dtype=np.int64))
    """(rows,) set-up in ``set_ups``; −1 where it is not used or not usable."""
    mark: Ints = field(default_factory=lambda: np.zeros(0, dtype=np.int64))
    """(rows,) number of the mark; −1 = free or unknown."""
    height: Floats = field(default_factory=lambda: np.zeros(0))
    """(rows,) reduced height of the reference point, m; NaN where none is booked."""


def empty_set_ups() -> SetUps:
    """Return a network's set-ups where there are none."""
    zero, none = np.zeros(0), np.zeros(0, dtype=np.int64)
    return SetUps(
        (), none, (), none, zero, np.zeros((0, 2)), zero, zero, (), (), (), none
    )


def build_set_ups(
    tables: Mapping[str, Table],
    marks: MarkNames,
    job: Job,
    sessions: dict[str, int],
    findings: list[Finding],
) -> Stands:
    """Return the set-ups that baselines, positions and pointings use.

    Parameters
    ----------
    tables : mapping of str to Table
    marks : MarkNames
    job : Job
        Its kinds of set-up give the standard deviations that a row leaves empty.
    sessions : dict of str to int
        Names of sessions, extended here.
    findings : list of Finding
        Extended here.
    """
    if "set_ups" not in tables:
        return Stands(empty_set_ups())
    table = tables["set_ups"]
    mark = resolve(marks, table, "station", findings)
    used = _used_names(tables)
    rows = [i for i, name in enumerate(table.word("set_up")) if name in used]
    heights, words = _heights(table, rows, tables.get("antennas"), findings)
    # A free station is its own mark: there is nothing to stand beside.
    free = is_free(table)
    rows = [i for i in rows if not free[i]]
    sds = _sds(table, rows, job, findings)
    of_row, shared = _share(table, rows, mark, sds, findings)
    axes = ("eccentric_east", "eccentric_north")
    eccentric = [table.number(axis)[shared] for axis in axes]
    session = [
        sessions.setdefault(name, len(sessions)) if name else -1
        for name in table.word("session")[shared]
    ]
    set_ups = SetUps(
        name=_names(table, shared),
        mark=mark[shared],
        support=tuple(table.word("support")[shared]),
        session=np.array(session, dtype=np.int64),
        height=np.nan_to_num(heights[shared]),
        eccentricity=np.nan_to_num(np.stack(eccentric, axis=-1)),
        sd_centring=sds[shared, 0],
        sd_height=sds[shared, 1],
        reduction=tuple(words[shared]),
        antenna=tuple(table.word("antenna")[shared]),
        tripod=tuple(table.word("tripod")[shared]),
        row=table.row[shared],
    )
    names = {str(name): i for i, name in enumerate(table.word("set_up"))}
    return Stands(set_ups, names, of_row, mark, heights)


def _names(table: Table, rows: Ints) -> tuple[str, ...]:
    """Return the names of set-ups; of several on one tripod, the tripod's."""
    tripod, own = table.word("forced_centring")[rows], table.word("set_up")[rows]
    return tuple(str(t or name) for t, name in zip(tripod, own, strict=True))


def _used_names(tables: Mapping[str, Table]) -> set[str]:
    columns = {
        "baselines": ("from_set_up", "to_set_up"),
        "positions": ("set_up",),
        "total_station": ("set_up", "target_set_up"),
    }
    return {
        name
        for table, names in columns.items()
        if table in tables
        for column in names
        for name in tables[table].word(column)
        if name
    }


def _heights(
    table: Table, rows: list[int], antennas: Table | None, findings: list[Finding]
) -> tuple[Floats, np.ndarray]:
    """Return reduced heights and their reductions in words, for the rows in use."""
    reduced = np.full(len(table), np.nan)
    words = np.full(len(table), "", dtype=object)
    heights = table.number("height")
    readings, ends = table.word("reading"), table.word("measured_to")
    # Most heights are to the reference point, and no more is to be done.
    plain = (readings != "slant") & (ends != "slant mark") & (ends != "mount bottom")
    some = np.array(rows, dtype=np.int64)
    some = some[np.isfinite(heights[some])]
    reduced[some[plain[some]]] = heights[some[plain[some]]]
    for i in some[~plain[some]].tolist():
        reading, to = str(readings[i]), str(ends[i])
        radius, offset = float("nan"), float("nan")
        if reading == "slant" or to == "slant mark":
            radius, offset = antenna_of(table, i, antennas)
        problem = _cannot_reduce(table, i, reading, to, radius, offset, antennas)
        if problem:
            findings.append(problem)
            continue
        reduced[i], words[i] = reduced_height(heights[i], reading, to, radius, offset)
        if np.isnan(reduced[i]):
            findings.append(_slant_too_short(table, i, radius))
    return reduced, words


def antenna_of(table: Table, i: int, antennas: Table | None) -> tuple[float, float]:
    """Return slant radius and offset of a row's antenna; NaN where not booked."""
    if antennas is not None:
        for k, name in enumerate(antennas.word("antenna")):
            if name and name == table.word("antenna")[i]:
                radius = antennas.number("slant_radius")[k]
                return float(radius), float(antennas.number("offset")[k])
    return float("nan"), float("nan")


def _cannot_reduce(
    table: Table,
    i: int,
    reading: str,
    to: str,
    radius: float,
    offset: float,
    antennas: Table | None,
) -> Finding | None:
    if reading == "slant" and to not in ("", "slant mark"):
        return table.finding(
            "reading-contradicts",
            "fault",
            i,
            ("reading", "measured_to"),
            against="a slant reading ends at the slant mark of the antenna",
            mend=f"brasscap decide value set-up '{table.word('set_up')[i]}' "
            "'measured_to=slant mark'",
        )
    needs = [offset]
    if reading == "slant":
        needs.append(radius)
    elif to != "slant mark":
        return None
    if np.isfinite(needs).all():
        return None
    known = list(antennas.word("antenna")) if antennas is not None else []
    name = str(table.word("antenna")[i])
    return table.finding(
        "antenna-not-known",
        "fault",
        i,
        ("height", "reading", "antenna"),
        against="slant_radius_m and offset_m of the antenna in antennas.csv",
        likely="" if name in known else nearest(name, known),
        mend="add the antenna with slant_radius_m and offset_m to antennas.csv",
    )


def _slant_too_short(table: Table, i: int, radius: float) -> Finding:
    return table.finding(
        "slant-too-short",
        "fault",
        i,
        ("height", "reading"),
        against=f"longer than the antenna's radius, {radius:.4f} m",
        likely="a vertical height",
        mend=f"brasscap decide reading set-up '{table.word('set_up')[i]}' vertical",
    )


def _sds(table: Table, rows: list[int], job: Job, findings: list[Finding]) -> Floats:
    """Return (n, 2) sd of centring and of height, from the row or its support, m."""
    sds = np.stack(
        [table.number("sd_centring"), table.number("sd_height")], axis=-1
    ).copy()
    kinds, supports = job.set_up_kinds, table.word("support")
    some = np.array(rows, dtype=np.int64)
    some = some[np.isnan(sds[some]).any(axis=1)]
    known = np.zeros(len(some), dtype=bool)
    for support, kind in kinds.items():
        of_kind = supports[some] == support
        known |= of_kind
        here = some[of_kind]
        booked = (kind.sd_centring, kind.sd_height)
        sds[here] = np.where(np.isnan(sds[here]), booked, sds[here])
    for i in some[~known].tolist():
        findings.append(_no_support(table, i, str(supports[i]), list(kinds)))
        sds[i] = 0.0
    for support, kind in kinds.items():
        here = np.array(rows, dtype=np.int64)
        here = here[supports[here] == support]
        sds[here] *= (kind.multiplier_plan, kind.multiplier_height)
    return sds


def _no_support(table: Table, i: int, support: str, kinds: list[str]) -> Finding:
    likely = nearest(support, kinds) if support else ""
    return table.finding(
        "support-not-known",
        "fault",
        i,
        ("support",),
        against=f"one of {', '.join(kinds)}, or sd_centring_mm and sd_height_mm",
        likely=likely,
        mend="say what carried it, or state [set_up.KIND] in job.toml",
    )


def _share(
    table: Table, rows: list[int], mark: Ints, sds: Floats, findings: list[Finding]
) -> tuple[Ints, Ints]:
    """Return the set-up of every row, and the row that stands for each set-up.

    Rows with the same forced centring are one set-up of the tripod: the antenna was
    taken off and something else put on, and centring and height error stayed.
    """
    of_row = np.full(len(table), -1, dtype=np.int64)
    if not table.has("forced_centring").any():
        some = np.array(rows, dtype=np.int64)
        some = some[mark[some] >= 0]
        of_row[some] = np.arange(len(some))
        return of_row, some
    first: dict[str, int] = {}
    stand_for: list[int] = []
    centrings = table.word("forced_centring")
    for i in rows:
        if mark[i] < 0:
            continue
        tripod = str(centrings[i])
        if tripod in first:
            if mark[i] != mark[first[tripod]] or (sds[i] != sds[first[tripod]]).any():
                findings.append(_not_one(table, i, first[tripod]))
            of_row[i] = of_row[first[tripod]]
            continue
        if tripod:
            first[tripod] = i
        of_row[i] = len(stand_for)
        stand_for.append(i)
    return of_row, np.array(stand_for, dtype=np.int64)


def _not_one(table: Table, i: int, other: int) -> Finding:
    return table.finding(
        "forced-centring-differs",
        "fault",
        i,
        ("forced_centring", "station", "support"),
        against=f"set-up {table.word('set_up')[other]}: station "
        f"{table.word('station')[other]}, the same support and sd",
        mend="rows of one forced centring stand on one tripod over one mark; give "
        "them the same station, support and sd, or another forced_centring name",
    )
