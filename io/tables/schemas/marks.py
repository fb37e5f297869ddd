"""Tables about marks: stations, control, claimed, geoid, names."""

from ..schema import Column, Schema

STATION = Column("station", "name as stamped on the mark", "name")
FRAME = Column("frame_epsg", "EPSG code of the frame; empty = the job's", "code")
EPOCH = Column("epoch_year", "epoch of the coordinates; empty = the job's", low=1900)
SOURCE = Column("source", "data sheet, report or solution they come from", "word")

_CARTESIAN_COVARIANCE = tuple(
    Column(f"cov_{axes}_mm2", "covariance, geocentric", offered=False)
    for axes in ("xx", "xy", "xz", "yy", "yz", "zz")
)

COORDINATES = (
    Column("latitude_deg", "geodetic, south negative", low=-90, high=90),
    Column("longitude_deg", "geodetic, west negative", low=-360, high=360),
    Column("ellipsoidal_height_m", "above the ellipsoid"),
    Column("north_m", "on the job's grid"),
    Column("east_m", "on the job's grid"),
    Column("x_m", "geocentric", offered=False),
    Column("y_m", "geocentric", offered=False),
    Column("z_m", "geocentric", offered=False),
    Column("height_m", "above the height datum"),
    Column("height_datum", "name of the height datum", "word"),
    Column("sd_north_mm", "standard deviation north", low=0),
    Column("sd_east_mm", "standard deviation east", low=0),
    Column("sd_height_mm", "standard deviation of the height", low=0),
    Column("corr_north_east", "correlation", "number", low=-1, high=1, offered=False),
    Column("corr_north_height", "correlation", "number", low=-1, high=1, offered=False),
    Column("corr_east_height", "correlation", "number", low=-1, high=1, offered=False),
    Column(
        "sd_axes",
        "axes of sd_north and sd_east; empty = geodetic",
        "word",
        choices=("geodetic", "grid"),
        offered=False,
    ),
    *_CARTESIAN_COVARIANCE,
    Column(
        "stated_at",
        "what the sd columns are",
        "word",
        choices=("sd", "95 %"),
    ),
    FRAME,
    EPOCH,
    SOURCE,
    Column("source_date", "date of the source", "word"),
)
"""What control, positions and claimed have in common."""

SOME_COORDINATES = (
    ("latitude", "longitude"),
    ("north", "east"),
    ("x", "y", "z"),
    ("height",),
    ("ellipsoidal_height",),
)
COORDINATES_TOGETHER = (
    ("latitude", "longitude"),
    ("north", "east"),
    ("x", "y", "z"),
    ("sd_north", "sd_east"),
    ("cov_xx", "cov_xy", "cov_xz", "cov_yy", "cov_yz", "cov_zz"),
)

STATIONS = Schema(
    "stations",
    "mark",
    "station",
    "the marks of the job, one row each",
    (
        STATION,
        Column("stamping", "letters on the mark, where they differ", "word"),
        Column("mark_kind", "brass cap, rod, pipe, nail …", "word"),
        Column(
            "status",
            "state when last visited",
            "word",
            choices=("found", "set", "disturbed", "destroyed"),
        ),
        Column("description", "what and where it is", "word"),
        Column("ties", "measured to lasting things near it", "word", offered=False),
        Column("access_note", "gate, key, owner, hazards on the way", "word"),
        Column("access_min", "walk from the vehicle", low=0, offered=False),
        Column("sky", "what hides the sky", "word"),
        Column("photo", "file name of a photograph", "word"),
        Column("approx_latitude_deg", "for a start", low=-90, high=90),
        Column("approx_longitude_deg", "for a start", low=-360, high=360),
        Column("approx_ellipsoidal_height_m", "for a start"),
        Column("approx_north_m", "for a start, instead", offered=False),
        Column("approx_east_m", "for a start, instead", offered=False),
        Column("approx_height_m", "for a start, instead", offered=False),
    ),
    need=("station",),
    together=(
        ("approx_latitude", "approx_longitude"),
        ("approx_north", "approx_east"),
    ),
    unique=((("station",), ""),),
)

_FROM_EXPORT = (
    Column(
        "orthometric_height_m",
        "as export writes it beside the ellipsoidal one; not used",
        offered=False,
    ),
    Column("sd_orthometric_height_mm", "of that; not used", low=0, offered=False),
)

_USES = ("held", "weighted", "check-only")

CONTROL = Schema(
    "control",
    "known mark",
    "station",
    "known coordinates, and what they may be used for",
    (
        STATION,
        Column("use_plan", "how north and east are used", "word", choices=_USES),
        Column("use_height", "how the height is used", "word", choices=_USES),
        *COORDINATES,
        *_FROM_EXPORT,
    ),
    need=("station",),
    either=(SOME_COORDINATES,),
    together=COORDINATES_TOGETHER,
    # One row may give the plan, another the height, a third that above the geoid.
    unique=((("station",), "use_plan"), (("station", "has height"), "use_height")),
)

CLAIMED = Schema(
    "claimed",
    "claimed mark",
    "station",
    "another party's coordinates and uncertainties, to be compared",
    (
        STATION,
        Column("use_plan", "not used; kept as given", "word", offered=False),
        Column("use_height", "not used; kept as given", "word", offered=False),
        *COORDINATES,
    ),
    need=("station",),
    either=(SOME_COORDINATES,),
    together=COORDINATES_TOGETHER,
    unique=((("station",), ""),),
)

GEOID = Schema(
    "geoid",
    "undulation",
    "station",
    "geoid undulation of marks, where no geoid file is used",
    (
        STATION,
        Column("undulation_m", "geoid above the ellipsoid"),
        Column("sd_undulation_mm", "the part not common to the job", low=0),
        Column(
            "deflection_north_arcsec",
            "of the vertical: the zenith north of the ellipsoid's, for instruments",
        ),
        Column("deflection_east_arcsec", "and east of it"),
        Column("model", "geoid model", "word"),
        SOURCE,
    ),
    need=("station", "undulation"),
    together=(("deflection_north", "deflection_east"),),
    unique=((("station",), ""),),
)

NAMES = Schema(
    "names",
    "name",
    "name_used",
    "names used in the field for marks that are called otherwise",
    (
        Column("name_used", "the name as booked", "name"),
        Column("station", "the mark that is meant", "name"),
        Column("reason", "why they are the same", "word"),
        Column("who", "initials", "word"),
        Column("when_utc", "when this was settled"),
    ),
    need=("name_used", "station", "reason"),
    unique=((("name_used",), ""),),
)
