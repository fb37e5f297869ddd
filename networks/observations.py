"""The columns of a network: marks, set-ups, and one set of arrays per kind of edge.

Metres throughout; one row a thing; names are looked up at the edges of the program.
A *node* is a mark (numbers 0 … m − 1) or a set-up (m … m + s − 1).
"""

from dataclasses import dataclass

import numpy as np

from .covariances import Bools, Covariances, Floats, Ints

Names = tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Marks:
    """The marks, in the order of stations.csv, then as first met elsewhere."""

    name: Names
    approximate: Floats
    """(m, 3) cartesian position, m; NaN where none is booked."""
    status: Names
    """``found``, ``set``, ``disturbed``, ``destroyed`` or empty."""
    description: Names
    row: Ints
    """Row of stations.csv; 0 where the mark is only named elsewhere."""
    deflection: Floats | None = None
    """(m, 2) deflection of the vertical north (ξ) and east (η), rad: astronomic minus
    geodetic; 0 where none is booked; None where no mark has one."""

    def __len__(self) -> int:
        return len(self.name)


@dataclass(frozen=True, slots=True)
class SetUps:
    """Where an antenna stood: over which mark, how high, how well."""

    name: Names
    mark: Ints
    """(s,) number of the mark."""
    support: Names
    session: Ints
    """(s,) number of the session, −1 for none."""
    height: Floats
    """(s,) reference point above the mark, vertical, m: reduced from what was read."""
    eccentricity: Floats
    """(s, 2) antenna east and north of the mark, m."""
    sd_centring: Floats
    """(s,) per axis, m; 0 = exact."""
    sd_height: Floats
    """(s,) m; 0 = exact."""
    reduction: Names
    """How the height was reduced, in words; empty for a vertical reading."""
    antenna: Names
    tripod: Names
    row: Ints

    def __len__(self) -> int:
        return len(self.name)


@dataclass(frozen=True, slots=True)
class Vectors:
    """GNSS vectors, end minus start, in the axes of the job's cartesian frame."""

    name: Names
    start: Ints
    """(n,) node at the start: a mark, or a set-up over it."""
    end: Ints
    delta: Floats
    """(n, 3) m."""
    start_offset: Floats
    """(n,) m from the start node up to where the vector starts: the reduced height
    for a vector between reference points, 0 between marks, booked minus used
    height where a processor used another."""
    end_offset: Floats
    covariances: Covariances
    """Of ``delta``, m²; a session with cross-covariances is one cluster."""
    session: Ints
    group: Ints
    used: Bools
    """False where a decision left the vector out."""
    row: Ints
    parameter: Ints | None = None
    """(n, 2) parameters of the vector's group: scale, and turn about the vertical of
    the job's middle; −1 for none; None where no vector has any."""

    def __len__(self) -> int:
        return len(self.name)


@dataclass(frozen=True, slots=True)
class Positions:
    """Positions from real-time networks, processing or an imported solution."""

    name: Names
    node: Ints
    xyz: Floats
    """(n, 3) cartesian, m."""
    offset: Floats
    """(n,) m from the node up to the point that was positioned."""
    components: Bools
    """(n, 3) whether east, north, up were observed."""
    covariances: Covariances
    """East, north, up at the position itself, m²."""
    group: Ints
    used: Bools
    row: Ints
    parameter: Ints | None = None
    """(n, 3) parameters of the position's group: its shift in east, north, up; −1 for
    none; None where no position has any."""

    def __len__(self) -> int:
        return len(self.name)


@dataclass(frozen=True, slots=True)
class Parameters:
    """Unknowns that belong to no place: orientations, instrument constants.

    A parameter with a prior is an observation of itself.
    """

    name: Names
    """As said: "orientation of T1, round 1"."""
    kind: Names
    """``orientation`` (rad), ``refraction`` (coefficient), ``distance constant`` (m),
    ``distance scale`` (ratio), ``undulation`` (m), ``vector scale`` (ratio),
    ``vector turn`` (rad, against the clock from the rest to the vectors), ``position
    shift`` (m), ``undulation shift`` (m), ``undulation tilt`` (ratio)."""
    start: Floats
    """(q,) where the iteration starts, and the prior where there is one; NaN for an
    orientation, or a turn of any size, that the first positions give."""
    sd: Floats
    """(q,) of the prior; NaN for none, which leaves the parameter free."""

    def __len__(self) -> int:
        return len(self.name)


@dataclass(frozen=True, slots=True)
class Sights:
    """Terrestrial observations of one kind, one row each.

    Every sight runs from a reference point (node and height above it) to another;
    metres and radians.
    """

    kind: str
    """``slope distance``, ``horizontal distance``, ``direction``, ``angle``,
    ``azimuth`` or ``zenith angle``."""
    name: Names
    at: Ints
    """(n,) node of the instrument."""
    to: Ints
    back: Ints
    """(n,) node of an angle's back target; −1 for the other kinds."""
    at_height: Floats
    """(n,) reference point above the node, m."""
    to_height: Floats
    back_height: Floats
    value: Floats
    sd: Floats
    parameter: Ints
    """(n, 2) parameters that enter; −1 for none. Direction: orientation. Distance:
    constant, scale. Zenith angle: refraction."""
    refraction: Floats
    """(n,) refraction coefficient of a zenith angle without such a parameter."""
    used: Bools
    row: Ints
    group: Ints | None = None
    """(n,) number of the group of each, −1 for none; None where none has one."""

    def __len__(self) -> int:
        return len(self.name)


@dataclass(frozen=True, slots=True)
class Levels:
    """Levelled height differences, end minus start, orthometric (or of the site)."""

    name: Names
    start: Ints
    end: Ints
    rise: Floats
    sd: Floats
    start_undulation: Floats
    """(n,) m; 0 in a local job."""
    end_undulation: Floats
    parameter: Ints
    """(n, 2) undulation parameters of start and end, which then take the place of
    the fixed ones; −1 for none."""
    used: Bools
    row: Ints
    group: Ints | None = None
    """(n,) number of the group of each, −1 for none; None where none has one."""

    def __len__(self) -> int:
        return len(self.name)


@dataclass(frozen=True, slots=True)
class KnownMarks:
    """Known coordinates, a row each: plan, height or both."""

    mark: Ints
    xyz: Floats
    """(n, 3) cartesian, m; a row without plan or height is completed by the mark's
    approximate position, and ``components`` says which parts are known."""
    components: Bools
    """(n, 3) whether east, north, up are known."""
    use_plan: Names
    """``held``, ``weighted``, ``check-only``, or empty (check-only, and a query)."""
    use_height: Names
    covariances: Covariances
    """East, north, up at the mark, m²; NaN where none is stated."""
    source: Names
    used: Bools
    row: Ints
    orthometric: Bools | None = None
    """(n,) whether the height is above the geoid, brought to the ellipsoid by the
    mark's undulation; None where none is."""

    def __len__(self) -> int:
        return len(self.mark)

    def in_use(self, use: str) -> Bools:
        """Return (n, 3): which components east, north, up have the use ``use``."""
        plan = np.array([u == use for u in self.use_plan], dtype=bool)
        height = np.array([u == use for u in self.use_height], dtype=bool)
        chosen = np.stack([plan, plan, height], axis=-1).reshape(-1, 3)
        in_use: Bools = self.components & chosen & self.used[:, None]
        return in_use
