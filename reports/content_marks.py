"""Adjusted marks and known marks as tables."""

from typing import TYPE_CHECKING, cast

import numpy as np

from ..networks import GeodeticFrame
from .document import Column, Row, Table, Vial, anchor
from .judged import Judged
from .rounding import Lengths, azimuth, percent, sexagesimal
from .words import multiplier_words

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
    used = multiplier_words(judged.marks.multipliers)
    return (
        f"marks, {percent(options.confidence)} ellipses and heights from {chosen} "
        f"(here {used})"
    )


def marks_table(judged: Judged, lengths: Lengths) -> Table:
    """Return the adjusted marks: coordinates, ellipse, height, what checks them."""
    network, marks = judged.network, judged.marks
    grid = network.frame.has_grid
    whole = judged.estimated.all(axis=1, keepdims=True)
    coordinates = judged.grid if grid else np.where(whole, marks.xyz, np.nan)
    unit, small = lengths.unit, lengths.small_unit
    heads = ("north", "east", "height") if grid else ("X", "Y", "Z")
    columns = (
        Column("station", number=False),
        *(Column(f"{head} ({unit})") for head in heads),
        Column(f"semi-major ({small})"),
        Column(f"semi-minor ({small})"),
        Column("azimuth (°)"),
        Column(f"height ({small})"),
        Column("checked", number=False),
    )
    held = judged.held
    rows = tuple(
        _mark_row(judged, i, coordinates[i], held[i], lengths)
        for i in range(len(network.marks))
    )
    kind = "" if grid else "; X, Y, Z geocentric"
    return Table(marks_caption(judged) + kind, columns, rows)


def _mark_row(
    judged: Judged, i: int, coordinates: "Floats", held: "Floats", lengths: Lengths
) -> Row:
    marks, name = judged.marks, judged.network.marks.name[i]
    plan = not bool(held[:2].all())
    height = not bool(held[2])
    axes = (marks.semi_major[i], marks.semi_minor[i])
    cells = (
        name,
        *(lengths.coordinate(float(value)) for value in coordinates),
        *(lengths.small(float(axis)) if plan else "held" for axis in axes),
        azimuth(float(marks.azimuth[i])) if plan and np.isfinite(axes[0]) else "",
        lengths.small(float(marks.height_limit[i])) if height else "held",
        checked_words(judged, i),
    )
    return Row(cells, anchor("mark", name), anchor("map", f"mark {name}"))


def checked_words(judged: Judged, mark: int) -> str:
    """Return what of a mark is checked: "yes", "plan only", "no", "not observed"."""
    if not judged.adjustment.estimated[mark].any():
        return "not observed"
    plan, height = (bool(part) for part in judged.checked[mark])
    if plan and height:
        return "yes"
    if plan or height:
        return "plan only" if plan else "height only"
    return "no"


def geodetic_table(judged: Judged, lengths: Lengths) -> Table | None:
    """Return latitude, longitude and ellipsoidal height; None in a local job."""
    network = judged.network
    if network.frame.kind != "geodetic":
        return None
    frame = cast(GeodeticFrame, network.frame)
    positions = np.where(
        judged.estimated[:, [0, 0, 1]], frame.geodetic(judged.marks.xyz), np.nan
    )
    rows = tuple(
        Row(
            (
                name,
                sexagesimal(float(lat), "seconds of position", "NS"),
                sexagesimal(float(lon), "seconds of position", "EW"),
                lengths.coordinate(float(height)),
            )
        )
        for name, (lat, lon, height) in zip(network.marks.name, positions, strict=True)
    )
    columns = (
        Column("station", number=False),
        Column("latitude (° ′ ″)"),
        Column("longitude (° ′ ″)"),
        Column(f"ellipsoidal height ({lengths.unit})"),
    )
    return Table(f"geodetic positions, {network.frame.describe()}", columns, rows)


def known_table(judged: Judged, lengths: Lengths) -> Table | None:
    """Return known minus survey for the known marks that are not held, or None."""
    known = judged.known
    if not len(known.station):
        return None
    small = lengths.small_unit
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
    rows = tuple(_known_row(judged, i, lengths) for i in range(len(known.station)))
    confidence = percent(judged.network.options.confidence)
    return Table(
        f"known minus survey; ± is the {confidence} limit of each difference alone",
        columns,
        rows,
    )


def _known_row(judged: Judged, i: int, lengths: Lengths) -> Row:
    known = judged.known
    figures = [
        lengths.small(float(values[i, k]))
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
            f"{adjustment.observations_count} observations, "
            f"{adjustment.unknowns_count} unknowns, "
            f"{adjustment.degrees_of_freedom} degrees of freedom{neither}; "
            f"{rounds} iteration{'s' if rounds != 1 else ''}; condition {condition:.0e}"
        )
        .replace("e+0", "e")
        .replace("e+", "e")
    )
