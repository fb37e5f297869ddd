"""The tables of what was shot twice: repeats, check shots, check shots by class."""

from typing import TYPE_CHECKING

import numpy as np

from .content_topo_tables import MOST_ROWS, VERDICT_COLUMNS, more_words
from .document import Column, Row, Table, Vial
from .rounding import Units, number

if TYPE_CHECKING:
    from ..adjust.follow.differences import Differences
    from ..adjust.follow.topo import Topo


def _difference_columns(unit: str) -> tuple[Column, ...]:
    ways = ("east", "north", "height")
    return (
        *(Column(f"{way} ({unit})") for way in ways),
        *(Column(f"± {way} ({unit})") for way in ways),
        Column("test"),
        *VERDICT_COLUMNS,
    )


def _difference_cells(
    found: "Differences", i: int, units: Units
) -> tuple[str | Vial, ...]:
    test = float(found.test[i])
    return (
        *(units.small(float(x)) for x in found.value[i]),
        *(units.small(float(x)) for x in found.limit[i]),
        number(test, "test"),
        Vial(found.verdict[i], test if np.isfinite(test) else 0.5),
        found.verdict[i],
    )


def _order(found: "Differences") -> list[int]:
    size = np.nan_to_num(found.test, nan=-1.0)
    return [int(i) for i in np.argsort(-size, kind="stable")]


def repeats_table(topo: "Topo", units: Units) -> Table | None:
    """Return the repeats, the least likely first."""
    found, shots = topo.repeats, topo.hung.shots
    rows = found.differences
    if not len(rows):
        return None
    made = []
    for i in _order(rows)[:MOST_ROWS]:
        first, second = int(rows.first[i]), int(rows.second[i])
        said = "another initialisation"
        if not found.independent[i]:
            said = "the same initialisation, or too soon: no check of it"
        if found.opposite[i]:
            said += "; opposite leans"
        if np.isfinite(found.minutes[i]):
            said += f"; {found.minutes[i]:.0f} min apart"
        cells = (
            f"{shots.name[first]} – {shots.name[second]}",
            *_difference_cells(rows, i, units),
            said,
        )
        made.append(Row(cells))
    return Table(
        "repeats, later minus earlier; largest first"
        + more_words(len(rows), len(made)),
        (
            Column("shots", number=False),
            *_difference_columns(units.small_unit),
            Column("how", number=False, below=True),
        ),
        tuple(made),
    )


def checks_table(topo: "Topo", units: Units) -> Table | None:
    """Return the check shots, shot minus mark."""
    found, shots = topo.check_shots.differences, topo.hung.shots
    if not len(found):
        return None
    names = topo.hung.adjustment.network.marks.name
    rows = [
        Row(
            (
                shots.name[found.first[i]],
                names[found.second[i]],
                shots.sky.word(int(found.first[i])) or "–",
                *_difference_cells(found, i, units),
            )
        )
        for i in _order(found)[:MOST_ROWS]
    ]
    return Table(
        "check shots, shot minus mark; largest first"
        + more_words(len(found), len(rows)),
        (
            Column("shot", number=False),
            Column("mark", number=False),
            Column("sky", number=False),
            *_difference_columns(units.small_unit),
        ),
        tuple(rows),
    )


def classes_table(topo: "Topo", units: Units) -> Table | None:
    """Return what the check shots say of each class of sky, and of no other."""
    classes = topo.check_shots.classes
    if not classes:
        return None
    unit = units.small_unit
    rows = [
        Row(
            (
                one.name,
                str(one.shots),
                str(one.checks),
                *(units.small(float(x)) for x in one.mean),
                *(units.small(float(x)) for x in one.rms),
                Vial(one.verdict, one.worst if np.isfinite(one.worst) else 0.5),
                one.verdict,
            )
        )
        for one in classes
    ]
    ways = ("east", "north", "height")
    return Table(
        "check shots by class of sky: what one class says holds for no other",
        (
            Column("sky", number=False),
            Column("shots"),
            Column("check shots"),
            *(Column(f"mean {way} ({unit})") for way in ways),
            *(Column(f"rms {way} ({unit})") for way in ways),
            *VERDICT_COLUMNS,
        ),
        tuple(rows),
    )
