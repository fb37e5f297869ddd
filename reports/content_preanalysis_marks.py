"""What a plan would make of marks and set-ups, as tables; of very many the worst."""

from typing import TYPE_CHECKING

import numpy as np

from .document import Column, Row, Table, Vial
from .rounding import Units, percent
from .words import MODES
from .worst_rows import LONG, SHOWN

if TYPE_CHECKING:
    from ..adjust import Adjustment
    from ..networks.covariances import Floats, Ints


def marks_table(adjustment: "Adjustment", units: Units) -> Table:
    """Return the expected ellipses of the marks; of very many, the largest.

    Parameters
    ----------
    adjustment : Adjustment
        With the planned work in it.
    units : Units
    """
    from ..adjust.precision import mark_precision

    found = mark_precision(adjustment)
    some = np.flatnonzero(found.estimated.any(axis=1))
    shown, note = _worst(found.semi_major[some], "marks", "the largest ellipses")
    datum, small = adjustment.datum, units.small_unit
    held = datum.held_marks(adjustment.network)
    rows = []
    for m in some[shown].tolist():
        axes = (found.semi_major[m], found.semi_minor[m])
        plan, height = not bool(held[m, :2].all()), not bool(held[m, 2])
        cells = (
            adjustment.network.marks.name[m],
            *(units.small(float(axis)) if plan else "held" for axis in axes),
            units.azimuth(float(found.azimuth[m])) if plan else "",
            units.small(float(found.height_limit[m])) if height else "held",
        )
        rows.append(Row(cells))
    return Table(
        f"expected {percent(adjustment.network.options.confidence)} ellipses and "
        f"heights, {MODES[datum.mode].lower()} — {datum.text}; stated precision",
        (
            Column("mark", number=False),
            Column(f"semi-major ({small})"),
            Column(f"semi-minor ({small})"),
            Column(f"azimuth ({units.whole_angle_unit})"),
            Column(f"height ± ({small})"),
        ),
        tuple(rows),
        note,
    )


def set_ups_table(sizes: "dict[str, float]", units: Units) -> Table:
    """Return the smallest height blunder that each planned set-up would show.

    Parameters
    ----------
    sizes : dict of float
        Set-up to its smallest, m; inf where nothing would check it.
    units : Units
    """
    names, values = list(sizes), np.array(list(sizes.values()))
    shown, note = _worst(values, "set-ups", "the largest")
    rows = []
    for k in shown.tolist():
        known = bool(np.isfinite(values[k]))
        seen = units.small(float(values[k])) if known else ""
        rows.append(Row((names[k], seen, Vial("meets" if known else "unchecked"))))
    return Table(
        "planned set-ups: the smallest height blunder that would show",
        (
            Column("set-up", number=False),
            Column(f"smallest seen ({units.small_unit})"),
            Column("", number=False),
        ),
        tuple(rows),
        note,
    )


def _worst(values: "Floats", what: str, which: str) -> "tuple[Ints, str]":
    """Return all rows of a short table, the worst of a long one and what is said."""
    count = len(values)
    if count <= LONG:
        return np.arange(count), ""
    rows = np.argsort(-np.nan_to_num(values, nan=-1.0), kind="stable")[:SHOWN]
    return rows, f"{SHOWN} of {count} {what}, those with {which}; --json has them all"
