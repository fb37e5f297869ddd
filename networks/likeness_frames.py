"""What coordinates of another frame or epoch make, booked as the job's."""

from collections.abc import Iterable
from dataclasses import dataclass, field
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np

from .covariances import Floats
from .frames import GeodeticFrame, crs
from .likeness import Named

if TYPE_CHECKING:
    from pyproj import Transformer

NOTHING = 1e-4
"""m; frames that differ by less are the same."""


@dataclass(frozen=True, slots=True)
class FrameEpoch:
    """A frame by its EPSG code, at an epoch."""

    epsg: int
    epoch: float
    words: str = field(default="")
    """As it is said; the code and the epoch if empty."""

    def say(self) -> str:
        """Return it in words."""
        return self.words or f"EPSG:{self.epsg} at {self.epoch:.7g}"


def frame_names(
    geodetic: Floats, job: FrameEpoch, others: Iterable[FrameEpoch]
) -> list[Named]:
    """Return what coordinates of other frames or epochs, booked as the job's, make.

    Parameters
    ----------
    geodetic : ndarray, shape (3,)
        Latitude and longitude in degrees, ellipsoidal height in m, as booked.
    job : FrameEpoch
        The frame that they are booked in; a geographic code of three dimensions.
    others : iterable of FrameEpoch
        Those that they may really be in.

    Returns
    -------
    list of Named
        East, north, up each; a frame to which pyproj knows no way here (it may lack a
        grid) is left out, never guessed.
    """
    frame = GeodeticFrame(job.epsg, job.epoch)
    made = []
    for other in others:
        true = _brought_over(geodetic, other, job)
        if true is not None:
            size = _apart(frame, geodetic, true)
            made.append(Named(f"coordinates of {other.say()}", size))
    return [one for one in made if np.linalg.norm(one.size) > NOTHING]


def epoch_names(
    geodetic: Floats, job: FrameEpoch, epochs: Iterable[float], through: int
) -> list[Named]:
    """Return what coordinates of another epoch, booked as of the job's, make.

    The mark is taken to move with its plate: to a frame that moves with the plate at
    the one epoch, and back at the other.

    Parameters
    ----------
    geodetic : ndarray, shape (3,)
        Latitude and longitude in degrees, ellipsoidal height in m, as booked.
    job : FrameEpoch
        A frame in which marks move.
    epochs : iterable of float
        Decimal years of which they may really be.
    through : int
        EPSG code of a geographic frame that moves with the plate.
    """
    frame = GeodeticFrame(job.epsg, job.epoch)
    made = []
    for epoch in epochs:
        other = FrameEpoch(job.epsg, epoch)
        on_plate = _brought_over(geodetic, other, FrameEpoch(through, epoch))
        if on_plate is None:
            continue
        true = _brought_over(on_plate, FrameEpoch(through, job.epoch), job)
        if true is not None:
            size = _apart(frame, geodetic, true)
            made.append(Named(f"coordinates of epoch {epoch:.7g}", size))
    return [one for one in made if np.linalg.norm(one.size) > NOTHING]


def _brought_over(
    geodetic: Floats, start: FrameEpoch, end: FrameEpoch
) -> Floats | None:
    """Return a place in another frame, or None where no way is known here.

    Of two frames the one in which marks move says the epoch; PROJ does not move marks
    from one epoch to another.
    """
    from pyproj.exceptions import ProjError

    lat, lon, height = geodetic.tolist()
    way = _way(start.epsg, end.epsg)
    if way is None:
        return None
    try:
        moving = "Dynamic" in crs(start.epsg).datum.type_name
        epoch = start.epoch if moving else end.epoch
        east, north, up, _ = way.transform(lon, lat, height, epoch, errcheck=True)
    except ProjError:
        return None
    made = np.array([north, east, up])
    return made if np.isfinite(made).all() else None


@lru_cache(maxsize=64)
def _way(start: int, end: int) -> "Transformer | None":
    """Return the way between two frames, sought once: that takes a third of a second.

    None where PROJ knows none here.
    """
    from pyproj import Transformer
    from pyproj.exceptions import ProjError

    try:
        return Transformer.from_crs(
            crs(start), crs(end), always_xy=True, allow_ballpark=False
        )
    except ProjError:
        return None


def _apart(frame: GeodeticFrame, first: Floats, second: Floats) -> Floats:
    """Return first minus second, east, north, up, m."""
    places = frame.cartesian(np.stack([first, second]))
    return np.asarray(frame.axes(places[1:])[0] @ (places[0] - places[1]))
