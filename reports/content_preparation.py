"""Traverses, spread of rounds and reciprocal zenith angles, as tables."""

from math import isfinite
from typing import TYPE_CHECKING

import numpy as np

from .document import Column, Part, Row, Table, Vial
from .rounding import Lengths, number

if TYPE_CHECKING:
    from ..adjust.judge.closures import Closures
    from ..networks.preparation import Spread
    from ..networks.traverses import Traverse

_ARCSEC = np.pi / 180 / 3600


def preparation_parts(found: "Closures", lengths: Lengths) -> tuple[Part, ...]:
    """Return the tables of what readings say of themselves; those with rows only.

    Parameters
    ----------
    found : Closures
    lengths : Lengths
    """
    tables = (
        traverses_table(found, lengths),
        spreads_table(found, lengths),
        reciprocals_table(found, lengths),
    )
    return tuple(table for table in tables if table.rows)


def traverses_table(found: "Closures", lengths: Lengths) -> Table:
    """Return the traverses with their angular and linear misclosures."""
    small = lengths.small_unit
    columns = (
        Column("traverse", number=False),
        Column(f"length ({lengths.unit})"),
        Column("angular (″)"),
        Column("its sd (″)"),
        Column(f"north ({small})"),
        Column(f"east ({small})"),
        Column(f"linear ({small})"),
        Column("1 : n"),
        Column("marks", number=False, below=True),
    )
    rows = tuple(_traverse_row(found, one, lengths) for one in found.traverses)
    return Table(
        "traverses between known marks: computed minus known, angles as observed",
        columns,
        rows,
        "Shown and not judged: the sd is of the sights alone, without centring; "
        "adjusting tests each sight with its set-ups.",
    )


def _traverse_row(found: "Closures", one: "Traverse", lengths: Lengths) -> Row:
    names = [found.network.marks.name[mark] for mark in one.marks]
    sighted = [found.network.marks.name[one.back]]
    if one.onward >= 0:
        sighted.append(found.network.marks.name[one.onward])
    ratio = f"{one.ratio:.0f}" if isfinite(one.ratio) and one.ratio < 1e9 else "–"
    return Row(
        (
            f"{names[0]} to {names[-1]}",
            lengths.coordinate(one.length),
            number(one.angular / _ARCSEC, "arcsec") or "–",
            number(one.sd_angular / _ARCSEC, "arcsec") or "–",
            lengths.small(one.north),
            lengths.small(one.east),
            lengths.small(one.linear),
            ratio,
            f"{' – '.join(names)}; sighted {', '.join(sighted)}",
        )
    )


def spreads_table(found: "Closures", lengths: Lengths) -> Table:
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
    rows = tuple(_spread_row(found, one, lengths) for one in found.spreads)
    return Table(
        "spread of repeated readings, faces and rounds; test 1 = the limit, α "
        f"{100 * found.network.options.outlier_alpha:.3g} %, one-sided",
        columns,
        rows,
    )


def _spread_row(found: "Closures", one: "Spread", lengths: Lengths) -> Row:
    from ..adjust.judge.loop_tests import spread_verdict

    limit, verdict = spread_verdict(one, found.network.options)
    test = float(np.sqrt(one.statistic / one.freedom)) * one.stated / limit
    length = one.kind.endswith("distance")
    said = [
        lengths.small(value) if length else number(value / _ARCSEC, "arcsec")
        for value in (one.spread, one.stated)
    ]
    return Row(
        (
            found.network.node_name(one.node),
            one.kind,
            str(one.readings),
            str(one.freedom),
            *said,
            lengths.small_unit if length else "″",
            number(test, "test"),
            Vial(verdict, test),
            verdict,
        )
    )


def reciprocals_table(found: "Closures", lengths: Lengths) -> Table:
    """Return the refraction that reciprocal zenith angles imply."""
    names = found.network.marks.name
    columns = (
        Column("side", number=False),
        Column(f"length ({lengths.unit})"),
        Column("refraction coefficient"),
        Column("sd"),
    )
    rows = tuple(
        Row(
            (
                f"{names[one.first]} – {names[one.second]}",
                lengths.coordinate(one.length),
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
