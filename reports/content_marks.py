"""Adjusted marks and known marks as tables."""

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, cast

import numpy as np

from ..networks import GeodeticFrame
from .document import Column, Row, Table, Vial, anchor, filled_columns
from .judged import Judged
from .rounding import Units, percent
from .words import multiplier_words
from .worst_rows import Shown, worst

if TYPE_CHECKING:
    from ..networks.covariances import Floats


def marks_caption(judged: Judged) -> str:
    """Return which ellipses are shown and from which variance factor they come."""
    options = judged.network.options
    chosen = {
        "larger": "the larger of stated and estimated",
        "stated": "the stated covariances",
        "estimated": "the estimated covariances",
    }[options.ellipses_from]
    used = multiplier_words(judged.marks.multipliers, judged.dimension)
    limits = {"space": "ellipses and heights", "plan": "ellipses", "height": "limits"}
    return (
        f"marks, {percent(options.confidence)} {limits[judged.dimension]} from "
        f"{chosen} (here {used})"
    )


def worst_marks(judged: Judged) -> Shown:
    """Return the marks that a table shows; of very many, those of the worst places."""
    marks = judged.marks
    badness = np.fmax(marks.semi_major, marks.height_limit)
    return worst(judged, badness, "the largest ellipse or height limit", "marks")


def marks_table(judged: Judged, units: Units, only: int | None = None) -> Table:
    """Return the adjusted marks: coordinates, ellipse, height, what checks them.

    Parameters
    ----------
    judged : Judged
    units : Units
    only : int, optional
        The one mark to show.
    """
    shown = worst_marks(judged) if only is None else Shown(np.array([only]))
    network, marks = judged.network, judged.marks
    grid = network.frame.has_grid
    whole = judged.estimated.all(axis=1, keepdims=True)
    coordinates = judged.grid if grid else np.where(whole, marks.xyz, np.nan)
    unit, small = units.unit, units.small_unit
    heads = ("north", "east", "height") if grid else ("X", "Y", "Z")
    columns = (
        Column("station", number=False),
        Column("checked", number=False),
        *(Column(f"{head} ({unit})") for head in heads),
        Column(f"semi-major ({small})"),
        Column(f"semi-minor ({small})"),
        Column(f"azimuth ({units.whole_angle_unit})"),
        Column(f"height ± ({small})"),
    )
    held = judged.held
    rows = tuple(
        _mark_row(judged, i, coordinates[i], held[i], units)
        for i in shown.rows.tolist()
    )
    kind = "" if grid else "; X, Y, Z geocentric"
    whole_table = Table(marks_caption(judged) + kind, columns, rows, shown.note)
    return _columns(whole_table, _SHOWN[judged.dimension if grid else "space"])


_SHOWN = {
    "space": (0, 1, 2, 3, 4, 5, 6, 7, 8),
    "plan": (0, 1, 2, 3, 5, 6, 7),
    "height": (0, 1, 4, 8),
}
"""Columns of the table of marks, by dimension."""


def _columns(table: Table, shown: Sequence[int]) -> Table:
    """Return a table with some of its columns."""
    rows = tuple(
        replace(row, cells=tuple(row.cells[k] for k in shown)) for row in table.rows
    )
    return replace(table, columns=tuple(table.columns[k] for k in shown), rows=rows)


def _mark_row(
    judged: Judged, i: int, coordinates: "Floats", held: "Floats", units: Units
) -> Row:
    marks, name = judged.marks, judged.network.marks.name[i]
    plan = not bool(held[:2].all())
    height = not bool(held[2])
    axes = (marks.semi_major[i], marks.semi_minor[i])
    cells = (
        name,
        checked_words(judged, i),
        *(units.coordinate(float(value)) for value in coordinates),
        *(units.small(float(axis)) if plan else "held" for axis in axes),
        units.azimuth(float(marks.azimuth[i])) if plan and np.isfinite(axes[0]) else "",
        units.small(float(marks.height_limit[i])) if height else "held",
    )
    return Row(cells, anchor("mark", name), anchor("map", f"mark {name}"))


def checked_words(judged: Judged, mark: int) -> str:
    """Return what of a mark is checked: "yes", "plan only", "no", "not observed".

    Of a job of heights alone, or of plan alone, that is all there is to be checked.
    """
    if not judged.adjustment.estimated[mark].any():
        return "not observed"
    if judged.dimension != "space":
        return "yes" if judged.all_checked[mark] else "no"
    plan, height = (bool(part) for part in judged.checked[mark])
    if plan and height:
        return "yes"
    if plan or height:
        return "plan only" if plan else "height only"
    return "no"


def geodetic_table(judged: Judged, units: Units) -> Table | None:
    """Return latitude, longitude and ellipsoidal height; None in a local job."""
    network = judged.network
    if network.frame.kind != "geodetic":
        return None
    frame = cast(GeodeticFrame, network.frame)
    positions = np.where(
        judged.estimated[:, [0, 0, 1]], frame.geodetic(judged.marks.xyz), np.nan
    )
    shown = worst_marks(judged)
    rows = tuple(
        Row(
            (
                network.marks.name[i],
                units.place(float(positions[i, 0]), "NS"),
                units.place(float(positions[i, 1]), "EW"),
                units.coordinate(float(positions[i, 2])),
            )
        )
        for i in shown.rows.tolist()
    )
    columns = (
        Column("station", number=False),
        Column(f"latitude ({units.angle_unit})"),
        Column(f"longitude ({units.angle_unit})"),
        Column(f"ellipsoidal height ({units.unit})"),
    )
    caption = f"geodetic positions, {network.frame.describe()}"
    return Table(caption, columns, rows, shown.note)


def known_table(judged: Judged, units: Units, only: str | None = None) -> Table | None:
    """Return known minus survey for the known marks that are not held, or None.

    Parameters
    ----------
    judged : Judged
    units : Units
    only : str, optional
        The one mark to show; None where it is held or not known.
    """
    known = judged.known
    if not len(known.station) or (only is not None and only not in known.station):
        return None
    small = units.small_unit
    columns = (
        Column("station", number=False),
        Column("use in control", number=False),
        *(
            Column(f"{what} ({small})")
            for axis in ("north", "east", "up")
            for what in (axis, f"± {axis}")
        ),
        Column("", number=False),
        Column("verdict", number=False),
    )
    shown = worst(judged, known.test, "the largest tests", "tests")
    if only is not None:
        shown = Shown(np.array([i for i, n in enumerate(known.station) if n == only]))
    rows = tuple(_known_row(judged, i, units) for i in shown.rows.tolist())
    confidence = percent(judged.network.options.confidence)
    table = Table(
        f"known minus survey; ± is the {confidence} limit of each difference alone",
        columns,
        rows,
        shown.note,
    )
    return filled_columns(table)


def _known_row(judged: Judged, i: int, units: Units) -> Row:
    known = judged.known
    figures = [
        units.small(float(values[i, k]))
        for k in (1, 0, 2)
        for values in (known.difference, known.limit)
    ]
    station, verdict = known.station[i], known.verdict[i]
    vial = Vial(verdict, float(known.test[i]))
    use = control_use(judged, int(known.known_row[i]))
    return Row(
        (station, use, *figures, vial, verdict), link=anchor("map", f"mark {station}")
    )


def control_use(judged: Judged, row: int) -> str:
    """Return what control.csv says of a known row: held, weighted, check-only."""
    known = judged.network.known
    plan = known.use_plan[row] if known.components[row, :2].any() else ""
    height = known.use_height[row] if known.components[row, 2] else ""
    if plan == height or not height:
        return plan or "not stated"
    return f"{plan or 'not stated'}, height {height}" if plan else f"height {height}"


_ADJUSTED = {
    "space": "in space",
    "plan": "in plan alone",
    "height": "in heights alone",
}


def counts(judged: Judged) -> str:
    """Return what was counted; set-ups are in neither count."""
    adjustment = judged.adjustment
    rounds = adjustment.iterations
    condition = 1 / adjustment.reciprocal_condition
    set_ups = sum(int(e.used.sum()) for e in adjustment.equations if e.kind == "set-up")
    many = "set-up" if set_ups == 1 else "set-ups"
    neither = f"; {set_ups} {many} in neither count" if set_ups else ""
    return (
        (
            f"{_ADJUSTED[judged.dimension]}: "
            f"{adjustment.observations_count} observations, "
            f"{adjustment.unknowns_count} unknowns, "
            f"{adjustment.degrees_of_freedom} degrees of freedom{neither}; "
            f"{rounds} iteration{'s' if rounds != 1 else ''}; condition {condition:.0e}"
        )
        .replace("e+0", "e")
        .replace("e+", "e")
    )
