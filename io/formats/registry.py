"""Every exchange format: what it is called, whether it is read or written."""

from typing import NamedTuple


class Format(NamedTuple):
    """One exchange format."""

    name: str
    """As the option of ``export`` calls it."""
    suffixes: tuple[str, ...]
    """File name endings by which ``import`` knows it, in lower case."""
    reads: bool
    writes: bool
    says: str
    """One line for ``--help``."""


FORMATS = (
    Format(
        "sinex",
        (".snx", ".ssc"),
        True,
        True,
        "SINEX 2.01, 2.02: a solution's stations, full covariance",
    ),
    Format(
        "gvx",
        (".gvx",),
        True,
        False,
        "GVX 1.0: GNSS vectors, full covariance of each session",
    ),
    Format(
        "csv",
        (".csv",),
        False,
        True,
        "control for crews: north, east, height, sds, frame, epoch, unit",
    ),
    Format(
        "geojson",
        (".geojson", ".json"),
        False,
        True,
        "RFC 7946, for display; the exact values stand in the properties",
    ),
    Format(
        "dxf",
        (".dxf",),
        False,
        True,
        "drawing, ASCII of release 12: points with their names",
    ),
    Format(
        "gpkg",
        (".gpkg",),
        False,
        True,
        "GeoPackage 1.3: points in the job's own frame",
    ),
)
"""All of them, in the order in which ``--help`` prints them."""


def formats_help() -> str:
    """Return the table of formats that ``--help`` prints.

    Returns
    -------
    str
        One line a format: name, read or write, what it is.

    Examples
    --------
    >>> print(formats_help().splitlines()[0])
    sinex    read, write SINEX 2.01, 2.02: a solution's stations, full covariance
    """
    return "\n".join(f"{f.name:8s} {_ways(f):11s} {f.says}".rstrip() for f in FORMATS)


def _ways(some: Format) -> str:
    ways = (("read", some.reads), ("write", some.writes))
    return ", ".join(word for word, does in ways if does)
