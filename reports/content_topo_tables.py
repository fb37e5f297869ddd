"""The tables of what shots are worth: spread by class, leaning poles, each code."""

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from .document import Column, Row, Table, Vial
from .rounding import Units, number

if TYPE_CHECKING:
    from ..adjust.follow.spread import Spread
    from ..adjust.follow.topo import Topo
    from ..networks.covariances import Floats

MOST_ROWS = 20
"""Of a table of shots; the JSON has them all."""

VERDICT_COLUMNS = (Column("", number=False), Column("verdict", number=False))
"""Vial and word."""


def more_words(rows: int, shown: int) -> str:
    """Return how many rows of a table are not shown; empty where all are."""
    return f"; the first {shown} of {rows}, all in the JSON" if rows > shown else ""


def spreads_table(topo: "Topo") -> Table | None:
    """Return the spread of each class, as the job's own repeats say."""
    if not topo.spreads:
        return None
    rows = [Row(_spread_cells(one)) for one in topo.spreads]
    return Table(
        "spread by class of sky, from this job's repeats: what the stated sds are "
        "multiplied by",
        (
            Column("sky", number=False),
            Column("part", number=False),
            Column("differences"),
            Column("degrees of freedom"),
            Column("multiplier"),
            *VERDICT_COLUMNS,
            Column("95 % limits", number=False, below=True),
        ),
        tuple(rows),
    )


def _spread_cells(one: "Spread") -> tuple[str | Vial, ...]:
    if one.verdict == "unchecked":
        said = "cannot be judged: too few repeats of its own; the stated sds stand"
    else:
        low, high = number(one.lower, "limit"), number(one.upper, "limit")
        said = f"between {low} and {high} times the stated sd"
    if one.left_out:
        said += f"; {one.left_out} too far out to belong to a spread, left out"
    return (
        one.sky,
        one.part,
        str(one.pairs),
        f"{one.freedom:.1f}",
        number(one.multiplier, "limit"),
        Vial(one.verdict),
        one.verdict,
        said,
    )


def tilts_table(topo: "Topo", units: Units) -> Table | None:
    """Return the shots whose pole leaned, the largest lean first."""
    shots = topo.hung.shots
    lean = np.flatnonzero(shots.tilt > 0)
    if not len(lean):
        return None
    order = lean[np.argsort(-shots.tilt[lean], kind="stable")]
    pole = topo.hung.budget.pole
    rows = []
    for i in order[:MOST_ROWS].tolist():
        along, across = _along_across(pole[i], float(shots.azimuth[i]))
        rows.append(
            Row(
                (
                    shots.name[i],
                    number(float(np.degrees(shots.tilt[i])), "lean deg"),
                    number(float(np.degrees(shots.azimuth[i])), "lean deg"),
                    units.small(along),
                    units.small(across),
                    units.small(float(np.sqrt(pole[i, 2, 2]))),
                    Vial(topo.tilt[i]),
                    topo.tilt[i],
                )
            )
        )
    unit = units.small_unit
    return Table(
        "leaning poles: sd of the tip along the lean, across it, and in height; "
        "largest lean first" + more_words(len(lean), len(rows)),
        (
            Column("shot", number=False),
            Column("lean (°)"),
            Column("towards (°)"),
            Column(f"along ({unit})"),
            Column(f"across ({unit})"),
            Column(f"height ({unit})"),
            *VERDICT_COLUMNS,
        ),
        tuple(rows),
    )


def _along_across(covariance: "Floats", azimuth: float) -> tuple[float, float]:
    towards = np.nan_to_num(azimuth)
    along = np.array([np.sin(towards), np.cos(towards)])
    across = np.array([along[1], -along[0]])
    plan = covariance[:2, :2]
    return float(np.sqrt(along @ plan @ along)), float(np.sqrt(across @ plan @ across))


def worth_table(topo: "Topo", units: Units) -> Table:
    """Return what the shots of each code are worth: the middle one and the worst."""
    code = topo.detail.code
    plan, height, circle = _worth(topo)
    rows = []
    for k in (*range(len(code.names)), -1):
        mine = np.flatnonzero(code.number == k)
        if not len(mine):
            continue
        known = mine[np.isfinite(plan[mine])]
        rows.append(
            Row(
                (
                    code.names[k] if k >= 0 else "no code",
                    str(len(mine)),
                    *_middle_worst(plan[mine], units),
                    *_middle_worst(height[mine], units),
                    _middle_worst(circle[mine], units)[1],
                    str(len(mine) - len(known)) if len(known) < len(mine) else "",
                )
            )
        )
    unit = units.small_unit
    return Table(
        "what the shots are worth, sd in plan (per axis) and height, by code: the "
        "middle one and the worst",
        (
            Column("code", number=False),
            Column("shots"),
            Column(f"sd plan ({unit})"),
            Column(f"worst plan ({unit})"),
            Column(f"sd height ({unit})"),
            Column(f"worst height ({unit})"),
            Column(f"largest circle ({unit})"),
            Column("cannot be judged"),
        ),
        tuple(rows),
    )


def _worth(topo: "Topo") -> tuple["Floats", "Floats", "Floats"]:
    """Return sds in plan and height and circles of all shots, polar ones behind."""
    from ..adjust.follow.budget import Budget

    booked = topo.hung.budget
    some = np.arange(len(topo.hung.shots), topo.day.roots)
    whole = topo.constructed.points.covariance(some)
    none = np.zeros_like(whole)
    polar = Budget(whole, none, none)
    circle = polar.circle(topo.hung.options.confidence)
    return (
        np.concatenate([booked.sd_plan, polar.sd_plan]),
        np.concatenate([booked.sd_height, polar.sd_height]),
        np.concatenate([topo.circle, circle]),
    )


def _middle_worst(values: "Floats", units: Units) -> Sequence[str]:
    known = values[np.isfinite(values)]
    if not len(known):
        return "", ""
    return units.small(float(np.median(known))), units.small(float(known.max()))
