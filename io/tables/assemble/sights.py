"""total_station.csv: distances, directions, angles, azimuths and zenith angles."""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

import numpy as np

from ....networks.covariances import Bools, Floats, Ints
from ....networks.findings import Finding
from ....networks.observations import Sights
from ..job import Group, Job
from ..table import Table
from .constants import edm_constants
from .distances import corrected_distances
from .faces import Faces, meaned, reduced_faces
from .instruments import instrument_rows, sd_of, without_sd
from .targets import Ends
from .unknowns import Unknowns, pairs
from .vector_covariances import multipliers
from .vectors import number


@dataclass(frozen=True, slots=True)
class Pointings:
    """total_station.csv with its ends resolved."""

    table: Table
    at: Ends
    to: Ends
    back: Ends
    set_up_row: Ints
    """(n,) row of set_ups.csv of the instrument; −1 where unknown."""
    left_out: Bools
    """(n,) rows that a decision leaves out."""
    parts: Mapping[str, Bools] = field(default_factory=dict)
    """Kind of sight to the rows (n,) in which that reading alone is left out."""

    @property
    def usable(self) -> Bools:
        """(n,) whether both ends are known and the row is in use."""
        return np.asarray((self.at.node >= 0) & (self.to.node >= 0) & ~self.left_out)

    def out(self, kind: str) -> Bools:
        """Return (n,) whether the reading of one kind is left out, or its row."""
        part = self.parts.get(kind)
        return self.left_out if part is None else self.left_out | part


def build_sights(
    pointings: Pointings,
    tables: Mapping[str, Table],
    job: Job,
    dimension: str,
    unknowns: Unknowns,
    findings: list[Finding],
    groups: dict[str, int],
) -> tuple[Sights, ...]:
    """Return the sights of every kind that is booked.

    In a plan a slope distance becomes horizontal by its zenith angle, and heights
    are not needed. A re-reading is a check only (see ``faces``). A group's multiplier
    of the height is that of its zenith angles, the other is of all else but distances
    that have one of their own.

    Parameters
    ----------
    pointings : Pointings
    tables : mapping of str to Table
    job : Job
    dimension : str
        ``space``, ``plan`` or ``height``.
    unknowns : Unknowns
        Orientations and refraction are added to it.
    findings : list of Finding
        Every fault and query is added here.
    groups : dict of str to int
        Numbers of groups by name, extended here.
    """
    table = pointings.table
    if dimension == "height":
        return ()
    instruments = tables.get("instruments")
    rows, names = instrument_rows(table, pointings.set_up_row, tables)
    faces = reduced_faces(
        table, pointings.set_up_row, pointings.to.node, pointings.usable
    )
    distances = corrected_distances(
        table, instruments, rows, pointings.usable, findings
    )
    measured = pointings.usable & np.isfinite(np.fmax(*distances))
    constants = edm_constants(table, instruments, rows, measured, unknowns, findings)
    distances = constants.applied(distances[0]), constants.applied(distances[1])
    values = _values(pointings, faces, distances)
    findings += _refraction_without_sd(job)
    if dimension == "plan":
        values = _in_plan(table, values, pointings.usable, findings)
    else:
        _heights(pointings, values, findings)
    length = np.fmax(np.nan_to_num(distances[0]), np.nan_to_num(distances[1]))
    factors = sight_multipliers(table, job.groups)
    group = number(table.word("group"), groups)
    made = []
    for kind, (value, second) in values.items():
        booked = np.isfinite(value) & (pointings.at.node >= 0)
        booked &= (pointings.to.node >= 0) & ~table.has("re_reading")
        if kind == "angle":
            booked &= pointings.back.node >= 0
        sd = sd_of(kind, table, instruments, rows, length)
        sd = sd * factors[:, _FACTOR.get(kind, 0)]
        lacking = booked & ~pointings.out(kind) & ~(sd > 0)
        findings += without_sd(kind, table, lacking, names, instruments)
        if not booked.any():
            continue
        parameter = constants.parameter
        if not kind.endswith("distance"):
            parameter = _parameters(kind, pointings, job, unknowns, booked)
        some = _sights(kind, pointings, value, second, sd, parameter, job, booked)
        made.append(replace(some, group=group[booked]))
    return tuple(made)


_FACTOR = {"zenith angle": 1, "slope distance": 2, "horizontal distance": 2}
"""Which of a group's multipliers a kind of sight has; 0 for all others."""


def sight_multipliers(table: Table, groups: Mapping[str, Group]) -> Floats:
    """Return (n, 3) factors of the sds of angles, of zenith angles, of distances."""
    plan, _, height = multipliers(table, groups).T
    named = [groups.get(str(name) or table.name) for name in table.word("group")]
    own = [None if one is None else one.sd_multiplier_distance for one in named]
    distance = [p if d is None else d for p, d in zip(plan, own, strict=True)]
    return np.stack([plan, height, np.array(distance, dtype=float)], axis=1)


_Values = dict[str, tuple[Floats, Ints]]
"""Kind to its value in each row (NaN = none) and the row of face 2 within it."""


def _values(
    pointings: Pointings, faces: Faces, distances: tuple[Floats, Floats]
) -> _Values:
    table, out = pointings.table, pointings.out
    alone = np.full(len(table), -1, dtype=np.int64)
    return {
        "slope distance": meaned(faces, distances[0], out("slope distance")),
        "horizontal distance": meaned(faces, distances[1], out("horizontal distance")),
        "direction": meaned(faces, faces.direction, out("direction"), circle=True),
        "angle": (table.number("angle"), alone),
        "azimuth": (table.number("azimuth"), alone),
        "zenith angle": meaned(faces, faces.zenith, out("zenith angle")),
    }


def _in_plan(
    table: Table, values: _Values, usable: Bools, findings: list[Finding]
) -> _Values:
    """Return the values of a plan: slope distances made horizontal, s·sin z."""
    slope, second = values["slope distance"]
    zenith = values.pop("zenith angle")[0]
    level, level_second = values["horizontal distance"]
    del values["slope distance"]
    for i in np.flatnonzero(usable & np.isfinite(slope) & np.isnan(zenith)).tolist():
        findings.append(
            table.finding(
                "zenith-missing",
                "fault",
                i,
                ("slope_distance", "zenith"),
                against="a zenith angle in the same row: a plan needs the horizontal "
                "distance",
                mend="book the zenith angle or horizontal_distance_m, or state "
                '[network] dimension = "space"',
            )
        )
    made = np.isfinite(slope)
    values["horizontal distance"] = (
        np.where(made, slope * np.sin(zenith), level),
        np.where(made, second, level_second),
    )
    return values


def _heights(pointings: Pointings, values: _Values, findings: list[Finding]) -> None:
    """Add the faults of sights in space without instrument or target height."""
    table = pointings.table
    needed = np.zeros(len(table), dtype=bool)
    for kind in ("slope distance", "zenith angle"):
        needed |= np.isfinite(values[kind][0]) & ~pointings.out(kind)
    needed &= pointings.usable
    ends = (
        ("set_up", pointings.at, "height_m of the instrument in set_ups.csv"),
        ("target_height", pointings.to, "target_height_m, or the target's set-up"),
    )
    for column, end, what in ends:
        for i in np.flatnonzero(needed & np.isnan(end.height)).tolist():
            findings.append(
                table.finding(
                    "height-missing",
                    "fault",
                    i,
                    (column, "target_station"),
                    against=f"{what}: slope distances and zenith angles need it",
                    likely=_usual_height(pointings, i, column),
                    mend="look it up in the field book; brasscap decide value "
                    f"pointing '{table.word('pointing')[i]}' 'target_height_m=…'"
                    if column == "target_height"
                    else "look it up in the field book and book it in set_ups.csv",
                )
            )


def _usual_height(pointings: Pointings, i: int, column: str) -> str:
    """Return the height of other sights to the same target, if all agree."""
    if column != "target_height":
        return ""
    table, to = pointings.table, pointings.to
    same = (to.mark == to.mark[i]) & (pointings.set_up_row == pointings.set_up_row[i])
    known = np.unique(to.height[same & np.isfinite(to.height)])
    if len(known) != 1:
        return ""
    set_up = table.word("set_up")[i]
    return f"{known[0]:.4f} m, as booked for the other sights from {set_up}"


def _parameters(
    kind: str, pointings: Pointings, job: Job, unknowns: Unknowns, booked: Bools
) -> Ints:
    """Return (n, 2) parameters of the rows of one kind."""
    table = pointings.table
    first = np.full(len(table), -1, dtype=np.int64)
    if kind == "direction":
        set_up, rounds = table.word("set_up"), table.word("round")
        for i in np.flatnonzero(booked).tolist():
            name = orientation_name(str(set_up[i]), str(rounds[i]))
            first[i] = unknowns.number("orientation", name)
    elif kind == "zenith angle" and job.refraction.sd > 0:
        days = _days(table) if job.refraction.unknown_per == "day" else None
        for i in np.flatnonzero(booked).tolist():
            name = f"refraction on {days[i]}" if days else "refraction"
            first[i] = unknowns.number(
                "refraction", name, job.refraction.coefficient, job.refraction.sd
            )
    return pairs(first)


def orientation_name(set_up: str, one_round: str) -> str:
    """Return the name of an orientation: "orientation of T1, round 2".

    Examples
    --------
    >>> orientation_name("T1", "2"), orientation_name("T1", "")
    ('orientation of T1, round 2', 'orientation of T1')
    """
    return f"orientation of {set_up}" + (f", round {one_round}" if one_round else "")


def _days(table: Table) -> list[str]:
    """Return the UTC day of each row; rows without a time share one coefficient."""
    times = table.instant("time")
    return [
        "days not booked" if np.isnat(time) else str(time.astype("datetime64[D]"))
        for time in times
    ]


def _sights(
    kind: str,
    pointings: Pointings,
    value: Floats,
    second: Ints,
    sd: Floats,
    parameter: Ints,
    job: Job,
    booked: Bools,
) -> Sights:
    table = pointings.table
    keep = np.flatnonzero(booked)
    names = table.word("pointing")
    angle = kind == "angle"
    return Sights(
        kind=kind,
        name=tuple(
            str(names[i]) if k < 0 else f"{names[i]} + {names[k]}"
            for i, k in zip(keep.tolist(), second[keep].tolist(), strict=True)
        ),
        at=pointings.at.node[keep],
        to=pointings.to.node[keep],
        back=pointings.back.node[keep] if angle else np.full(len(keep), -1),
        at_height=np.nan_to_num(pointings.at.height[keep]),
        to_height=np.nan_to_num(pointings.to.height[keep]),
        back_height=np.nan_to_num(pointings.back.height[keep]),
        value=value[keep],
        sd=np.where(sd[keep] > 0, sd[keep], np.nan),
        parameter=parameter[keep],
        refraction=np.full(len(keep), job.refraction.coefficient),
        used=~pointings.out(kind)[keep],
        row=table.row[keep],
    )


def _refraction_without_sd(job: Job) -> list[Finding]:
    """Return the query of an unknown coefficient that its sd of 0 holds."""
    stated = job.refraction
    if stated.unknown_per == "none" or stated.sd > 0:
        return []
    return [
        Finding(
            "key-without-effect",
            "query",
            "[refraction] unknown_per",
            file="job.toml",
            column="unknown_per",
            booked=f'unknown_per = "{stated.unknown_per}", sd = 0',
            against="an sd above 0: with 0 the coefficient is held as stated",
            mend="state [refraction] sd, or take unknown_per out",
        )
    ]
