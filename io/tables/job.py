"""What job.toml says, as frozen dataclasses in metres.

``read_job`` in ``job_file`` fills them; nothing here knows about files.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from ...networks.options import Options
from ...networks.shots import TopoOptions


@dataclass(frozen=True, slots=True)
class Transformation:
    """How control of another frame or epoch comes over to the job's."""

    from_epsg: int
    from_epoch: float | None
    operation: str
    """What PROJ calls it: a name, an authority code or a pipeline."""


@dataclass(frozen=True, slots=True)
class FrameSection:
    """``[frame]``: where the coordinates live."""

    kind: str = "local"
    """``geodetic`` or ``local``."""
    geographic_epsg: int | None = None
    epoch: float | None = None
    """Decimal year."""
    grid_epsg: int | None = None
    geoid: str = "none"
    """``none``, ``table``, or a file name relative to the job folder."""
    geoid_sd: float | None = None
    """m, of a geoid file; it has no default."""
    undulation: str = ""
    """``shift`` or ``plane``: estimated, with or without a geoid; empty = not."""
    combined_factor: float | None = None
    combined_factor_origin: tuple[float, float] | None = None
    """North, east of the point that keeps its grid coordinates, m."""
    earth: str = "flat"
    """``flat`` or ``curved``, of a local job."""
    latitude: float | None = None
    """Degrees, of a curved local job."""
    height_datum: str = ""
    reference_height: float | None = None
    """m, of a curved local job."""
    origin_latitude: float | None = None
    """Degrees; with ``origin_longitude``, where a local job takes GNSS vectors."""
    origin_longitude: float | None = None
    origin: tuple[float, float] | None = None
    """North, east of that place in a curved site grid, m; it is then the centre."""
    transformations: tuple[Transformation, ...] = ()


@dataclass(frozen=True, slots=True)
class NetworkSection:
    """``[network]``: what is estimated."""

    dimension: str = ""
    """``space``, ``plan``, ``height``; empty = inferred from the tables."""
    minimal_station: str = ""
    minimal_azimuth_to: str = ""


@dataclass(frozen=True, slots=True)
class SetUpKind:
    """``[set_up.KIND]``: how well a kind of support stands over its mark."""

    sd_centring: float
    """m, per axis; 0 = exact."""
    sd_height: float
    """m; 0 = exact."""
    multiplier_plan: float = 1.0
    """Of the sds of all set-ups of the kind, also those of a row's own."""
    multiplier_height: float = 1.0


SET_UP_KINDS: Mapping[str, SetUpKind] = {
    "tripod": SetUpKind(0.001, 0.0015),
    "pole_bipod": SetUpKind(0.0025, 0.001),
    "pole_hand": SetUpKind(0.007, 0.001),
    "pillar": SetUpKind(0.0002, 0.0005),
    "target": SetUpKind(0.001, 0.001),
}
"""Used where job.toml does not state the kind (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class Refraction:
    """``[refraction]``: the coefficient of vertical refraction."""

    coefficient: float = 0.13
    """Gauss's value (common practice)."""
    sd: float = 0.10
    unknown_per: str = "none"
    """``none``, ``job`` or ``day``."""
    stated: bool = False
    """Whether the job states any of it."""


NO_REFRACTION = Refraction(0.0, 0.0)
"""Of a flat earth that states none: without the earth's curvature, refraction alone
makes a height worse than neither does."""


@dataclass(frozen=True, slots=True)
class Group:
    """``[group.NAME]``: multipliers of booked sds, and what is estimated of it."""

    sd_multiplier_plan: float = 1.0
    sd_multiplier_height: float = 1.0
    sd_multiplier_distance: float | None = None
    """Of measured distances; None = as the plan."""
    free_scale: bool = False
    """Vectors: a scale of their own."""
    free_turn: bool = False
    """Vectors: a turn of their own about the vertical. Geocentric vectors of a local
    job always have one."""
    free_shift: bool = False
    """Positions: a shift of their own in east, north and height."""


@dataclass(frozen=True, slots=True)
class Levels:
    """``[levels]``: the precision of level runs that state none themselves."""

    sd_per_sqrt_km: float | None = None
    """m for a run of one kilometre."""
    sd_per_set_up: float | None = None
    """m for one set-up of the level."""


@dataclass(frozen=True, slots=True)
class Job:
    """Everything that job.toml states."""

    title: str = ""
    surveyor_in_charge: str = ""
    licence: str = ""
    who: str = ""
    """Initials, written into decisions."""
    utc_offset_h: float | None = None
    """Local clock minus UTC, hours."""
    frame: FrameSection = field(default_factory=FrameSection)
    network: NetworkSection = field(default_factory=NetworkSection)
    length_unit: str = "m"
    """Of what is printed: ``m``, ``ift`` or ``sft``."""
    angle_unit: str = "dms"
    """Of what is printed: ``dms``, ``deg`` or ``gon``."""
    options: Options = field(default_factory=Options)
    set_up_kinds: Mapping[str, SetUpKind] = field(
        default_factory=lambda: dict(SET_UP_KINDS)
    )
    stated_kinds: tuple[str, ...] = ()
    """The kinds of set-up that job.toml itself states; the others are defaults."""
    no_set_ups: bool = False
    """``[set_up] none = true``: baselines by station are meant as exact set-ups."""
    refraction: Refraction = field(default_factory=Refraction)
    groups: Mapping[str, Group] = field(default_factory=dict)
    levels: Levels = field(default_factory=Levels)
    planned: Mapping[str, Mapping[str, float]] = field(default_factory=dict)
    """``[planned.KIND]`` as stated: ``sd_plan_mm`` …"""
    specifications: Mapping[str, Mapping[str, Any]] = field(default_factory=dict)
    """``[spec.NAME]`` as stated."""
    crew: Mapping[str, Any] = field(default_factory=dict)
    """``[crew]`` as stated."""
    topo: TopoOptions = field(default_factory=TopoOptions)
