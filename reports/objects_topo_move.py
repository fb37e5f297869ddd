"""Moved shots as a plain object for JSON."""

from typing import TYPE_CHECKING

import numpy as np

from .objects_figures import POSITION, Object, significant, vector

if TYPE_CHECKING:
    from ..adjust.follow.moved_day import MovedDay


def move_object(day: "MovedDay", file: str, again: bool) -> Object:
    """Return moved points as the object of `brasscap/topo-move/1`.

    Parameters
    ----------
    day : MovedDay
    file : str
    again : bool
        Whether the file was there already, the same.
    """
    moved = day.shots
    return {
        "schema": "brasscap/topo-move/1",
        "verdict": "meets" if day.moved.any() else "query",
        "from_issue": moved.old.number,
        "to_issue": moved.new.number,
        "marks": [
            {
                "station": one.station,
                "shift_enu_mm": vector(1000 * one.shift, 4),
                "sd_enu_mm": vector(1000 * one.sd, 4),
            }
            for one in moved.shifts
        ],
        "moved": [
            {
                "shot": day.name[i],
                "kind": day.kind[i],
                "before_east_north_height_m": vector(day.before[i], POSITION),
                "after_east_north_height_m": vector(day.after[i], POSITION),
                "covariance_grid_m2": [
                    [significant(x) for x in row] for row in day.covariance[i]
                ],
                "by": day.by[i],
            }
            for i in np.flatnonzero(day.moved).tolist()
        ],
        "untouched": [
            {"shot": day.name[i], "kind": day.kind[i], "why": day.why[i]}
            for i in np.flatnonzero(~day.moved).tolist()
        ],
        "file": file,
        "already_there": again,
        "findings": [],
    }
