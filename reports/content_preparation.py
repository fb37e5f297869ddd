"""Traverses, spread of rounds and reciprocal zenith angles, as tables."""

from math import isfinite
from typing import TYPE_CHECKING

import numpy as np

from .document import Column, Part, Row, Table, Vial
from .rounding import Units, number

if TYPE_CHECKING:
    from ..adjust.judge.closures import Closures
    from ..networks.preparation import Spread
    from ..networks.traverses import Traverse


def preparation_parts(found: "Closures", units: Units) -> tuple[Part, ...]:
    """Return the tables of what readings say of themselves; those with rows only.

    Parameters
    ----------
    found : Closures
    units : Units
    """
    tables = (
        traverses_table(found, units),
        spreads_table(found, units),
        reciprocals_table(found, units),
    )
    return tuple(table for table in tables if table.rows)


def traverses_table(found: "Closures", units: Units) -> Table:
    """Return the traverses with their angular and linear misclosures."""
    small = units.small_unit
    columns = (
        Column("traverse", number=False),
        Column(f"length ({units.unit})"),
        Column(f"angular ({units.small_angle_unit})"),
        Column(f"its sd ({units.small_angle_unit})"),
        Column(f"north ({small})"),
        Column(f"east ({small})"),
        Column(f"linear ({small})"),
        Column("1 : n"),
        Column("angular class, 1984", number=False),
        Column("verdict", number=False),
        Column("marks", number=False, below=True),
    )
    rows = tuple(_traverse_row(found, one, units) for one in found.traverses)
    return Table(
        "traverses between known marks: computed minus known, angles as observed",
        columns,
        rows,
        "The sd is of the sights alone, without centring; adjusting tests each sight "
        "with its set-ups. Class: the best order and class of FGCC 1984 (from memory) "
        "whose c √N, for N angles, holds the angular misclosure; 1 : n is with the "
        "angles as observed, for which it states none.",
    )


def _traverse_row(found: "Closures", one: "Traverse", units: Units) -> Row:
    names = [found.network.marks.name[mark] for mark in one.marks]
    sighted = [found.network.marks.name[one.back]]
    if one.onward >= 0:
        sighted.append(found.network.marks.name[one.onward])
    ratio = f"{one.ratio:.0f}" if isfinite(one.ratio) and one.ratio < 1e9 else "–"
    return Row(
        (
            f"{names[0]} to {names[-1]}",
            units.coordinate(one.length),
            units.small_angle(one.angular) or "–",
            units.small_angle(one.sd_angular) or "–",
            units.small(one.north),
            units.small(one.east),
            units.small(one.linear),
            ratio,
            one.angular_class or "–",
            "no limit stated",
            f"{' – '.join(names)}; sighted {', '.join(sighted)}",
        )
    )


def spreads_table(found: "Closures", units: Units) -> Table:
    """Return the spread of repeated readings against what is stated."""
    columns = (
        Column("instrument at", number=False),
        Column("readings", number=False),
        Column("count"),
        Column("degrees of freedom"),
        Column("sd of one, found"),
        Column("stated"),
        Column("unit", number=False),
        Column("test"),
        Column("", number=False),
        Column("verdict", number=False),
    )
    rows = tuple(_spread_row(found, one, units) for one in found.spreads)
    return Table(
        "spread of repeated readings, faces and rounds; test 1 = the limit, α "
        f"{100 * found.network.options.outlier_alpha:.3g} %, one-sided",
        columns,
        rows,
    )


def _spread_row(found: "Closures", one: "Spread", units: Units) -> Row:
    from ..adjust.judge.loop_tests import spread_verdict

    limit, verdict = spread_verdict(one, found.network.options)
    test = float(np.sqrt(one.statistic / one.freedom)) * one.stated / limit
    length = one.kind.endswith("distance")
    said = [
        units.small(value) if length else units.small_angle(value)
        for value in (one.spread, one.stated)
    ]
    return Row(
        (
            found.network.node_name(one.node),
            one.kind,
            str(one.readings),
            str(one.freedom),
            *said,
            units.small_unit if length else units.small_angle_unit,
            number(test, "test"),
            Vial(verdict, test),
            verdict,
        )
    )


def reciprocals_table(found: "Closures", units: Units) -> Table:
    """Return the refraction that reciprocal zenith angles imply."""
    names = found.network.marks.name
    columns = (
        Column("side", number=False),
        Column(f"length ({units.unit})"),
        Column("refraction coefficient"),
        Column("sd"),
    )
    rows = tuple(
        Row(
            (
                f"{names[one.first]} – {names[one.second]}",
                units.coordinate(one.length),
                number(one.coefficient, "limit"),
                number(one.sd, "limit"),
            )
        )
        for one in found.reciprocals
    )
    return Table(
        "reciprocal zenith angles and the refraction they imply; heights as booked",
        columns,
        rows,
    )
