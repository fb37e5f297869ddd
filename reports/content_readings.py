"""Sights and levelled runs as booked, with their residuals and their tests."""

from typing import TYPE_CHECKING

import numpy as np

from ..networks import Levels
from .content_tests import thing_of
from .document import Column, Row, Table, Vial, anchor
from .judged import Judged
from .rounding import Units, number
from .worst_rows import worst

if TYPE_CHECKING:
    from ..networks import Sights
    from ..networks.covariances import Ints

ANGLES = ("direction", "angle", "azimuth", "zenith angle")
READINGS = (*ANGLES, "slope distance", "horizontal distance", "level difference")
"""Kinds of observation with one value each."""


def readings_tables(judged: Judged, units: Units) -> list[Table]:
    """Return a table of every kind of reading, each in its unit.

    Parameters
    ----------
    judged : Judged
    units : Units

    Returns
    -------
    list of Table
        Empty without sights and levels.
    """
    return [_table(judged, kind, units) for kind in kinds_read(judged)]


def kinds_read(judged: Judged) -> list[str]:
    """Return the kinds of reading that a network has."""
    network = judged.network
    kinds = [some.kind for some in network.sights if len(some)]
    if network.levels is not None and len(network.levels):
        kinds.append("level difference")
    return kinds


def readings_of(judged: Judged, kind: str) -> "Sights | Levels":
    """Return the columns in which a kind of reading is kept."""
    network = judged.network
    if kind == "level difference" and network.levels is not None:
        return network.levels
    (some,) = (some for some in network.sights if some.kind == kind)
    return some


def _table(judged: Judged, kind: str, units: Units) -> Table:
    large, small = unit_of(kind, units)
    booked = "rise" if kind == "level difference" else "booked"
    columns = (
        Column(kind, number=False),
        Column(f"{booked} ({large})"),
        Column(f"residual ({small})"),
        Column("redundancy"),
        Column(f"against the rest ({small})"),
        Column("test"),
        Column("", number=False),
        Column("verdict", number=False),
        Column(f"smallest seen ({small})"),
    )
    tests = {
        int(judged.tests.edge[i]): i
        for i, k in enumerate(judged.tests.kind)
        if k == kind
    }
    lines = line_names(judged, kind)
    size = np.full(len(lines), np.nan)
    size[list(tests)] = judged.tests.basis.test[list(tests.values())]
    shown = worst(judged, size, "the largest tests", "tests")
    rows = tuple(
        _row(judged, kind, i, tests.get(i), lines[i], units)
        for i in shown.rows.tolist()
    )
    return Table(
        f"{plural(kind)}; residual is adjusted minus observed, redundancy the share "
        "of a reading that the others check; against the rest: by how much what was "
        "booked is above or below what the rest says",
        columns,
        rows,
        shown.note,
    )


def plural(kind: str) -> str:
    """Return a kind of observation as many: "zenith angles"."""
    return f"{kind}s"


def unit_of(kind: str, units: Units) -> tuple[str, str]:
    """Return the units of a reading, and of its residual."""
    if kind in ANGLES:
        return units.angle_unit, units.small_angle_unit
    return units.unit, units.small_unit


def figure(kind: str, value: float, units: Units) -> str:
    """Return a reading in its unit, which the header names."""
    return units.reading(value) if kind in ANGLES else units.coordinate(value)


def small_figure(kind: str, value: float, units: Units) -> str:
    """Return a residual or shift of a reading in its unit, which the header names."""
    return units.small_angle(value) if kind in ANGLES else units.small(value)


def against_words(kind: str, shift: float, units: Units) -> str:
    """Return by how much a booking is too large or too small, the unit in the header.

    Examples
    --------
    >>> against_words("level difference", -0.0024, Units())
    '2.4 too small'
    >>> against_words("slope distance", 0.0031, Units())
    '3.1 too long'
    >>> against_words("level difference", 0.0, Units())
    '0.0'
    """
    size = small_figure(kind, abs(shift), units)
    if not size.strip("0."):
        return size
    large, small = ("long", "short") if "distance" in kind else ("large", "small")
    return f"{size} too {small if shift < 0 else large}"


def nodes_of(some: "Sights | Levels") -> "list[Ints]":
    """Return the nodes of readings: instrument or start, back target, target."""
    if isinstance(some, Levels):
        return [some.start, some.end]
    if some.kind == "angle":
        return [some.at, some.back, some.to]
    return [some.at, some.to]


def ends_of(some: "Sights | Levels", i: int) -> list[int]:
    """Return the nodes of one reading: instrument or start, back target, target."""
    return [int(nodes[i]) for nodes in nodes_of(some)]


def value_of(some: "Sights | Levels", i: int) -> float:
    """Return what was read, m or rad."""
    return float(some.rise[i] if isinstance(some, Levels) else some.value[i])


def residual_of(judged: Judged, kind: str, i: int) -> float:
    """Return adjusted minus observed of a reading, m or rad; NaN if left out."""
    residuals = judged.adjustment.residuals.get(kind)
    return float("nan") if residuals is None else float(np.ravel(residuals[i])[0])


def _row(
    judged: Judged, kind: str, i: int, test: int | None, line: str, units: Units
) -> Row:
    from ..adjust.judge.names import about

    some = readings_of(judged, kind)
    name = thing_of(kind, some.name[i])
    about_it = about(judged.network, kind, np.array([i]))[0]
    booked = figure(kind, value_of(some, i), units)
    if test is None:
        tested: tuple[str | Vial, ...] = ("left out", "", "", "", "", "left out", "")
    else:
        tested = _tested(judged, kind, test, residual_of(judged, kind, i), units)
    return Row(
        (about_it, booked, *tested),
        anchor("observation", name),
        anchor("map", line),
    )


def _tested(
    judged: Judged, kind: str, test: int, residual: float, units: Units
) -> tuple[str | Vial, ...]:
    tests = judged.tests
    verdict, size = tests.verdict[test], float(tests.basis.test[test])
    blind = verdict == "unchecked"
    shift = float(tests.tests.shift[test][0])
    smallest = float(tests.tests.smallest_detectable[test])
    redundancy = number(float(tests.redundancy[test]), "redundancy")
    return (
        small_figure(kind, residual, units),
        "none" if blind else redundancy,
        "" if blind else against_words(kind, shift, units),
        number(size, "test"),
        Vial(verdict, size),
        verdict,
        "" if blind else small_figure(kind, smallest, units),
    )


def line_names(judged: Judged, kind: str) -> list[str]:
    """Return what the map calls the line of each reading: "sights T1 – T2"."""
    nodes = nodes_of(readings_of(judged, kind))
    ends = judged.network.mark_of(np.stack([nodes[0], nodes[-1]]))
    names = judged.network.marks.name
    family = "levels" if kind == "level difference" else "sights"
    return [f"{family} {names[a]} – {names[b]}" for a, b in np.sort(ends, axis=0).T]
