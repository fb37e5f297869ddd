"""Checks of shots: leans without azimuth, shots before their base, sds not stated."""

import numpy as np

from ....networks.covariances import Ints
from ....networks.findings import Finding
from ....networks.shots import Bases, Shots
from ..table import Table

_ONE_BY_ONE = 20
"""Rows of one kind of finding that are told each; more are told together."""


def check_shot_rows(table: Table, shots: Shots, bases: Bases) -> list[Finding]:
    """Return what is wrong with shots row by row; every one of them is a query.

    Parameters
    ----------
    table : Table
        Of the shots.
    shots : Shots
    bases : Bases
    """
    return [
        *_leans(table, shots),
        *_times(table, shots, bases),
        *_not_stated(table, shots),
    ]


def _leans(table: Table, shots: Shots) -> list[Finding]:
    lean = shots.tilt > 0
    no_way = np.flatnonzero(lean & np.isnan(shots.azimuth))
    found = _told(
        table,
        no_way,
        "tilt-without-azimuth",
        ("tilt", "tilt_azimuth"),
        "leaning shots without an azimuth",
        against="a lean has an azimuth: its uncertainty lies across it",
        mend="export tilt_azimuth_deg too; till then the larger half-axis is taken in "
        "every direction",
    )
    no_length = np.flatnonzero(lean & np.isnan(shots.length))
    found += _told(
        table,
        no_length,
        "tilt-without-length",
        ("tilt", "pole_length"),
        "leaning shots without the pole's length",
        against="the lean's uncertainty grows with the pole",
        mend="fill pole_length_m or antenna_height_m; till then they cannot be judged",
    )
    sds = np.isnan(shots.sd_tilt) | np.isnan(shots.sd_azimuth)
    return found + _told(
        table,
        np.flatnonzero(lean & sds),
        "tilt-sd-not-stated",
        ("tilt",),
        "leaning shots without sd of lean and azimuth",
        against="sd_tilt_deg and sd_tilt_azimuth_deg of the row, or of [topo] in "
        "job.toml",
        mend="state what the receiver says or what the crew has proved on a known "
        "mark; till then they cannot be judged",
    )


def _times(table: Table, shots: Shots, bases: Bases) -> list[Finding]:
    if not len(bases):
        return []
    start, stop = bases.start[shots.base], bases.stop[shots.base]
    based = shots.base >= 0
    # A comparison with a time that is not booked is false.
    early = np.flatnonzero(based & (shots.start < start))
    late = np.flatnonzero(based & (shots.start > stop))
    found = []
    words = (
        ("shot-before-base", early, "shots before their base was set up", "start_utc"),
        ("shot-after-base", late, "shots after their base was taken down", "stop_utc"),
    )
    for slug, rows, about, which in words:
        for k in np.unique(shots.base[rows]).tolist():
            mine = rows[shots.base[rows] == k]
            edge = (bases.start if which == "start_utc" else bases.stop)[k]
            found += _told(
                table,
                mine,
                slug,
                ("start", "set_up"),
                about,
                against=f"set-up {bases.name[k]}, {which} "
                f"{np.datetime_as_string(edge, 's')}Z",
                likely="another set-up of the base, or local time for UTC",
                mend="name the set-up that stood then, or correct the time",
            )
    return found


def _not_stated(table: Table, shots: Shots) -> list[Finding]:
    rows = np.flatnonzero(np.isnan(shots.sd).any(axis=1))
    has_height = np.isfinite(shots.coordinates[:, 2])
    rows = rows[has_height[rows] | np.isnan(shots.sd[rows, :2]).any(axis=1)]
    found = _told(
        table,
        rows,
        "shot-sd-not-stated",
        (),
        "shots without sd",
        against="sd_north_mm, sd_east_mm, sd_height_mm of the row, or sd_plan_mm and "
        "sd_height_mm of [topo] in job.toml",
        mend="export them with the shots, or state them; till then they cannot be "
        "judged",
    )
    number = shots.initialisation.number
    missing = np.flatnonzero((number < 0) & (number.max(initial=-1) >= 0))
    if number.max(initial=-1) < 0 and len(shots):
        missing = np.arange(len(shots))
    return found + _told(
        table,
        missing,
        "initialisation-not-booked",
        ("initialisation",),
        "shots without an initialisation",
        against="shots of one initialisation fail together",
        mend="number each fixing of the ambiguities; till then nothing says which "
        "shots check each other",
        one_by_one=False,
    )


def _told(
    table: Table,
    rows: Ints,
    slug: str,
    columns: tuple[str, ...],
    about: str,
    *,
    against: str,
    mend: str,
    likely: str = "",
    one_by_one: bool = True,
) -> list[Finding]:
    """Return a query a row, or one for all of them where there are many."""
    if not len(rows):
        return []
    there = tuple(name for name in columns if name in table.columns)
    if one_by_one and len(rows) <= _ONE_BY_ONE:
        return [
            table.finding(
                slug, "query", i, there, against=against, likely=likely, mend=mend
            )
            for i in rows.tolist()
        ]
    first = str(table.word("shot")[rows[0]])
    last = str(table.word("shot")[rows[-1]])
    return [
        table.finding_of(
            slug,
            "query",
            rows,
            about,
            table.header.get(there[0], "") if there else "",
            f"{first} … {last}" if len(rows) > 1 else first,
            against=against,
            mend=mend,
        )
    ]
