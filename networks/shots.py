"""The columns of a topographic day: shots, and the set-ups that they hang on.

A shot takes no part in the adjustment of the control network; it hangs on it. Its
coordinates are those of the job's grid, in the order east, north, height, so that
they stand beside covariances in the order east, north, up. Metres and radians.
"""

import math
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from .covariances import Bools, Floats, Ints
from .observations import Names

Times = NDArray[np.datetime64]


@dataclass(frozen=True, slots=True)
class Labels:
    """Words of a column as numbers, so that rows are grouped by arrays."""

    number: Ints
    """(n,) which of the names; −1 where nothing is booked."""
    names: Names
    """In the order in which they are first met."""

    def __len__(self) -> int:
        return len(self.number)

    def word(self, i: int) -> str:
        """Return the word of a row; empty where nothing is booked."""
        return self.names[self.number[i]] if self.number[i] >= 0 else ""


def labels(words: Iterable[str]) -> Labels:
    """Return words as labels.

    Examples
    --------
    >>> made = labels(["open", "", "canopy", "open"])
    >>> made.number.tolist(), made.names
    ([0, -1, 1, 0], ('open', 'canopy'))
    """
    known: dict[str, int] = {}
    numbers = [known.setdefault(w, len(known)) if w else -1 for w in words]
    return Labels(np.array(numbers, dtype=np.int64), tuple(known))


@dataclass(frozen=True, slots=True)
class TopoOptions:
    """What shots are judged with where a row states none; m and rad, one sd."""

    sd_plan: float | None = None
    """Of a real-time shot that states none, per axis; None = cannot be judged."""
    sd_height: float | None = None
    sd_tilt: float | None = None
    """Of the lean that the receiver states; None = a tilted shot cannot be judged."""
    sd_azimuth: float | None = None
    sd_length: float = 0.0
    """Of the pole's length along a lean."""
    sd_vial: float = 0.0
    """Error of the vial of plumbed poles beyond the sd of their support."""
    sd_sag: float = 0.0
    """Bend of plumbed poles, per axis in plan."""
    tilt_query: float = math.radians(30)
    """Lean above which a shot is a query: Remote Sensing 2024, 16, 1327 finds the
    results clearly worse above 30°."""
    tilt_limit: float = math.radians(45)
    """Lean above which a shot is refused: the same source, deviations to 121 mm."""
    limit_plan: float | None = None
    """Largest 95 % circle of a shot; None = no limit is stated."""
    limit_height: float | None = None
    """Largest ± 95 % of a shot's height."""
    one_place: float = 0.05
    """Two shots nearer than this in plan are at one place (common practice, no
    source)."""


@dataclass(frozen=True, slots=True)
class Bases:
    """The set-ups that shots hang on: GNSS bases, and instruments of polar shots."""

    name: Names
    mark: Ints
    """(b,) number of the mark below; −1 where it is none of the network's."""
    node: Ints
    """(b,) node of the network where the set-up is one, else the mark's; −1 = none."""
    sd_centring: Floats
    """(b,) per axis, m, to be added; 0 where the node is the set-up itself."""
    sd_height: Floats
    start: Times
    """(b,) when it was set up; NaT where no time is booked."""
    stop: Times
    row: Ints
    """Row of set_ups.csv."""

    def __len__(self) -> int:
        return len(self.name)


@dataclass(frozen=True, slots=True)
class Shots:
    """Shots as booked, one row each."""

    name: Names
    code: Labels
    line: Labels
    coordinates: Floats
    """(n, 3) grid east, grid north, height, m; NaN where no height is booked."""
    above_geoid: Bools
    """(n,) whether the height is above the geoid, or of the site."""
    base: Ints
    """(n,) set-up in ``Bases``; −1 where none is booked or it is not in the job."""
    base_booked: Names
    """As booked, so that a set-up that does not exist can be told."""
    service: Labels
    """Real-time network that gave the shot; a shot from a base has none."""
    station: Ints
    """(n,) mark on which a check shot was taken; −1 = a shot of detail."""
    repeats: Ints
    """(n,) shot that this one takes again; −1 = none."""
    record: Ints
    """(n,) issue of the record whose control its coordinates hang on; 0 = none."""
    initialisation: Labels
    """Which fixing of the ambiguities it came from."""
    start: Times
    sd: Floats
    """(n, 3) of the real-time vector or position: east, north, up; NaN = not stated."""
    sky: Labels
    """What hid the sky: a class such as ``open``, ``wall``, ``canopy``."""
    support: Labels
    sd_hold: Floats
    """(n, 2) of the pole over the point, per axis in plan, and of its height."""
    length: Floats
    """(n,) from the tip up to the reference point, m; NaN = not booked."""
    tilt: Floats
    """(n,) from the vertical; 0 = plumbed, as where nothing is booked."""
    azimuth: Floats
    """(n,) towards which the top leans, clockwise from grid north; NaN = not booked."""
    sd_tilt: Floats
    """(n,) NaN = not stated."""
    sd_azimuth: Floats
    surface: Bools
    """(n,) whether the shot lies on the ground, for the search of humps."""
    file: Names
    row: Ints

    def __len__(self) -> int:
        return len(self.name)

    @property
    def is_check(self) -> Bools:
        """(n,) whether the shot was taken on a mark of the network."""
        return np.asarray(self.station >= 0)

    @property
    def group(self) -> Labels:
        """Initialisations, told apart by base and real-time network too."""
        init = self.initialisation
        count = max(len(init.names), 1)
        source = np.where(self.base >= 0, self.base, -2 - self.service.number)
        rows = np.flatnonzero(init.number >= 0)
        key = (source * count + init.number)[rows]
        _, first, which = np.unique(key, return_index=True, return_inverse=True)
        number = np.full(len(init), -1, dtype=np.int64)
        number[rows] = which
        return Labels(number, tuple(init.word(int(i)) for i in rows[first]))


@dataclass(frozen=True, slots=True)
class PolarShots:
    """Shots of a total station from adjusted control, one row each."""

    name: Names
    code: Labels
    line: Labels
    at: Ints
    """(p,) node of the instrument's set-up in the network."""
    at_height: Floats
    """(p,) trunnion axis above the node, m."""
    orientation: Ints
    """(p,) parameter of the network: the circle zero of the round."""
    direction: Floats
    zenith: Floats
    slope: Floats
    """(p,) m, prism constant and atmosphere applied."""
    constants: Ints
    """(p, 2) parameters: constant and scale of the distance meter; −1 = none."""
    target_height: Floats
    sd: Floats
    """(p, 3) of direction (rad), zenith angle (rad), slope distance (m)."""
    sd_hold: Floats
    """(p, 2) of the pole over the point, per axis in plan, and of its height, m."""
    refraction: float
    """Coefficient."""
    sd_refraction: float
    station: Ints
    """(p,) mark on which a check shot was taken; −1 = a shot of detail."""
    surface: Bools
    row: Ints

    def __len__(self) -> int:
        return len(self.name)
