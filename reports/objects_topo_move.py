"""Moved shots as a plain object for JSON."""

from typing import TYPE_CHECKING

import numpy as np

from .objects_figures import POSITION, Object, significant, vector

if TYPE_CHECKING:
    from ..adjust.follow.moving import Moved
    from ..networks.covariances import Floats
    from ..networks.shots import Shots


def move_object(
    moved: "Moved", shots: "Shots", covariance: "Floats", file: str, again: bool
) -> Object:
    """Return moved shots as the object of `brasscap/topo-move/1`.

    Parameters
    ----------
    moved : Moved
    shots : Shots
    covariance : ndarray, shape (n, 3, 3)
        Of each shot on the new control, m².
    file : str
    again : bool
        Whether the file was there already, the same.
    """
    return {
        "schema": "brasscap/topo-move/1",
        "verdict": "meets" if moved.moved.any() else "query",
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
                "shot": shots.name[i],
                "before_east_north_height_m": vector(moved.before[i], POSITION),
                "after_east_north_height_m": vector(moved.after[i], POSITION),
                "covariance_grid_m2": [
                    [significant(x) for x in row] for row in covariance[i]
                ],
                "by": moved.by[i],
            }
            for i in np.flatnonzero(moved.moved).tolist()
        ],
        "untouched": [
            {"shot": shots.name[i], "why": moved.why[i]}
            for i in np.flatnonzero(~moved.moved).tolist()
        ],
        "file": file,
        "already_there": again,
        "findings": [],
    }
