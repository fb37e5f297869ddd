"""Tables of terrestrial work: total station, instruments, levels."""

from ..schema import Column, Schema
from .gnss import STOOD

_YES_NO = ("yes", "no")

_SDS = (
    Column("sd_direction_arcsec", "of one direction", low=0),
    Column("sd_zenith_arcsec", "of one zenith angle", low=0),
    Column("sd_distance_mm", "constant part", low=0),
    Column("sd_distance_ppm", "part in proportion", low=0),
)

TOTAL_STATION = Schema(
    "total_station",
    "pointing",
    "pointing",
    "directions, zenith angles, distances, angles, azimuths",
    (
        Column("pointing", "name of the pointing", "name"),
        Column("set_up", "the instrument, in set_ups.csv", "name"),
        Column("target_set_up", "the target, in set_ups.csv", "name"),
        Column("target_station", "or the mark below the target", "name"),
        Column("target_height_m", "target above the mark", low=-STOOD, high=STOOD),
        Column("round", "round of directions, one circle zero", "name"),
        Column(
            "face",
            "position of the circle; empty = mean of both",
            "word",
            choices=("1", "2", "left", "right"),
        ),
        Column("direction_dms", "horizontal circle", low=-360, high=360),
        Column("zenith_dms", "vertical circle, 0 at the zenith", low=0, high=360),
        Column("slope_distance_m", "along the line of sight", low=0),
        Column("horizontal_distance_m", "or level", low=0, offered=False),
        Column("angle_dms", "clockwise from back", low=-360, high=360, offered=False),
        Column("back_station", "backsight of the angle", "name", offered=False),
        Column(
            "back_target_height_m",
            "target at the backsight",
            low=-STOOD,
            high=STOOD,
            offered=False,
        ),
        Column("azimuth_dms", "from north", low=-360, high=360, offered=False),
        Column("prism", "which prism", "name"),
        Column("prism_constant_mm", "of that prism: added to the distance"),
        Column("prism_constant_applied", "by the instrument", "word", choices=_YES_NO),
        Column("temperature_degC", "of the air", low=-60, high=60),
        Column("pressure_hPa", "of the air", low=300, high=1100),
        Column(
            "vapour_pressure_hPa",
            "of water in the air; empty = dry",
            low=0,
            high=100,
            offered=False,
        ),
        Column("atmosphere_applied", "by the instrument", "word", choices=_YES_NO),
        Column("time_utc", "time of the pointing"),
        *_SDS,
        Column("sd_angle_arcsec", "of the angle", low=0, offered=False),
        Column("sd_azimuth_arcsec", "of the azimuth", low=0, offered=False),
        Column("re_reading", "pointing that this one repeats", "name", offered=False),
        Column("group", "name of a [group.NAME] of job.toml", "name", offered=False),
        Column("code", "feature code: a topographic shot", "name", offered=False),
        Column("line", "line of such a shot", "name", offered=False),
        Column(
            "surface",
            "whether such a shot lies on the ground; empty = yes",
            "word",
            choices=_YES_NO,
            offered=False,
        ),
    ),
    need=("pointing", "set_up"),
    either=(
        (("target_station",), ("target_set_up",), ("code",)),
        (
            ("direction",),
            ("zenith",),
            ("slope_distance",),
            ("horizontal_distance",),
            ("angle", "back_station"),
            ("azimuth",),
        ),
    ),
    unique=((("pointing",), ""),),
)

INSTRUMENTS = Schema(
    "instruments",
    "instrument",
    "instrument",
    "the instruments and what they are worth",
    (
        Column("instrument", "name used in set_ups.csv", "name"),
        Column("serial", "serial number", "word"),
        *_SDS,
        Column(
            "carrier_wavelength_um",
            "of its light, micrometres: for atmosphere_applied no",
            "number",
            low=0.3,
            high=2,
            offered=False,
        ),
        Column(
            "reference_index_ppm",
            "refractive index to which its distances refer, less 1",
            low=0,
            high=500,
            offered=False,
        ),
        Column(
            "prism",
            "the row holds with this prism alone; empty = with every other",
            "name",
        ),
        Column(
            "constant_mm",
            "correction added to its distances, beside the prism's own",
        ),
        Column(
            "sd_constant_mm",
            "of it: with one it is estimated from this prior; empty or 0 = exact",
            low=0,
        ),
        Column("scale_ppm", "correction added in proportion"),
        Column("sd_scale_ppm", "of it, likewise", low=0),
        Column(
            "unknown",
            "what of it the adjustment is to find, without a prior",
            "word",
            choices=("constant", "scale", "constant and scale"),
        ),
        Column("calibrated", "date of the last calibration", "word"),
    ),
    need=("instrument",),
    unique=((("instrument", "prism"), ""),),
)

LEVELS = Schema(
    "levels",
    "section",
    "section",
    "levelled height differences, end minus start",
    (
        Column("section", "name of the section", "name"),
        Column("from_station", "mark at the start", "name"),
        Column("to_station", "mark at the end", "name"),
        Column("rise_m", "end above start"),
        Column("run", "which run", "word", choices=("out", "back", "single")),
        Column("length_km", "along the line", low=0),
        Column("set_ups_count", "set-ups of the level", low=0),
        Column("sd_mm", "empty = from [levels] of job.toml", low=0),
        Column("instrument", "name in instruments.csv", "name"),
        Column("staff_pair", "which staffs", "word"),
        Column("corrections_applied", "staff, temperature, refraction …", "word"),
        Column("start_utc", "start"),
        Column("group", "name of a [group.NAME] of job.toml", "name", offered=False),
    ),
    need=("section", "from_station", "to_station", "rise"),
    unique=((("section", "run"), ""),),
)
