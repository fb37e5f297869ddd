"""Tables of GNSS work: set-ups, antennas, baselines, positions, covariances."""

from ..schema import Column, Schema
from .marks import (
    COORDINATES,
    COORDINATES_TOGETHER,
    EPOCH,
    FRAME,
    SOME_COORDINATES,
    STATION,
)

START = Column("start_utc", "start")
STOP = Column("stop_utc", "end")
GROUP = Column("group", "name of a [group.NAME] of job.toml", "name")
STOOD = 50.0
"""m above or below its mark: farther no antenna, instrument or target stands."""
EPOCHS = Column("epochs_count", "epochs used", low=0, offered=False)

SET_UPS = Schema(
    "set_ups",
    "set-up",
    "set_up",
    "where an antenna, instrument or target stood, and how high",
    (
        Column("set_up", "name of the set-up", "name"),
        Column("station", "the mark below; empty = free station", "name"),
        Column("support", "tripod, pole_bipod, pole_hand, pillar, target", "name"),
        Column("session", "GNSS session", "name"),
        START,
        STOP,
        Column("observer", "who set it up", "word"),
        Column("second_person", "who looked twice", "word"),
        Column("receiver", "model and serial", "word"),
        Column("antenna", "name in antennas.csv", "name"),
        Column("instrument", "name in instruments.csv", "name"),
        Column("tripod", "which tripod", "name"),
        Column("height_m", "as read", low=-STOOD, high=STOOD),
        Column(
            "reading",
            "how the height was read",
            "word",
            choices=("vertical", "slant", "fixed pole"),
        ),
        Column(
            "measured_to",
            "where the reading ends",
            "word",
            choices=("reference point", "mount bottom", "slant mark"),
        ),
        Column(
            "height_second_reading_ift",
            "the same height, read in feet",
            low=-STOOD,
            high=STOOD,
        ),
        Column("height_after_m", "read again at the end", low=-STOOD, high=STOOD),
        Column("eccentric_east_mm", "east of the mark", offered=False),
        Column("eccentric_north_mm", "north of the mark", offered=False),
        Column("stamping_read", "letters read off the mark", "word"),
        Column("bubble_after", "state of the bubble at the end", "word"),
        Column("photo", "file name of a photograph", "word"),
        Column(
            "forced_centring",
            "rows of one name share one set-up of the tripod",
            "name",
            offered=False,
        ),
        Column("sd_centring_mm", "per axis; empty = of the support", low=0),
        Column("sd_height_mm", "empty = of the support", low=0),
    ),
    need=("set_up",),
    unique=((("set_up",), ""),),
)

ANTENNAS = Schema(
    "antennas",
    "antenna",
    "antenna",
    "the antennas, with what reduces a slant height",
    (
        Column("antenna", "name used in set_ups.csv", "name"),
        Column("model", "model and radome", "word"),
        Column("serial", "serial number", "word"),
        Column("slant_radius_m", "centre to slant mark, horizontal", low=0),
        Column("offset_m", "slant mark above the reference point"),
    ),
    need=("antenna",),
    unique=((("antenna",), ""),),
)


def _six(prefix: str, axes: str, unit: str, says: str) -> tuple[Column, ...]:
    pairs = [a + b for i, a in enumerate(axes) for b in axes[i:]]
    return tuple(
        Column(f"{prefix}_{pair}_{unit}", says, offered=axes == "xyz") for pair in pairs
    )


def _sds(axes: str) -> tuple[Column, ...]:
    pairs = [a + b for i, a in enumerate(axes) for b in axes[i + 1 :]]
    return (
        *(
            Column(f"sd_{a}_mm", "standard deviation", low=0, offered=False)
            for a in axes
        ),
        *(
            Column(
                f"corr_{pair}", "correlation", "number", low=-1, high=1, offered=False
            )
            for pair in pairs
        ),
    )


def _cov(axes: str) -> tuple[str, ...]:
    return tuple(column.name for column in _six("cov", axes, "mm2", ""))


BASELINES = Schema(
    "baselines",
    "baseline",
    "baseline",
    "GNSS vectors, end minus start",
    (
        Column("baseline", "name of the vector", "name"),
        Column("session", "session it was observed in", "name"),
        Column("from_set_up", "set-up at the start", "name"),
        Column("to_set_up", "set-up at the end", "name"),
        Column("from_station", "or the mark at the start", "name"),
        Column("to_station", "or the mark at the end", "name"),
        Column("dx_m", "geocentric"),
        Column("dy_m", "geocentric"),
        Column("dz_m", "geocentric"),
        Column("de_m", "east at horizon_at, instead", offered=False),
        Column("dn_m", "north at horizon_at", offered=False),
        Column("du_m", "up at horizon_at", offered=False),
        Column(
            "horizon_at",
            "mark whose horizon is meant; none on a flat site",
            "name",
            offered=False,
        ),
        *_six("cov", "xyz", "mm2", "covariance, geocentric"),
        *_sds("xyz"),
        *_six("cov", "enu", "mm2", "covariance of de, dn, du"),
        *_sds("enu"),
        Column(
            "vector_between",
            "what the vector joins",
            "word",
            choices=("marks", "reference points"),
        ),
        Column("height_used_from_m", "antenna height the processor used"),
        Column("height_used_to_m", "antenna height the processor used"),
        FRAME,
        EPOCH,
        Column("solution", "fixed, float …", "word"),
        GROUP,
        Column("processor", "program and version", "word"),
        START,
        STOP,
        EPOCHS,
    ),
    need=("baseline",),
    either=(
        (("from_set_up",), ("from_station",)),
        (("to_set_up",), ("to_station",)),
        (("dx", "dy", "dz"), ("de", "dn", "du")),
        (_cov("xyz"), _cov("enu"), ("sd_x", "sd_y", "sd_z"), ("sd_e", "sd_n", "sd_u")),
    ),
    together=(
        ("dx", "dy", "dz"),
        ("de", "dn", "du"),
        _cov("xyz"),
        _cov("enu"),
        ("sd_x", "sd_y", "sd_z"),
        ("sd_e", "sd_n", "sd_u"),
    ),
    unique=((("baseline",), ""),),
)

POSITIONS = Schema(
    "positions",
    "position",
    "position",
    "positions from a real-time network, processing or an imported solution",
    (
        Column("position", "name of the position; empty = the mark's", "name"),
        STATION,
        Column("set_up", "set-up it was taken from", "name"),
        Column("session", "session it was observed in", "name", offered=False),
        GROUP,
        Column("use_plan", "not used; kept as given", "word", offered=False),
        Column("use_height", "not used; kept as given", "word", offered=False),
        *COORDINATES,
        Column("frame_named", "frame as its source names it", "word", offered=False),
        START,
        STOP,
        EPOCHS,
    ),
    either=((("station",), ("set_up",)), SOME_COORDINATES),
    together=COORDINATES_TOGETHER,
    unique=((("position",), "position"),),
)

_AXES = ("x", "y", "z", "e", "n", "u", "north", "east", "height")

COVARIANCES = Schema(
    "covariances",
    "covariance",
    "row",
    "what rows of one table have in common: cross blocks, one triangle",
    (
        Column(
            "table",
            "table of the two rows",
            "word",
            choices=("control", "positions", "baselines"),
        ),
        Column("row", "name of a row of that table", "name"),
        Column("row_axis", "its axis", "word", choices=_AXES),
        Column("column", "name of another row", "name"),
        Column("column_axis", "its axis", "word", choices=_AXES),
        Column("cov_mm2", "covariance"),
    ),
    need=("table", "row", "row_axis", "column", "column_axis", "cov"),
    unique=((("table", "row", "row_axis", "column", "column_axis"), ""),),
)
