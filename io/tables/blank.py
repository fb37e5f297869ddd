"""The empty files of a new job: commented headers, and a job.toml to fill in."""

from collections.abc import Iterator, Mapping

from ...networks.options import Options
from ...networks.units import UNITS
from .job import SET_UP_KINDS, Refraction
from .job_keys import NAMED_SECTIONS, SECTIONS
from .schema import Column, Schema, schemas
from .schemas.topo import TOPO

KINDS = {
    "site": (
        "stations",
        "control",
        "set_ups",
        "instruments",
        "total_station",
        "levels",
    ),
    "gnss": ("stations", "control", "set_ups", "antennas", "baselines"),
    "levels": ("stations", "control", "levels"),
    "mixed": (
        "stations",
        "control",
        "set_ups",
        "antennas",
        "baselines",
        "instruments",
        "total_station",
        "levels",
        "geoid",
    ),
}
"""Kind of job to its tables."""

_LOCAL = ("site", "levels")

# A site grid has no use for these …
_GEODETIC_ONLY = frozenset(
    (
        "latitude",
        "longitude",
        "ellipsoidal_height",
        "frame_epsg",
        "epoch",
        "approx_latitude",
        "approx_longitude",
        "approx_ellipsoidal_height",
        "receiver",
        "antenna",
        "session",
    )
)
# … and wants these, which geodetic jobs rarely do.
_LOCAL_TOO = frozenset(
    (
        "approx_north",
        "approx_east",
        "approx_height",
        "horizontal_distance",
        "angle",
        "sd_angle",
        "back_station",
        "back_target_height",
    )
)
# Known heights alone.
_NO_PLAN = frozenset(
    ("use_plan", "north", "east", "sd_north", "sd_east", "approx_north", "approx_east")
)


def blank_files(kind: str, title: str = "") -> dict[str, str]:
    """Return name and text of each file of an empty job.

    Parameters
    ----------
    kind : str
        ``site``, ``gnss``, ``levels`` or ``mixed``.
    title : str
        Written into job.toml.

    Raises
    ------
    KeyError
        Another kind.

    Examples
    --------
    >>> files = blank_files("levels")
    >>> list(files)
    ['job.toml', 'stations.csv', 'control.csv', 'levels.csv']
    >>> files["levels.csv"].splitlines()[-1]
    'section,from_station,to_station,rise_m,run,length_km,set_ups_count,sd_mm,\
instrument,staff_pair,corrections_applied,start_utc'
    """
    files = {"job.toml": "\n".join(_job_lines(kind, title)) + "\n"}
    return files | dict(blank_table(name, kind) for name in KINDS[kind])


def blank_table(name: str, kind: str = "mixed") -> tuple[str, str]:
    """Return file and text of one empty table, with a line for each column.

    Parameters
    ----------
    name : str
        Of a table of the job, or ``topo/NAME``: ``topo/field_test``.
    kind : str, optional
        ``site`` or ``levels`` leaves out what a site grid has no use for.

    Raises
    ------
    KeyError
        There is no such table.

    Examples
    --------
    >>> file, text = blank_table("names")
    >>> file, text.splitlines()[-1]
    ('names.csv', 'name_used,station,reason,who,when_utc')
    """
    schema = table_schemas()[name]
    kind = kind if name in KINDS[kind] else "mixed"
    columns = [c for c in schema.columns if _is_offered(c, kind)]
    lines = [*_table_lines(schema, columns), ",".join(c.header for c in columns)]
    return f"{name}.csv", "\n".join(lines) + "\n"


def table_schemas() -> Mapping[str, Schema]:
    """Return every table that may be asked for, those of ``topo/`` by their path."""
    return {**schemas(), **{f"topo/{schema.name}": schema for schema in TOPO}}


def _is_offered(column: Column, kind: str) -> bool:
    if kind == "levels" and column.name in _NO_PLAN:
        return False
    if kind in _LOCAL:
        return column.name in _LOCAL_TOO or (
            column.offered and column.name not in _GEODETIC_ONLY
        )
    return column.offered


def _table_lines(schema: Schema, columns: list[Column]) -> Iterator[str]:
    yield f"# {schema.name}: {schema.says}."
    yield "# An empty cell means not observed. Lines that begin with # are comments."
    width = max(len(column.header) for column in columns)
    for column in columns:
        text = column.says
        if column.choices:
            text += ": " + " | ".join(column.choices)
        if column.unit and column.unit not in ("m", "mm"):
            text += f" ({UNITS[column.unit].words})"
        if column.name in schema.need:
            text += " — needed"
        yield f"# {column.header:{width}}  {text}"
    for group in schema.either:
        sets = [
            " ".join(schema.by_name[name].header for name in names)
            for names in group
            if all(schema.by_name[name] in columns for name in names)
        ]
        if len(sets) > 1:
            yield "# needed, one of:  " + "  or  ".join(sets)


def _job_lines(kind: str, title: str) -> Iterator[str]:
    yield "# What the job is, and what it is judged by. A key that is not known is a"
    yield "# fault. Lines that begin with # are comments: take the # away to use them."
    yield "schema = 1"
    yield from _section("job", {"title": title}, ("surveyor_in_charge", "who"))
    yield from _frame_lines(kind)
    dimension = {"dimension": "height"} if kind == "levels" else {}
    commented = () if dimension else ("dimension",)
    yield from _section("network", dimension, (*commented, "minimal_station"))
    yield from _section("units", {"length": "m", "angle": "dms"})
    options = Options()
    tests = {key: getattr(options, key) for key in SECTIONS["tests"]}
    yield from _section("tests", tests)
    if kind == "levels":
        yield from _section("levels", {}, ("sd_mm_per_sqrt_km", "sd_mm_per_set_up"))
        return
    yield ""
    yield "# How well a support stands over its mark (common practice, no source)."
    for name, stands in SET_UP_KINDS.items():
        yield f"[set_up.{name}]"
        yield f"sd_centring_mm = {1000 * stands.sd_centring:g}  # per axis; 0 = exact"
        yield f"sd_height_mm = {1000 * stands.sd_height:g}"
    if "total_station" in KINDS[kind]:
        default = Refraction()
        values = {key: getattr(default, key) for key in SECTIONS["refraction"]}
        if kind in _LOCAL:
            yield from _refraction_of_flat()
        else:
            yield from _section("refraction", values)
    yield from _group_lines()


def _refraction_of_flat() -> Iterator[str]:
    lines = list(_section("refraction", {}, tuple(SECTIONS["refraction"])))
    yield lines[0]
    yield "# A flat earth has neither curvature nor refraction, so state none there; on"
    yield "# a curved one coefficient = 0.13 and sd = 0.10 hold unless stated."
    yield from lines[1:]


def _group_lines() -> Iterator[str]:
    yield ""
    yield "# What a group of baselines, positions or pointings has of its own; NAME is"
    yield "# what stands in the column group."
    yield "# [group.NAME]"
    for key, limits in NAMED_SECTIONS["group"].items():
        value = "false" if limits.kind == "flag" else "1.0"
        yield f"# {key} = {value}  # {limits.says}"


def _frame_lines(kind: str) -> Iterator[str]:
    if kind in _LOCAL:
        commented: tuple[str, ...] = ("height_datum",)
        if kind == "site":
            commented += tuple(key for key in SECTIONS["frame"] if "origin_l" in key)
        yield from _section("frame", {"kind": "local", "earth": "flat"}, commented)
        return
    commented = ("geographic_epsg", "epoch", "grid_epsg", "height_datum")
    commented += ("geoid_sd_mm", "undulation") if kind == "mixed" else ()
    yield from _section("frame", {"kind": "geodetic", "geoid": "none"}, commented)
    yield "# Frame and epoch have no default: they are stated by whoever knows them."
    if kind == "mixed":
        yield '# Where geoid.csv is filled, write geoid = "table". Without a geoid, or'
        yield "# on top of one, undulation finds a shift (from one benchmark, weighted)"
        yield "# or a plane (from four)."


def _section(
    name: str, values: Mapping[str, object], commented: tuple[str, ...] = ()
) -> Iterator[str]:
    keys = SECTIONS[name]
    yield ""
    yield f"[{name}]"
    for key, value in values.items():
        choices = " | ".join(keys[key].choices)
        tail = f"  # {keys[key].says}" + (f": {choices}" if choices else "")
        yield f"{key} = {_toml(value)}{tail}"
    for key in commented:
        choices = " | ".join(keys[key].choices)
        tail = f"  # {keys[key].says}" + (f": {choices}" if choices else "")
        yield f"# {key} = …{tail}"


def _toml(value: object) -> str:
    if isinstance(value, str):
        escaped = value.replace("\\", "\\\\").replace('"', '\\"')
        # A title is one line; control characters are not allowed in TOML texts.
        return '"' + "".join(c if c.isprintable() else " " for c in escaped) + '"'
    return repr(value)
