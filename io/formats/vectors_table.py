"""GVX vectors as our tables: baselines, and what those of a session have in common."""

import csv
import io
from collections.abc import Iterable, Sequence
from datetime import datetime, timedelta

import numpy as np

from .gvx import GvxVectors

_BASELINES = (
    "baseline session from_station to_station dx_m dy_m dz_m sd_x_mm sd_y_mm sd_z_mm "
    "corr_xy corr_xz corr_yz vector_between height_used_from_m height_used_to_m "
    "frame_epsg epoch_year solution group processor start_utc stop_utc"
)
_LEAPS = (
    ((2017, 1), 18),
    ((2015, 7), 17),
    ((2012, 7), 16),
    ((2009, 1), 15),
    ((2006, 1), 14),
    ((1999, 1), 13),
)
"""GPS minus UTC from the first of a month on, s (IERS Bulletin C; from memory); a
file that was written after another leap second has to say LEAP_SECONDS."""
_AXES = "xyz"


def baseline_tables(
    vectors: GvxVectors, *, frame_epsg: int | None, name: str
) -> dict[str, str]:
    """Return the tables of a file's vectors; nothing is rounded.

    Parameters
    ----------
    vectors : GvxVectors
    frame_epsg : int or None
        EPSG code of its frame, as the user states it; None for the job's own axes.
    name : str
        Name of the import: of its files and group, and before its rows' names.

    Returns
    -------
    dict of str to str
        ``baselines/NAME.csv`` and, where sessions have several vectors,
        ``covariances/NAME.csv``.
    """
    rows = [_row(vectors, i, frame_epsg, name) for i in range(len(vectors.name))]
    tables = {f"baselines/{name}.csv": _csv([_BASELINES.split(), *rows])}
    if vectors.cross:
        tables[f"covariances/{name}.csv"] = _csv(_cross(vectors, name))
    return tables


def _row(
    vectors: GvxVectors, i: int, frame_epsg: int | None, name: str
) -> list[str | int]:
    correlation = vectors.correlation[i]
    session, epoch = vectors.session[i], vectors.epoch[i]
    start, stop = (_utc(text, vectors.leap_seconds[i]) for text in vectors.times[i])
    heights = (
        repr(float(h)) if np.isfinite(h) else "" for h in vectors.antenna_height[i]
    )
    return [
        f"{name} {vectors.name[i]}",
        f"{name} {session}" if session else "",
        vectors.start[i],
        vectors.end[i],
        *(repr(float(value)) for value in vectors.delta[i]),
        *(repr(float(value) * 1000) for value in vectors.sd[i]),
        *(repr(float(correlation[a, b])) for a, b in ((0, 1), (0, 2), (1, 2))),
        "marks",
        *heights,
        "" if frame_epsg is None else frame_epsg,
        repr(float(epoch)) if np.isfinite(epoch) else "",
        vectors.solution[i],
        name,
        vectors.processor[i],
        start,
        stop,
    ]


def _cross(vectors: GvxVectors, name: str) -> Iterable[Sequence[str]]:
    yield ["table", "row", "row_axis", "column", "column_axis", "cov_mm2"]
    for (i, j), block in sorted(vectors.cross.items()):
        mm2 = block * np.outer(vectors.sd[i], vectors.sd[j]) * 1e6
        for a, b in np.ndindex(3, 3):
            yield (
                "baselines",
                f"{name} {vectors.name[i]}",
                _AXES[a],
                f"{name} {vectors.name[j]}",
                _AXES[b],
                repr(float(mm2[a, b])),
            )


def _utc(text: str, leap: int) -> str:
    """Return a time of the file, GPS time, as UTC; empty where it says none."""
    try:
        when = datetime.fromisoformat(text)
    except ValueError:
        return ""
    if leap < 0:
        month = (when.year, when.month)
        leap = next((seconds for since, seconds in _LEAPS if month >= since), -1)
    if leap < 0:
        return ""
    return (when.replace(tzinfo=None) - timedelta(seconds=leap)).strftime(
        "%Y-%m-%dT%H:%M:%SZ"
    )


def _csv(rows: Iterable[Sequence[object]]) -> str:
    out = io.StringIO()
    csv.writer(out, lineterminator="\n").writerows(rows)
    return out.getvalue()
