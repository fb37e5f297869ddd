"""The parameters that were estimated: orientations, refraction, constants, scales."""

from math import isfinite, pi

from .document import Column, Row, Table
from .judged import Judged
from .rounding import Units, number, percent

_LARGE = pi / 180
"""rad; a turn that is said as an angle, not as a small amount."""


def parameters_table(judged: Judged, units: Units) -> Table | None:
    """Return the estimated parameters; None where there are none.

    Parameters
    ----------
    judged : Judged
    units : Units
    """
    found = judged.parameters
    if not found.name:
        return None
    columns = (
        Column("parameter", number=False),
        Column("value"),
        Column("sd"),
        Column("thought before"),
        Column("its sd"),
        Column("needed", number=False),
    )
    rows = tuple(_row(judged, i, units) for i in range(len(found.name)))
    confidence = percent(judged.network.options.confidence)
    return Table(
        "parameters that were estimated, stated sd; needed: differs from what it "
        f"would be without, two-sided, {confidence}",
        columns,
        rows,
        "An orientation belongs to its round and is always needed. A parameter that "
        "was thought to be something before is tested like an observation.",
    )


def _row(judged: Judged, i: int, units: Units) -> Row:
    found, kind = judged.parameters, judged.parameters.kind[i]
    had = isfinite(float(found.prior_sd[i]))
    before = parameter_value(kind, float(found.prior[i]), units) if had else ""
    return Row(
        (
            found.name[i],
            parameter_value(kind, float(found.value[i]), units),
            parameter_sd(kind, float(found.sd[i]), units),
            before or "–",
            parameter_sd(kind, float(found.prior_sd[i]), units) if had else "–",
            found.needed[i] or ("tested" if had else "always"),
        )
    )


def parameter_value(kind: str, value: float, units: Units) -> str:
    """Return the value of a parameter with its unit; empty where there is none.

    Examples
    --------
    >>> parameter_value("refraction", 0.13, Units())
    '0.130'
    >>> parameter_value("distance scale", -2.4e-6, Units())
    '−2.4 ppm'
    >>> parameter_value("vector turn", -pi / 2, Units())
    '270° 00′ 00.0″'
    """
    if not isfinite(value):
        return ""
    if kind == "orientation" or (kind == "vector turn" and abs(value) > _LARGE):
        said = units.reading(value % (2 * pi))
        return said + {"dms": "", "deg": "°", "gon": " gon"}[units.angle]
    if kind in ("undulation", "undulation shift"):
        return f"{units.coordinate(value)} {units.unit}"
    return parameter_sd(kind, value, units)


def parameter_sd(kind: str, sd: float, units: Units) -> str:
    """Return a small amount of a parameter with its unit; empty where there is none.

    Examples
    --------
    >>> parameter_sd("orientation", 1e-5, Units())
    '2.1″'
    >>> parameter_sd("undulation", 0.01, Units())
    '10.0 mm'
    """
    if not isfinite(sd):
        return ""
    if kind in ("orientation", "vector turn"):
        return units.said_angle(sd)
    if kind in ("distance scale", "vector scale", "undulation tilt"):
        return f"{number(1e6 * sd, 'ppm')} ppm"
    if kind == "refraction":
        return number(sd, "coefficient")
    return f"{units.small(sd)} {units.small_unit}"
