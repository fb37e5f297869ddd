"""Tables of the folder topo/: shots, constructions, checks, field tests of rovers."""

from ..schema import Column, Schema
from .marks import EPOCH, FRAME

SHOTS = Schema(
    "shots",
    "shot",
    "shot",
    "shots of detail, from a base or a real-time network",
    (
        Column("shot", "name or number of the shot", "name"),
        Column("code", "feature code", "name"),
        Column("line", "line to which it belongs, in the order of the rows", "name"),
        Column("north_m", "on the job's grid"),
        Column("east_m", "on the job's grid"),
        Column("height_m", "above the height datum"),
        Column("ellipsoidal_height_m", "or above the ellipsoid", offered=False),
        FRAME,
        EPOCH,
        Column("set_up", "its base, in set_ups.csv", "name"),
        Column("network_service", "or the real-time network it came from", "name"),
        Column("station", "a check shot: the mark that it was taken on", "name"),
        Column("repeats", "the shot that it takes again, for a check", "name"),
        Column("record", "issue of the record that its control is of", "code", low=1),
        Column("initialisation", "which fixing of the ambiguities", "name"),
        Column("start_utc", "when it was taken"),
        Column("epochs_count", "epochs averaged", low=0, offered=False),
        Column("support", "pole_bipod, pole_hand …", "name"),
        Column("antenna_height_m", "reference point above the ground point", low=0),
        Column("pole_length_m", "tip to reference point, where it differs", low=0),
        Column("tilt_deg", "lean from the vertical, 0 plumb", low=0, high=90),
        Column(
            "tilt_azimuth_deg",
            "towards which the top leans, clockwise from grid north",
            low=0,
            high=360,
        ),
        Column("sd_tilt_deg", "of the lean; empty = of [topo]", low=0),
        Column("sd_tilt_azimuth_deg", "of its azimuth; empty = of [topo]", low=0),
        Column("sd_north_mm", "of the vector or position, by the receiver", low=0),
        Column("sd_east_mm", "likewise", low=0),
        Column("sd_height_mm", "likewise", low=0),
        Column("satellites_count", "satellites used", low=0),
        Column("sky", "class of sky: open, wall, canopy …", "name"),
        Column(
            "surface",
            "whether it lies on the ground; empty = yes",
            "word",
            choices=("yes", "no"),
        ),
    ),
    need=("shot", "north", "east"),
    unique=((("shot",), ""),),
)

CONSTRUCTIONS = Schema(
    "constructions",
    "construction",
    "shot",
    "points made from shots and taped distances",
    (
        Column("shot", "name of the point that is made", "name"),
        Column(
            "kind",
            "how it is made",
            "word",
            choices=(
                "offset",
                "two ties",
                "wall line",
                "inside corner",
                "two leans",
                "dip",
                "slope",
            ),
        ),
        Column("code", "feature code", "name"),
        Column("line", "line to which it belongs", "name"),
        Column("from_shot", "the first shot", "name"),
        Column("second_shot", "the second", "name"),
        Column("third_shot", "inside corner: first of the second wall", "name"),
        Column("fourth_shot", "inside corner: second of the second wall", "name"),
        Column("distance_m", "taped: along, a tie, along the wall; level"),
        Column("second_distance_m", "taped: the second tie, the offset to the side"),
        Column("side", "seen from first to second", "word", choices=("left", "right")),
        Column("dip_m", "rim down to the invert, plumb", low=0),
        Column("pipe_m", "inside size of the pipe, where its crown was dipped", low=0),
        Column("slope_ratio", "level run for a rise of one: 2 = two along to one down"),
        Column("sd_distance_mm", "of a taped distance", low=0),
        Column("sd_dip_mm", "of the dip", low=0),
        Column("sd_pipe_mm", "of the pipe's size", low=0),
        Column("sd_slope_ratio", "of the slope", low=0),
    ),
    need=("shot", "kind", "from_shot"),
    unique=((("shot",), ""),),
)

CHECKS = Schema(
    "checks",
    "check",
    "check",
    "what the detail must satisfy: taped walls, right angles, parallel lines",
    (
        Column("check", "name of the check", "name"),
        Column(
            "kind",
            "what must hold",
            "word",
            choices=("taped distance", "right angle", "parallel"),
        ),
        Column("first_shot", "right angle: the first end", "name"),
        Column("second_shot", "right angle: the corner", "name"),
        Column("third_shot", "right angle: the second end", "name"),
        Column("fourth_shot", "parallel: end of the second line", "name"),
        Column("distance_m", "as taped, level", low=0),
        Column("sd_distance_mm", "of the tape", low=0),
        Column("sd_built_mm", "how true it was built, at the far end", low=0),
    ),
    need=("check", "kind", "first_shot", "second_shot"),
    unique=((("check",), ""),),
)

_POINTS = tuple(
    Column(f"{which}_{part}_m", says)
    for which in ("first", "second")
    for part, says in (
        ("north", f"fix on the {which} point, on the job's grid"),
        ("east", "likewise"),
        ("height", "likewise; above the ellipsoid or the height datum, all alike"),
    )
)

FIELD_TEST = Schema(
    "field_test",
    "set",
    "set",
    "a rover's field test after ISO 17123-8: a set a row, a fix on each of two points",
    (
        Column("test", "name of the test: the rover and the day", "name"),
        Column("series", "name of the series; a full test has three", "name"),
        Column("set", "number of the set; a series has five", "name"),
        Column("replaces", "set of this series that it was taken in place of", "name"),
        Column("start_utc", "when; series start 90 minutes apart"),
        *_POINTS,
        Column("distance_m", "first to second, level, known to 3 mm; once a test"),
        Column("rise_m", "second less first, known to 3 mm; once a test"),
        Column("sd_plan_mm", "stated for the rover, per axis; empty = [topo]", low=0),
        Column("sd_height_mm", "stated for the rover; empty = [topo]", low=0),
    ),
    need=("series", "set", *(column.name for column in _POINTS)),
    unique=((("test", "series", "set"), ""),),
)

TOPO = (SHOTS, CONSTRUCTIONS, CHECKS, FIELD_TEST)
"""Every other file of the folder topo/ than these three has shots."""
