"""The keys of job.toml: the closed list, with type and limits of each."""

from collections.abc import Mapping
from dataclasses import dataclass

from ...networks.specifications import KINDS, PRESETS


@dataclass(frozen=True, slots=True)
class Key:
    """One key of job.toml."""

    kind: str
    """``text``, ``number``, ``whole``, ``flag``, ``clock``, ``tables``."""
    says: str
    choices: tuple[str, ...] = ()
    low: float = float("-inf")
    high: float = float("inf")
    above: bool = False
    """Whether ``low`` itself is refused, and ``high`` too."""


def _text(says: str, *choices: str) -> Key:
    return Key("text", says, choices)


def _number(says: str, low: float = float("-inf"), high: float = float("inf")) -> Key:
    return Key("number", says, low=low, high=high)


def _probability(says: str) -> Key:
    return Key("number", says, low=0, high=1, above=True)


_SD = 0.0

SECTIONS: Mapping[str, Mapping[str, Key]] = {
    "job": {
        "title": _text("as printed on every page"),
        "surveyor_in_charge": _text("who answers for it"),
        "licence": _text("licence number, or none"),
        "who": _text("initials written into decisions"),
        "utc_offset_h": _number("local clock minus UTC, hours", -14, 14),
    },
    "frame": {
        "kind": _text("where coordinates live", "geodetic", "local"),
        "geographic_epsg": Key("whole", "EPSG code, three-dimensional", low=1),
        "epoch": _number("epoch of the coordinates, year", 1900, 2200),
        "grid_epsg": Key("whole", "EPSG code of the map grid", low=1),
        "geoid": _text("none, table, or a file"),
        "geoid_sd_mm": _number("of a geoid file", _SD),
        "undulation": _text("of the geoid, to be estimated", "shift", "plane"),
        "combined_factor": _number("ground to grid", 0.9, 1.1),
        "combined_factor_origin_north_m": _number("of ground coordinates"),
        "combined_factor_origin_east_m": _number("of ground coordinates"),
        "earth": _text("of a local job", "flat", "curved"),
        "latitude_deg": _number("of a curved local job", -90, 90),
        "height_datum": _text("name of the height datum"),
        "reference_height_m": _number("of a curved local job", -1000, 10000),
        "origin_latitude_deg": _number(
            "of the middle of a site that takes geocentric vectors", -90, 90
        ),
        "origin_longitude_deg": _number("of the same place", -360, 360),
        "origin_north_m": _number("that place in the grid of a curved site"),
        "origin_east_m": _number("that place in the grid of a curved site"),
        "transformations": Key("tables", "how other frames come over"),
    },
    "network": {
        "dimension": _text(
            "inferred where it is not stated", "space", "plan", "height"
        ),
        "minimal_station": _text("held for the minimal solution"),
        "minimal_azimuth_to": _text("and the direction held, in plan"),
    },
    "units": {
        "length": _text("of what is printed", "m", "ift", "sft"),
        "angle": _text("of what is printed", "dms", "deg", "gon"),
    },
    "tests": {
        "confidence": _probability("of ellipses and of the variance factor's limits"),
        "outlier_alpha": _probability("significance of a one-dimensional test"),
        "power": _probability("chance to find a blunder just detectable"),
        "ellipses_from": _text(
            "their variance factor", "larger", "stated", "estimated"
        ),
        "tests_from": _text("their variance factor", "stated", "estimated"),
    },
    "refraction": {
        "coefficient": _number("of vertical refraction", -5, 5),
        "sd": _number("of the coefficient", _SD, 5),
        "unknown_per": _text("estimated", "none", "job", "day"),
    },
    "levels": {
        "sd_mm_per_sqrt_km": _number("where a run states none", _SD),
        "sd_mm_per_set_up": _number("or for each set-up", _SD),
    },
    "topo": {
        "sd_plan_mm": _number("of a real-time shot that states none, per axis", _SD),
        "sd_height_mm": _number("of its height", _SD),
        "sd_tilt_deg": _number("of the lean of a tilted pole", _SD, 90),
        "sd_tilt_azimuth_deg": _number("of the azimuth of the lean", _SD, 180),
        "sd_pole_length_mm": _number("of the pole's length along a lean", _SD),
        "sd_vial_arcsec": _number("of plumbed poles, beyond their support's sd", _SD),
        "sd_sag_mm": _number("bend of plumbed poles, per axis", _SD),
        "tilt_query_deg": _number("a lean above it is a query", 0, 90),
        "tilt_limit_deg": _number("a lean above it is refused", 0, 90),
        "limit_plan_mm": _number("largest 95 % circle of a shot", _SD),
        "limit_height_mm": _number("largest 95 % limit of its height", _SD),
        "one_place_mm": _number("shots nearer than this are at one place", _SD),
    },
    "crew": {
        "receivers": Key("whole", "how many", low=1),
        "people": Key("whole", "how many", low=1),
        "start": Key("clock", "local time"),
        "hours": _number("of work", 0, 24),
        "sunset": Key("clock", "local time"),
        "gate_closes": Key("clock", "local time"),
        "drive_speed_km_h": _number("on the way between marks", 0, 200),
        "detour_factor": _number("road over straight line", 1, 10),
        "vehicles": Key("whole", "how many; as many as people if not said", low=1),
        "set_up_min": _number("minutes a set-up", 0, 600),
        "order": _text("what matters most first, parted by commas"),
    },
}
"""Sections of one name."""

NAMED_SECTIONS: Mapping[str, Mapping[str, Key]] = {
    "set_up": {
        "sd_centring_mm": _number("per axis; 0 = exact", _SD, 10000),
        "sd_height_mm": _number("0 = exact", _SD, 10000),
    },
    "group": {
        "sd_multiplier_plan": _number("of the group's rows", 0.001, 1000),
        "sd_multiplier_height": _number("of the group's rows", 0.001, 1000),
        "sd_multiplier_distance": _number("of its distances", 0.001, 1000),
        "free_scale": Key("flag", "vectors: estimate a scale of the group's own"),
        "free_turn": Key("flag", "vectors: estimate a turn about the vertical"),
        "free_shift": Key("flag", "positions: estimate a shift of the group's own"),
    },
    "planned": {
        "sd_plan_mm": _number("expected", _SD),
        "sd_plan_ppm": _number("expected", _SD),
        "sd_height_mm": _number("expected", _SD),
        "sd_height_ppm": _number("expected", _SD),
        "sd_direction_arcsec": _number("expected", _SD),
        "sd_zenith_arcsec": _number("expected", _SD),
        "sd_distance_mm": _number("expected", _SD),
        "sd_distance_ppm": _number("expected", _SD),
        "sd_mm_per_sqrt_km": _number("expected", _SD),
    },
    "spec": {
        "preset": _text("a standard's own limits", *PRESETS),
        "kind": _text("what is limited", *KINDS),
        "constant_mm": _number("constant part, plan", _SD),
        "ppm": _number("part in proportion, plan", _SD),
        "constant_height_mm": _number("constant part, height", _SD),
        "height_ppm": _number("part in proportion, height", _SD),
        "joined": _text("how constant and ppm join", "sum", "squares"),
        "ratio": _number("1 : n", 1),
        "mm_per_sqrt_km": _number("of a height difference", _SD),
        "mm_per_sqrt_m": _number("of a distance set out", _SD),
        "least_mm": _number("the limit is never below it", _SD),
        "limit_mm": _number("of one mark, in plan", _SD),
        "limit_height_mm": _number("of one mark, in height", _SD),
        "within_m": _number("pairs farther apart are not asked for", 0),
        "confidence": _probability("at which the limit is stated"),
        "pairs": _text("all, adjacent or a file"),
        "also_stated_as": _text("the constant in another unit: 0.07 ift"),
        "source": _text("where it is written"),
    },
}
"""Sections with a name of the user's: ``[set_up.tripod]``."""

TRANSFORMATION: Mapping[str, Key] = {
    "from_epsg": Key("whole", "EPSG code of the other frame", low=1),
    "from_epoch": _number("its epoch, year", 1900, 2200),
    "operation": _text("what PROJ calls the way over"),
}
"""One table of ``[frame] transformations``."""

LOG_MINUTES = _number("minutes on a mark for work of a kind", 0, 6000)
"""``[crew.log_min]``, by kind of work."""
