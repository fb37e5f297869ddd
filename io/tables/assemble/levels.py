"""levels.csv: levelled height differences, every run an observation of its own."""

import numpy as np

from ....networks.covariances import Bools, Floats, Ints
from ....networks.findings import Finding
from ....networks.frames import Frame, LocalFrame
from ....networks.observations import Levels
from ..job import Job
from ..table import Table
from .geoid import Geoid
from .names import MarkNames, resolve
from .unknowns import Unknowns
from .vector_covariances import multipliers
from .vectors import number


def level_name(table: Table, i: int) -> str:
    """Return the name of a levelled run: its section, and which run if it says so."""
    section, run = str(table.word("section")[i]), str(table.word("run")[i])
    return f"{section} {run}" if run in ("out", "back") else section


def build_levels(
    table: Table,
    marks: MarkNames,
    frame: Frame,
    job: Job,
    dimension: str,
    geoid: Geoid,
    known_height: Bools,
    unknowns: Unknowns,
    left_out: Bools,
    findings: list[Finding],
    groups: dict[str, int],
) -> Levels:
    """Return the levelled runs; out and back are kept as two observations.

    The rise of each row is from its own ``from_station`` to its own ``to_station``.

    Parameters
    ----------
    table : Table
    marks : MarkNames
    frame : Frame
    job : Job
    dimension : str
    geoid : Geoid
    known_height : ndarray of bool, shape (m,)
        Marks whose height above the geoid is known; see ``undulations``.
    unknowns : Unknowns
        Undulations are added to it.
    left_out : ndarray of bool, shape (n,)
    findings : list of Finding
        Extended here.
    groups : dict of str to int
        Numbers of groups by name, extended here.
    """
    ends = [resolve(marks, table, f"{end}_station", findings) for end in ("from", "to")]
    start, end = ends
    for i in np.flatnonzero((start == end) & (start >= 0)).tolist():
        findings.append(_no_line(table, i))
    usable = (
        (start >= 0) & (end >= 0) & (start != end) & np.isfinite(table.number("rise"))
    )
    sd = level_sd(table, job)
    findings += _without_sd(table, usable & ~left_out & ~(sd > 0))
    keep = np.flatnonzero(usable)
    start, end = start[keep], end[keep]
    fixed, parameter = undulations(
        table, keep, np.stack([start, end], axis=1), marks, frame, job, dimension,
        geoid, known_height, unknowns, findings,
    )  # fmt: skip
    return Levels(
        name=tuple(level_name(table, i) for i in keep.tolist()),
        start=start,
        end=end,
        rise=table.number("rise")[keep],
        sd=np.where(sd[keep] > 0, sd[keep], np.nan),
        start_undulation=fixed[:, 0],
        end_undulation=fixed[:, 1],
        parameter=parameter,
        used=~left_out[keep],
        row=table.row[keep],
        group=number(table.word("group")[keep], groups),
    )


def level_sd(table: Table, job: Job) -> Floats:
    """Return (n,) standard deviations of the runs, m; NaN where nothing states one.

    The row's own, else ``[levels]``: per √km of the line, else per set-up; times the
    multiplier of its group.
    """
    per_km, per_set_up = job.levels.sd_per_sqrt_km, job.levels.sd_per_set_up
    sd = table.number("sd").copy()
    if per_km is not None:
        by_length = per_km * np.sqrt(np.maximum(table.number("length"), 0) / 1000)
        sd = np.where(np.isnan(sd), by_length, sd)
    if per_set_up is not None:
        by_count = per_set_up * np.sqrt(np.maximum(table.number("set_ups"), 0))
        sd = np.where(np.isnan(sd), by_count, sd)
    return sd * multipliers(table, job.groups)[:, 2]


def undulations(
    table: Table,
    keep: Ints,
    ends: Ints,
    marks: MarkNames,
    frame: Frame,
    job: Job,
    dimension: str,
    geoid: Geoid,
    known_height: Bools,
    unknowns: Unknowns,
    findings: list[Finding],
) -> tuple[Floats, Ints]:
    """Return fixed undulations and undulation parameters of both ends of the runs.

    An undulation with a standard deviation is an unknown with that prior, shared by
    all runs at the mark. At a mark with a known height above the geoid it is fixed:
    that height is what the levels start from, and the undulation's uncertainty is
    in the ellipsoidal height of the known mark.

    Returns
    -------
    fixed : ndarray, shape (n, 2)
        m.
    parameter : ndarray of int, shape (n, 2)
        −1 for none.
    """
    none = np.full(ends.shape, -1, dtype=np.int64)
    if isinstance(frame, LocalFrame) or dimension == "height" or frame.kind == "local":
        return np.zeros(ends.shape), none
    if geoid.source == "none":
        if not job.frame.undulation:
            findings.append(_no_geoid(table))
        return np.zeros(ends.shape), none
    fixed = geoid.undulation[ends]
    for k in np.flatnonzero(np.isnan(fixed).any(axis=1)).tolist():
        lacking = [marks.names[m] for m in ends[k][np.isnan(fixed[k])]]
        findings.append(_without_undulation(table, int(keep[k]), lacking, geoid))
    sd = geoid.sd[ends]
    parameter = none
    for k, side in np.argwhere((sd > 0) & ~known_height[ends]).tolist():
        mark = int(ends[k, side])
        parameter[k, side] = unknowns.number(
            "undulation",
            f"undulation at {marks.names[mark]}",
            float(fixed[k, side]),
            float(sd[k, side]),
        )
    return np.nan_to_num(fixed), parameter


def _without_undulation(
    table: Table, i: int, lacking: list[str], geoid: Geoid
) -> Finding:
    return table.finding(
        "undulation-missing",
        "fault",
        i,
        ("from_station", "to_station"),
        against=f"an undulation of {' and '.join(lacking)}",
        mend="add it to geoid.csv"
        if geoid.source == "table"
        else f"give {' and '.join(lacking)} an approximate position inside the grid",
    )


def _no_geoid(table: Table) -> Finding:
    """Return the fault of levels without a geoid in a job of ellipsoidal heights."""
    return Finding(
        "geoid-not-stated",
        "fault",
        f"{len(table)} levelled runs",
        file=str(table.file[0]),
        row=int(table.row[0]),
        column="undulation",
        booked="[frame] geoid = none, undulation not stated",
        against="geoid = none: levels are above the geoid, the job's heights are not",
        mend="state [frame] geoid = table and give geoid.csv, or geoid = FILE with "
        'geoid_sd_mm; or undulation = "shift" with a benchmark where the geoid is '
        'level over the job, "plane" with four where it tilts',
    )


def _without_sd(table: Table, lacking: Bools) -> list[Finding]:
    return [
        table.finding(
            "sd-missing",
            "fault",
            i,
            ("sd", "length", "set_ups"),
            against="sd_mm above 0; or length_km and [levels] sd_mm_per_sqrt_km; or "
            "set_ups_count and [levels] sd_mm_per_set_up",
            mend="state what the level is worth in job.toml; a double run of an "
            "engineer's level: 1 to 2 mm for a kilometre (common practice)",
        )
        for i in np.flatnonzero(lacking).tolist()
    ]


def _no_line(table: Table, i: int) -> Finding:
    return table.finding(
        "ends-equal",
        "fault",
        i,
        ("from_station", "to_station"),
        against="two marks",
        mend="correct one end: brasscap decide value 'levelled run' "
        f"'{level_name(table, i)}' 'to_station=…'",
    )
