"""The tables of `topo check`: initialisations, repeats, check shots, spread, worth."""

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from .document import Column, Row, Table, Vial
from .judged import worst
from .rounding import Units, number

if TYPE_CHECKING:
    from ..adjust.follow.differences import Differences
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


def initialisations_table(topo: "Topo") -> Table | None:
    """Return every initialisation: its shots, and whether anything checks it."""
    count = len(topo.group.names)
    if not count:
        return None
    shots = topo.hung.shots
    states = group_verdicts(topo)
    of_group = np.bincount(topo.group.number + 1, minlength=count + 1)[1:]
    order = sorted(range(count), key=lambda k: (_rank(states[k]), -of_group[k], k))
    first = np.full(count + 1, 0)
    first[topo.group.number[::-1]] = np.arange(len(shots))[::-1]
    rows = []
    for k in order[:MOST_ROWS]:
        i = int(first[k])
        source = shots.base_booked[i] or shots.service.word(i) or "–"
        rows.append(
            Row(
                (
                    topo.group.names[k],
                    source,
                    str(of_group[k]),
                    Vial(states[k]),
                    states[k],
                )
            )
        )
    return Table(
        "initialisations: all shots of one fail together; worst first"
        + more_words(count, len(rows)),
        (
            Column("initialisation", number=False),
            Column("from", number=False),
            Column("shots"),
            *VERDICT_COLUMNS,
        ),
        tuple(rows),
    )


def _rank(verdict: str) -> int:
    return ("fails", "query", "unchecked", "meets").index(verdict)


def group_verdicts(topo: "Topo") -> list[str]:
    """Return the verdict on each initialisation: the worst of what checks it."""
    states: list[set[str]] = [
        {"meets"} if told else {"unchecked"} for told in topo.checked
    ]
    number = topo.group.number
    again, checks = topo.repeats.differences, topo.check_shots.differences
    judged = np.isfinite(again.test) & topo.repeats.independent
    for i in np.flatnonzero(judged).tolist():
        for end in (again.first[i], again.second[i]):
            if number[end] >= 0:
                states[number[end]].add(again.verdict[i])
    for i in np.flatnonzero(np.isfinite(checks.test)).tolist():
        if number[checks.first[i]] >= 0:
            states[number[checks.first[i]]].add(checks.verdict[i])
    for k, source in enumerate(topo.humps.source.tolist()):
        if source < len(states) and topo.humps.verdict[k] == "query":
            states[source].add("query")
    return [worst(some) for some in states]


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
    shots, budget = topo.hung.shots, topo.hung.budget
    plan, height = budget.sd_plan, budget.sd_height
    rows = []
    for k in (*range(len(shots.code.names)), -1):
        mine = np.flatnonzero(shots.code.number == k)
        if not len(mine):
            continue
        known = mine[np.isfinite(plan[mine])]
        rows.append(
            Row(
                (
                    shots.code.names[k] if k >= 0 else "no code",
                    str(len(mine)),
                    *_middle_worst(plan[mine], units),
                    *_middle_worst(height[mine], units),
                    _middle_worst(topo.circle[mine], units)[1],
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


def _middle_worst(values: "Floats", units: Units) -> Sequence[str]:
    known = values[np.isfinite(values)]
    if not len(known):
        return "", ""
    return units.small(float(np.median(known))), units.small(float(known.max()))
